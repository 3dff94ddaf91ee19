#include "lineage.h"

#include <stdlib.h>
#include <string.h>
#include "ask.h"

#define NONE ((size_t)-1)

static size_t find_revision(const json_t *revisions, const char *revision)
{
	for (size_t i = 0; i < json_array_size(revisions); i++)
		if (!strcmp(ask_string(json_array_get(revisions, i), "revision"), revision))
			return i;
	return NONE;
}

/* The revision that another one was made from: the one that a machine held, when it was adopted there,
 * else the one before. NONE for the first. */
static size_t parent_of(const json_t *revisions, size_t i)
{
	const json_t *adopted = json_object_get(json_array_get(revisions, i), "adopted");
	const json_t *first = json_array_get(adopted, 0);
	size_t from = *ask_string(first, "from") ? find_revision(revisions, ask_string(first, "from"))
	                                         : NONE;

	return from < i ? from : i ? i - 1 : NONE;
}

/* What is known of a walk. */
struct walk {
	const json_t *revisions;
	const char *channel, *last;
	int (*fn)(void *ctx, const struct lineage_step *step);
	void *ctx;
};

static int walk_revision(struct walk *w, const json_t *r)
{
	json_t *a;
	size_t k;

	json_array_foreach(json_object_get(r, "arrivals"), k, a)
	{
		struct lineage_step step = {ask_string(r, "revision"), ask_string(a, "channel"),
		    ask_string(a, "sha256"), ask_string(a, "path"), ask_string(a, "by"),
		    ask_string(a, "since"), a};
		int result;

		if (strcmp(step.channel, w->channel) || !strcmp(step.sha256, w->last))
			continue;
		w->last = step.sha256;
		result = w->fn(w->ctx, &step);
		if (result)
			return result;
	}
	return 0;
}

int lineage_walk(const json_t *line, const char *channel, const char *revision,
    int (*fn)(void *ctx, const struct lineage_step *step), void *ctx)
{
	struct walk w = {json_object_get(line, "revisions"), channel, "", fn, ctx};
	size_t all = json_array_size(w.revisions), n = 0, at;
	size_t *chain = calloc(all + 1, sizeof(*chain));
	int result = 0;

	if (!chain)
		return -1;
	at = revision ? find_revision(w.revisions, revision) : all - 1;
	for (; at < all; at = parent_of(w.revisions, at))
		chain[n++] = at;
	while (n > 0 && result == 0)
		result = walk_revision(&w, json_array_get(w.revisions, chain[--n]));
	free(chain);
	return result;
}

size_t lineage_channels(const json_t *line, const char **channel, size_t n)
{
	const json_t *r, *a;
	size_t i, k, found = 0, c;

	json_array_foreach(json_object_get(line, "revisions"), i, r)
	{
		json_array_foreach(json_object_get(r, "arrivals"), k, a)
		{
			for (c = 0; c < found && strcmp(channel[c], ask_string(a, "channel")); c++)
				;
			if (c == found && found < n)
				channel[found++] = ask_string(a, "channel");
		}
	}
	return found;
}

static bool has(const json_t *line, const char *revision)
{
	const json_t *r;
	size_t i;

	json_array_foreach(json_object_get(line, "revisions"), i, r)
	{
		if (!revision || !strcmp(ask_string(r, "revision"), revision))
			return true;
	}
	return false;
}

const json_t *lineage_of(const json_t *history, const char *machine, const char *revision)
{
	const json_t *line, *found = NULL;
	size_t i;

	json_array_foreach(json_object_get(history, "lines"), i, line)
	{
		const char *area = ask_string(line, "machine");

		if (has(line, revision) && (!strcmp(area, machine) || (!*area && !found)))
			found = line;
	}
	return found;
}
