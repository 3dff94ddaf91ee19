#include <string.h>
#include "pair_state.h"
#include "pair_words.h"

static void visible(struct text *out, const char *s)
{
	text_visible(out, s, strlen(s));
}

static void place(struct text *out, const char *file, uint64_t line, uint32_t col)
{
	visible(out, file[0] ? file : "pair");
	if (line)
		text_printf(out, ":%llu", (unsigned long long)line);
	if (line && col)
		text_printf(out, ":%u", (unsigned)col);
	text_puts(out, ": ");
}

static void finding(struct text *out, const struct finding *f)
{
	place(out, f->file, f->line, f->col);
	text_printf(out, "%s: ", finding_weight_name(f->weight));
	visible(out, f->text);
	text_printf(out, " [%s]\n", finding_name(f->id));
	if (f->also) {
		text_puts(out, "    ");
		place(out, f->also_file, f->also_line, f->also_col);
		text_puts(out, "the other place\n");
	}
	if (f->remedy[0]) {
		text_puts(out, "    ");
		visible(out, f->remedy);
		text_putc(out, '\n');
	}
}

void pair_print_findings(const struct findings *f, struct text *out)
{
	uint32_t shown[FINDING_COUNT] = {0};

	for (size_t i = 0; i < f->n; i++) {
		finding(out, &f->v[i]);
		shown[f->v[i].id]++;
	}
	for (int id = 0; id < FINDING_COUNT; id++)
		if (f->seen[id] > shown[id])
			text_printf(out, "and %u more [%s]\n", (unsigned)(f->seen[id] - shown[id]),
			    finding_name((enum finding_id)id));
}

void pair_print_summary(const struct pair_report *r, struct text *out)
{
	uint64_t count[WEIGHT_REFUSE + 1] = {0};

	for (int id = 0; id < FINDING_COUNT; id++)
		count[r->profile->weight[id]] += r->findings.seen[id];
	pair_words_outcome(r, out);
	text_printf(out, "\n%llu refuse, %llu warn, %llu note: %s\n",
	    (unsigned long long)count[WEIGHT_REFUSE], (unsigned long long)count[WEIGHT_WARN],
	    (unsigned long long)count[WEIGHT_NOTE],
	    pair_may_release(r) ? "may be released" : "refused");
	text_puts(out, "Agreement of wait codes does not prove that tools cannot meet.\n");
}
