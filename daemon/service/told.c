#include "told.h"

#include <search.h>
#include <stdlib.h>
#include <string.h>

struct told {
	void *texts; /* a tree of strings */
};

static int by_text(const void *a, const void *b)
{
	return strcmp(a, b);
}

static int add(void *ctx, const struct event *e, const struct sha *hash)
{
	struct told *t = ctx;
	char *text, **found;

	if (!e->text || tfind(e->text, &t->texts, by_text))
		return 0;
	text = strdup(e->text);
	found = text ? tsearch(text, &t->texts, by_text) : NULL;
	if (!found)
		free(text);
	return found ? 0 : 1;
}

struct told *told_read(struct vault *v)
{
	const struct vault_filter f = {.kind = event_name(EVENT_TURNED_AWAY)};
	struct told *t = calloc(1, sizeof(*t));

	if (!t)
		return NULL;
	if (vault_events(v, &f, add, t)) {
		told_free(t);
		return NULL;
	}
	return t;
}

bool told_before(const struct told *t, const char *text)
{
	return t && tfind(text, &t->texts, by_text);
}

void told_free(struct told *t)
{
	if (!t)
		return;
	tdestroy(t->texts, free);
	free(t);
}
