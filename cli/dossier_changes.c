#include "dossier_changes.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include "ask.h"
#include "exit.h"
#include "dossier_words.h"
#include "stored.h"
#include "yoke/change.h"

struct changes {
	struct sheet *sheet;
	const struct dossier *d;
	const struct profile *profile;
	size_t limit;
	struct told {
		const char *before, *after;
	} * told; /* what was compared so far */
	size_t n;
	int status;
};

static void put_summary(struct sheet *s, const struct change_list *l)
{
	struct text t = {0};
	const char *between = ": ";
	uint64_t all = 0;

	text_puts(&t, l->sameness == CHANGE_SAME_MEANING
	                  ? "Same meaning: they differ in comments, sequence numbers or layout"
	              : l->sameness == CHANGE_SAME_TEXT
	                  ? "Same text: they differ in line ends, leader, filler or blanks at the end of lines"
	              : l->sameness == CHANGE_DIFFERENT ? "Different"
	                                                : "The same bytes");
	for (int k = 0; k < CHANGE_COUNT; k++) {
		all += l->count[k];
		if (!l->count[k])
			continue;
		text_printf(&t, "%s%" PRIu64 " %s", between, l->count[k], change_name((enum change_kind)k));
		between = ", ";
	}
	if (l->renumbered)
		text_printf(&t, "; %" PRIu64 " block%s numbered anew", l->renumbered,
		    l->renumbered == 1 ? "" : "s");
	if (all > l->n)
		text_printf(&t, "; the heaviest %zu of %" PRIu64 " follow, --limit 0 tells all", l->n, all);
	s->failed |= t.failed;
	sheet_add(s, SHEET_PARAGRAPH, "%s.", t.s ? t.s : "");
	text_free(&t);
}

static void put_block(struct sheet *s, uint64_t line, const char *block)
{
	if (line)
		sheet_cell(s, "%" PRIu64 ": %s", line, block);
	else
		sheet_cell(s, "none");
}

static void put_changes(struct sheet *s, const struct change_list *l)
{
	static const char *const columns[] = {"WEIGHT", "CHANGE", "BEFORE: LINE, BLOCK", "AFTER: LINE, BLOCK"};

	put_summary(s, l);
	sheet_table(s, columns, 4);
	sheet_keep(s, 0);
	for (int w = WEIGHT_REFUSE; w > WEIGHT_OFF; w--)
		for (size_t i = 0; i < l->n; i++) {
			const struct change *c = &l->v[i];

			if (change_weight(c->kind) != (enum weight)w)
				continue;
			sheet_cell(s, "%s", finding_weight_name((enum weight)w));
			sheet_cell(s, "%s", c->what);
			put_block(s, c->old_line, c->old_text);
			put_block(s, c->new_line, c->new_text);
		}
}

static void get_and_compare(struct changes *c, const char *before, const char *after)
{
	struct stored a, b = {0};
	struct change_list list;
	int status = stored_get(before, &a);

	if (status == EXIT_DONE)
		status = stored_get(after, &b);
	if (status != EXIT_DONE) {
		sheet_add(c->sheet, SHEET_PARAGRAPH,
		    "NOT COMPARED: the programs could not be had from the vault.");
		c->status = status;
	} else if (change_compare(c->profile, a.bytes, a.n, b.bytes, b.n, c->limit,
	               &list) < 0) {
		c->sheet->failed = true;
	} else {
		put_changes(c->sheet, &list);
		change_list_free(&list);
	}
	stored_free(&a);
	stored_free(&b);
}

/* What two programs differ in; told once, however often the same two follow each other. */
static void compare(struct changes *c, const char *before, const char *after)
{
	struct told *grown;

	for (size_t i = 0; i < c->n; i++)
		if (!strcmp(c->told[i].before, before) && !strcmp(c->told[i].after, after)) {
			sheet_add(c->sheet, SHEET_PARAGRAPH, "The same two programs as above.");
			return;
		}
	grown = reallocarray(c->told, c->n + 1, sizeof(*grown));
	if (!grown) {
		c->sheet->failed = true;
		return;
	}
	c->told = grown;
	c->told[c->n++] = (struct told){before, after};
	get_and_compare(c, before, after);
}

/* The programs of one difference, as the heading has them. */
static void put_pair(struct text *t, const struct changes *c, const char *channel,
    const char *before, const char *after)
{
	text_printf(t, "%s ", channel);
	dossier_words_program(t, c->d, before);
	text_puts(t, " -> ");
	dossier_words_program(t, c->d, after);
	c->sheet->failed |= t->failed;
}

/* The part of channel that an entry of this kind and folder has; NULL when it is no such entry. */
static const json_t *arrival(const json_t *e, const char *folder, const char *channel)
{
	const json_t *part = json_array_get(json_object_get(e, "parts"), 0);

	return !strcmp(ask_string(e, "kind"), "arrived") && !strcmp(ask_string(e, "machine"), folder) &&
	               !strcmp(ask_string(part, "channel"), channel)
	           ? part
	           : NULL;
}

/* The entry's program against the one that came in before it for the same channel and folder. */
static void arrived(struct changes *c, size_t at)
{
	const json_t *e = json_array_get(c->d->events, at), *old = NULL;
	const json_t *part = json_array_get(json_object_get(e, "parts"), 0), *before = NULL;
	const char *channel = ask_string(part, "channel"), *folder = ask_string(e, "machine");
	struct text t = {0};

	if (!*channel)
		return;
	while (!before && at-- > 0) {
		old = json_array_get(c->d->events, at);
		before = arrival(old, folder, channel);
	}
	if (!before || !strcmp(ask_string(before, "after"), ask_string(part, "after")))
		return;
	put_pair(&t, c, channel, ask_string(before, "after"), ask_string(part, "after"));
	sheet_add(c->sheet, SHEET_SUBHEAD, "%s, revision %s (entry %lld) to %s (entry %lld)%s%s", t.s,
	    ask_string(old, "revision"), (long long)ask_number(old, "seq"), ask_string(e, "revision"),
	    (long long)ask_number(e, "seq"), *folder ? ", folder of machine " : "", folder);
	compare(c, ask_string(before, "after"), ask_string(part, "after"));
	text_free(&t);
}

static void drifted(struct changes *c, const json_t *e)
{
	const json_t *part;
	size_t i;

	json_array_foreach(json_object_get(e, "parts"), i, part)
	{
		const char *before = ask_string(part, "before"), *after = ask_string(part, "after");
		struct text t = {0};

		if (!*before || !*after || !strcmp(before, after))
			continue;
		put_pair(&t, c, ask_string(part, "channel"), before, after);
		sheet_add(c->sheet, SHEET_SUBHEAD, "%s, changed on machine %s (entry %lld)", t.s,
		    ask_string(e, "machine"), (long long)ask_number(e, "seq"));
		compare(c, before, after);
			text_free(&t);
	}
}

int dossier_changes(
    struct sheet *s, const struct dossier *d, const struct profile *profile, size_t limit)
{
	struct changes c = {s, d, profile, limit, NULL, 0, EXIT_DONE};
	const json_t *e;
	size_t i;

	json_array_foreach(d->events, i, e)
	{
		if (!strcmp(ask_string(e, "kind"), "arrived"))
			arrived(&c, i);
		else if (!strcmp(ask_string(e, "kind"), "drift"))
			drifted(&c, e);
	}
	free(c.told);
	if (!c.n)
		sheet_add(s, SHEET_PARAGRAPH,
		    "No program followed another: each channel has one content, and none was found "
		    "changed on a machine.");
	return c.status;
}
