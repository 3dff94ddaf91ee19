#include "pair_state.h"
#include "pair_words.h"

/* "on" for the common switch alone, "/2 on", "/ and /2 on"; nothing when none is on. */
static void switches_on(uint32_t set, struct text *t)
{
	bool first = true;

	if (set == 1u << 1) {
		text_puts(t, "on");
		return;
	}
	for (unsigned level = 1; level <= 9; level++) {
		if (!(set & 1u << level))
			continue;
		text_puts(t, first ? "/" : " and /");
		if (level > 1)
			text_printf(t, "%u", level);
		first = false;
	}
	if (!first)
		text_puts(t, " on");
}

void pair_words_switches(const struct pair_report *r, struct text *t)
{
	bool any = false;

	if (!r->proved) {
		text_puts(t, "off");
		return;
	}
	if (!r->profile->skip_separate) {
		if (r->result.switches[0])
			switches_on(r->result.switches[0], t);
		else
			text_puts(t, "off");
		return;
	}
	for (size_t i = 0; i < r->programs; i++) {
		if (!r->result.switches[i])
			continue;
		text_puts(t, any ? ", " : "");
		switches_on(r->result.switches[i], t);
		text_printf(t, " in %s", lane_name(r, r->of[i]));
		any = true;
	}
	if (!any)
		text_puts(t, "off");
}

const struct wait_rung *pair_words_failed_rung(const struct pair_report *r)
{
	if (r->verdict != VERDICT_DISAGREE || r->result.rungs == 0)
		return NULL;
	return &r->result.rung[r->result.rungs - 1];
}

static bool any_switch(const struct pair_report *r)
{
	for (size_t i = 0; i < r->programs; i++)
		if (r->result.switches[i])
			return true;
	return false;
}

/* Who stands for ever: both, all, or by name. */
static void who_stands(const struct pair_report *r, const struct wait_rung *rung, struct text *t)
{
	size_t waiting = 0, named = 0;

	for (size_t i = 0; i < r->programs; i++)
		waiting += rung->channel[i].code != NULL;
	if (waiting == r->programs) {
		text_puts(t, waiting == 2 ? ": both stand for ever" : ": all stand for ever");
		return;
	}
	text_puts(t, ": ");
	for (size_t i = 0; i < r->programs; i++) {
		if (!rung->channel[i].code)
			continue;
		named++;
		text_printf(t, "%s%s",
		    named == 1         ? ""
		    : named == waiting ? " and "
		                       : ", ",
		    lane_name(r, r->of[i]));
	}
	text_puts(t, waiting == 1 ? " stands for ever" : " stand for ever");
}

void pair_words_failure(const struct pair_report *r, struct text *t)
{
	const struct wait_rung *rung = pair_words_failed_rung(r);

	if (!rung)
		return;
	text_printf(t, "wait %llu", (unsigned long long)r->result.meetings + 1);
	if (any_switch(r)) {
		text_puts(t, " with block skip ");
		pair_words_switches(r, t);
	}
	for (size_t i = 0; i < r->programs; i++) {
		const struct wait_stop *stop = &rung->channel[i];

		text_printf(t, "%s %s ", i ? "," : ":", lane_name(r, r->of[i]));
		if (stop->code)
			text_printf(t, "M%u (line %llu)", (unsigned)stop->code->code,
			    (unsigned long long)stop->code->at.line);
		else
			text_puts(t, stop->at_end ? "has ended" : "cannot be followed");
	}
	who_stands(r, rung, t);
	if (r->result.repair == FINDING_END_DIFFERS)
		text_printf(t, ", because %s begins again with M99 and %s does not",
		    lane_name(r, r->of[r->result.channel_b]),
		    lane_name(r, r->of[r->result.channel_a]));
}

/* Where in channel i a code is to be added: behind the last meeting, before where it stands now. */
static void between(const struct pair_report *r, int i, uint64_t before, struct text *t)
{
	uint64_t after = 0;

	for (size_t k = 0; k + 1 < r->result.rungs; k++)
		if (r->result.rung[k].channel[i].code)
			after = r->result.rung[k].channel[i].code->at.line;
	if (after && before > after)
		text_printf(t, " between line %llu and line %llu", (unsigned long long)after,
		    (unsigned long long)before);
	else if (before)
		text_printf(t, " before line %llu", (unsigned long long)before);
	else
		text_printf(t, " behind line %llu", (unsigned long long)after);
}

/* The code that one channel skips has a slash in its mate too: separate switches part them. */
static bool both_skipped(const struct pair_report *r)
{
	const struct wait_rung *rung = pair_words_failed_rung(r);
	const struct wait_code *code = rung->channel[r->result.channel_b].code;

	return code && code->skip > 0;
}

void pair_words_repair(const struct pair_report *r, struct text *t)
{
	const struct wait_result *w = &r->result;
	const char *a, *b;
	unsigned long long line_a, line_b;

	if (!pair_words_failed_rung(r))
		return;
	a = lane_name(r, r->of[w->channel_a]);
	b = lane_name(r, r->of[w->channel_b]);
	line_a = w->place_a.line;
	line_b = w->place_b.line;
	text_puts(t, "likeliest repair: ");
	switch (w->repair) {
	case FINDING_WAIT_MISSING:
		text_printf(t, "add M%u to %s", (unsigned)w->code_b, a);
		between(r, w->channel_a, line_a, t);
		break;
	case FINDING_WAIT_DOUBLED:
		text_printf(t, "remove M%u in line %llu of %s", (unsigned)w->code_a, line_a, a);
		break;
	case FINDING_WAIT_SWAPPED:
		text_printf(t, "put M%u and M%u of %s (line %llu) into the order of %s (line %llu)",
		    (unsigned)w->code_a, (unsigned)w->code_b, a, line_a, b, line_b);
		break;
	case FINDING_WAIT_SKIPPED:
		if (both_skipped(r))
			text_printf(
			    t, "take the slash off M%u in both programs", (unsigned)w->code_b);
		else
			text_printf(
			    t, "give M%u the same slash in both programs", (unsigned)w->code_b);
		text_printf(t, ", %s line %llu and %s line %llu", a, line_a, b, line_b);
		break;
	case FINDING_WAIT_AFTER_END:
		text_printf(t, "move M%u in line %llu of %s before the program end",
		    (unsigned)w->code_a, line_a, a);
		break;
	case FINDING_END_DIFFERS:
		text_puts(t, "end the programs alike, all with M99 or all with M30");
		break;
	default:
		text_printf(t, "write M%u in place of M%u in line %llu of %s, if %s is right",
		    (unsigned)w->code_b, (unsigned)w->code_a, line_a, a, b);
	}
}

void pair_words_outcome(const struct pair_report *r, struct text *t)
{
	text_puts(t, pair_verdict_name(r->verdict));
	switch (r->verdict) {
	case VERDICT_AGREE:
		text_printf(t, ": %llu meeting%s, then the programs end",
		    (unsigned long long)r->result.meetings, r->result.meetings == 1 ? "" : "s");
		if (r->result.settings > 1)
			text_printf(t, "; %llu settings of block skip were examined",
			    (unsigned long long)r->result.settings);
		break;
	case VERDICT_DISAGREE:
		text_puts(t, " at ");
		pair_words_failure(r, t);
		text_puts(t, "; ");
		pair_words_repair(r, t);
		break;
	case VERDICT_CANNOT_TELL:
		text_puts(t, r->programs < r->profile->channels
		                 ? ": a program is missing"
		                 : ": see the findings for what could not be read or followed");
		break;
	}
}
