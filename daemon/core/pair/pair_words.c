#include "pair_rungs.h"
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
		if (r->result.run[0].on)
			switches_on(r->result.run[0].on, t);
		else
			text_puts(t, "off");
		return;
	}
	for (size_t i = 0; i < r->programs; i++) {
		if (!r->result.run[i].on)
			continue;
		text_puts(t, any ? ", " : "");
		switches_on(r->result.run[i].on, t);
		text_printf(t, " in %s", lane_name(r, r->of[i]));
		any = true;
	}
	if (!any)
		text_puts(t, "off");
}

const struct wait_rung *pair_words_failed_rung(const struct pair_report *r)
{
	const struct wait_result *w = &r->result;

	if (!r->proved || r->unreadable || w->rungs == 0 || w->rung[w->rungs - 1].meets)
		return NULL;
	switch (w->repair) {
	case FINDING_COUNT:
	case FINDING_FLOW_UNFOLLOWED:
	case FINDING_RUN_LONG:
	case FINDING_SKIP_MANY:
		return NULL;
	case FINDING_LOOP_ENDLESS:
		/* without a mate that waits, nobody stands */
		return w->channel_b < 0 ? NULL : &w->rung[w->rungs - 1];
	default:
		return &w->rung[w->rungs - 1];
	}
}

static bool any_switch(const struct pair_report *r)
{
	for (size_t i = 0; i < r->programs; i++)
		if (r->result.run[i].on)
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

void pair_words_line(
    const struct pair_report *r, int lane, const struct wait_place *at, struct text *t)
{
	if (at->file)
		text_printf(t, "%s ", pair_rungs_file(r->lane[lane].program, at->file));
	text_printf(t, "line %llu", (unsigned long long)at->line);
}

/* How the conditions on unknown data went that channel i met. */
static void conditions(const struct pair_report *r, size_t i, struct text *t)
{
	const struct wait_run *run = &r->result.run[i];
	bool yes;

	if (!run->choices)
		return;
	yes = run->choice[run->choices - 1];
	if (run->choices == 1)
		text_puts(t, ", when the condition in ");
	else
		text_printf(t, ", when the last of %llu conditions that it meets, in ",
		    (unsigned long long)run->choices);
	pair_words_line(r, r->of[i], &run->last, t);
	text_printf(t, " of %s is %s", lane_name(r, r->of[i]), yes ? "true" : "false");
}

static void stands(
    const struct pair_report *r, size_t i, const struct wait_stop *stop, struct text *t)
{
	char code[32];

	if (stop->code) {
		pair_rungs_code(r->profile, stop->code, code, sizeof(code));
		text_printf(t, "%s (", code);
		pair_words_line(r, r->of[i], &stop->code->at, t);
		text_putc(t, ')');
	} else if (stop->at_end) {
		text_puts(t, "has ended");
	} else if (r->result.repair == FINDING_LOOP_ENDLESS && r->result.channel_a == (int)i) {
		text_puts(t, "runs in a loop for ever (");
		pair_words_line(r, r->of[i], &r->result.place_a, t);
		text_putc(t, ')');
	} else {
		text_puts(t, "cannot be followed");
	}
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
	for (size_t i = 0; i < r->programs; i++)
		conditions(r, i, t);
	for (size_t i = 0; i < r->programs; i++) {
		text_printf(t, "%s %s ", i ? "," : ":", lane_name(r, r->of[i]));
		stands(r, i, &rung->channel[i], t);
	}
	who_stands(r, rung, t);
	if (r->result.repair == FINDING_END_DIFFERS)
		text_printf(t, ", because %s begins again with M99 and %s does not",
		    lane_name(r, r->of[r->result.channel_b]),
		    lane_name(r, r->of[r->result.channel_a]));
}

/* The run shown comes to no end: it passes the same meetings again and again. */
static bool turns(const struct pair_report *r)
{
	const struct wait_rung *last =
	    r->result.rungs ? &r->result.rung[r->result.rungs - 1] : NULL;

	for (size_t i = 0; last && i < r->programs; i++)
		if (last->channel[i].at_end || last->channel[i].at_round || !last->channel[i].code)
			return false;
	return last != NULL;
}

/* How a run goes on that does not fail. */
static void goes_on(const struct pair_report *r, struct text *t)
{
	const struct wait_result *w = &r->result;

	text_printf(t, ": %llu meeting%s, then ", (unsigned long long)w->meetings,
	    w->meetings == 1 ? "" : "s");
	if (w->repair == FINDING_LOOP_ENDLESS)
		text_printf(t, "%s runs in a loop for ever", lane_name(r, r->of[w->channel_a]));
	else if (w->rounds)
		text_puts(t, "the programs go on, and each begins again by itself");
	else if (turns(r))
		text_puts(t, "the programs go round a loop and meet there again and again");
	else
		text_puts(t, "the programs end");
	if (w->branches)
		text_puts(t, "; so do all runs that depend on unknown data");
	if (w->settings > 1)
		text_printf(t, "; %llu settings of block skip were examined",
		    (unsigned long long)w->settings);
}

void pair_words_outcome(const struct pair_report *r, struct text *t)
{
	text_puts(t, pair_verdict_name(r->verdict));
	switch (r->verdict) {
	case VERDICT_AGREE:
		goes_on(r, t);
		break;
	case VERDICT_DISAGREE:
		text_puts(t, " at ");
		pair_words_failure(r, t);
		text_puts(t, "; ");
		pair_words_repair(r, t);
		break;
	case VERDICT_CANNOT_TELL:
		if (pair_words_failed_rung(r)) {
			text_puts(t, ": a run may fail at ");
			pair_words_failure(r, t);
			text_puts(t, "; ");
			pair_words_repair(r, t);
			break;
		}
		text_puts(t, r->programs < r->profile->channels
		                 ? ": a program is missing"
		                 : ": see the findings for what could not be read or followed");
		break;
	}
}
