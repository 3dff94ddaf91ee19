#include "event_line.h"

#include <string.h>
#include "ask.h"

enum { KIND_WIDTH = 11, SUM_DIGITS = 12 };

static void put_field(struct text *t, const char *before, const json_t *e, const char *key)
{
	if (!*ask_string(e, key))
		return;
	text_puts(t, before);
	ask_put_string(t, e, key);
}

void event_line(struct text *t, const json_t *e)
{
	struct text kind = {0};

	ask_put_string(&kind, e, "kind");
	text_printf(t, "%6lld  ", (long long)ask_number(e, "seq"));
	ask_put_time(t, ask_string(e, "time"), true);
	text_printf(t, "  %-*s", KIND_WIDTH, kind.s ? kind.s : "");
	text_free(&kind);
	put_field(t, "  machine ", e, "machine");
	if (*ask_string(e, "job")) {
		text_puts(t, "  ");
		ask_put_pair(t, e);
	}
	if (ask_number(e, "order"))
		text_printf(t, "  order %lld", (long long)ask_number(e, "order"));
	put_field(t, "  ", e, "outcome");
	if (strcmp(ask_string(e, "text"), ask_string(e, "outcome")) != 0)
		put_field(t, *ask_string(e, "outcome") ? ": " : "  ", e, "text");
	put_field(t, "  by ", e, "who");
	text_putc(t, '\n');
}

static void put_sum(struct text *t, const char *hex, bool whole)
{
	size_t n = strlen(hex);

	if (n)
		text_visible(t, hex, whole || n < SUM_DIGITS ? n : SUM_DIGITS);
	else
		text_puts(t, "none");
}

void event_line_parts(struct text *t, const json_t *e, bool whole)
{
	const json_t *part;
	size_t i;

	json_array_foreach(json_object_get(e, "parts"), i, part)
	{
		const char *before = ask_string(part, "before"), *after = ask_string(part, "after");

		text_puts(t, i ? ", " : "");
		ask_put_string(t, part, "channel");
		if (!*before && !*after)
			continue;
		text_putc(t, ' ');
		if (*before && (whole || strcmp(before, after) != 0)) {
			put_sum(t, before, whole);
			text_puts(t, " -> ");
		}
		put_sum(t, after, whole);
		if (!whole && strcmp(before, after) == 0)
			text_puts(t, " as before");
	}
}
