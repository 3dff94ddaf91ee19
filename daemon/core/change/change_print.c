#include <inttypes.h>
#include <string.h>
#include "yoke/change.h"

static void side(
    struct text *out, const char *label, const char *name, uint64_t line, const char *block)
{
	text_printf(out, "    %s ", label);
	text_visible(out, name, strlen(name));
	if (line == 0)
		text_puts(out, ": (nothing)\n");
	else
		text_printf(out, ":%" PRIu64 ": %s\n", line, block);
}

static void paragraph(
    struct text *out, const struct change *c, const char *old_name, const char *new_name)
{
	text_printf(out, "%s: %s\n", finding_weight_name(change_weight(c->kind)), c->what);
	side(out, "old", old_name, c->old_line, c->old_text);
	side(out, "new", new_name, c->new_line, c->new_text);
}

static void summary(struct text *out, const struct change_list *l)
{
	uint64_t all = 0;
	const char *sep = ": ";

	for (int k = 0; k < CHANGE_COUNT; k++)
		all += l->count[k];
	text_printf(out, "%s", change_sameness_name(l->sameness));
	if (l->sameness == CHANGE_SAME_TEXT)
		text_puts(
		    out, " apart from line ends, leader, filler and blanks at the end of lines");
	else if (l->sameness == CHANGE_SAME_MEANING)
		text_puts(out, " apart from comments, sequence numbers and layout");
	if (all > 0)
		text_printf(out, ", %" PRIu64 " change%s", all, all == 1 ? "" : "s");
	for (int k = 0; k < CHANGE_COUNT; k++) {
		if (l->count[k] == 0)
			continue;
		text_printf(
		    out, "%s%" PRIu64 " %s", sep, l->count[k], change_name((enum change_kind)k));
		sep = ", ";
	}
	if (l->renumbered > 0)
		text_printf(out, "; %" PRIu64 " block%s numbered anew", l->renumbered,
		    l->renumbered == 1 ? "" : "s");
	if (all > l->n)
		text_printf(out, " (%zu shown)", l->n);
	text_putc(out, '\n');
}

void change_print(
    const struct change_list *l, const char *old_name, const char *new_name, struct text *out)
{
	for (int w = WEIGHT_REFUSE; w > WEIGHT_OFF; w--)
		for (size_t i = 0; i < l->n; i++)
			if (change_weight(l->v[i].kind) == (enum weight)w)
				paragraph(out, &l->v[i], old_name, new_name);
	summary(out, l);
}
