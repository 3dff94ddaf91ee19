/* What the proof found, as findings. */
#include <string.h>
#include "pair_rungs.h"
#include "pair_state.h"
#include "pair_words.h"
#include "rules_pair.h"

/* A slash before a wait code, where all settings of one common switch agree. */
static void in_skipped(struct pair_report *r)
{
	for (uint32_t c = 0; c < r->profile->channels; c++) {
		const struct wait_flow *flow = r->lane[c].program->flow;

		for (size_t i = 0; i < wait_flow_codes(flow); i++) {
			const struct wait_code *code = wait_flow_code(flow, i);
			struct finding_place at = {
			    (int)c, r->lane[c].program->file, code->at.line, code->at.col};

			if (code->skip == 0)
				continue;
			findings_add(&r->findings, r->profile->weight, FINDING_WAIT_IN_SKIPPED, &at,
			    "write skip = separate in the profile if each channel has its own "
			    "switch",
			    "M%u in a block with a slash: agrees with one common switch only",
			    (unsigned)code->code);
		}
	}
}

/* Nothing was compared: are the codes those of the machine? */
static void none_at_all(struct pair_report *r)
{
	struct finding_place at = {-1, NULL, 0, 0};
	struct text codes = {0};

	for (uint32_t c = 0; c < r->profile->channels; c++)
		if (!r->lane[c].program || wait_flow_codes(r->lane[c].program->flow) > 0)
			return;
	for (uint32_t i = 0; i < r->profile->waits; i++) {
		const struct profile_range *range = &r->profile->wait[i];

		text_printf(&codes, "%sM%u", i ? ", " : "", (unsigned)range->low);
		if (range->high > range->low)
			text_printf(&codes, "-M%u", (unsigned)range->high);
	}
	if (codes.failed)
		r->findings.failed = true;
	else
		findings_add(&r->findings, r->profile->weight, FINDING_WAIT_NONE, &at,
		    "see whether these are the machine's wait codes ('codes' in [wait] of its "
		    "profile)",
		    "no wait code in any program of the pair; looked for: %s",
		    codes.s ? codes.s : "none");
	text_free(&codes);
}

/* A place of the proof; line 0 is where the program runs out. */
static struct finding_place proof_place(
    const struct pair_report *r, int channel, const struct wait_place *w)
{
	int lane = r->of[channel];
	const struct program *p = r->lane[lane].program;
	struct finding_place at = {
	    lane, pair_rungs_file(p, w->file), w->line ? w->line : p->state.last_line, w->col};

	return at;
}

static void failed(struct pair_report *r)
{
	const struct wait_result *w = &r->result;
	struct finding_place at = proof_place(r, w->channel_a, &w->place_a);
	struct finding_place also = proof_place(r, w->channel_b, &w->place_b);
	struct text why = {0}, remedy = {0};

	pair_words_failure(r, &why);
	pair_words_repair(r, &remedy);
	if (why.failed || remedy.failed || !why.s || !remedy.s)
		r->findings.failed = true;
	else
		findings_place_also(&r->findings,
		    findings_add(
		        &r->findings, r->profile->weight, w->repair, &at, remedy.s, "%s", why.s),
		    also.file, also.line, also.col);
	text_free(&why);
	text_free(&remedy);
}

/* True when the reading of the program has told what stands at this place already. */
static bool is_told(const struct pair_report *r, const struct finding_place *at)
{
	static const enum finding_id flow[] = {FINDING_FLOW_UNFOLLOWED, FINDING_SUB_MISSING,
	    FINDING_SUB_RECURSIVE, FINDING_CALL_DEEP, FINDING_JUMP_MISSING, FINDING_PARTNERS_BAD,
	    FINDING_END_MISSING};

	for (size_t i = 0; i < sizeof(flow) / sizeof(*flow); i++) {
		if (r->findings.seen[flow[i]] > FINDINGS_KEEP)
			return true;
		if (r->profile->weight[flow[i]] == WEIGHT_OFF)
			continue;
		for (size_t k = 0; k < r->findings.n; k++) {
			const struct finding *f = &r->findings.v[k];

			if (f->id == flow[i] && f->channel == at->channel &&
			    (!at->line || f->line == at->line))
				return true;
		}
	}
	return false;
}

/* The run shown goes on to where it cannot be followed: often told before, where the text alone
 * shows it. */
static void unfollowed(struct pair_report *r)
{
	const struct wait_result *w = &r->result;
	struct finding_place at = proof_place(r, w->channel_a, &w->place_a);

	if (!w->place_a.line)
		at.line = 0;
	/* which channel a program is for is known only here */
	if (w->why && strcmp(w->why, WAIT_NAMED_ALONE) == 0)
		findings_add(&r->findings, r->profile->weight, FINDING_PARTNERS_BAD, &at,
		    "name each channel that meets there once, by number", "%s", w->why);
	else if (!is_told(r, &at))
		findings_add(&r->findings, r->profile->weight, FINDING_FLOW_UNFOLLOWED, &at,
		    "write it straight out", "the run cannot be followed from here: %s",
		    w->why ? w->why : "what the program does is not known");
}

static void endless(struct pair_report *r)
{
	const struct wait_result *w = &r->result;
	struct finding_place at = proof_place(r, w->channel_a, &w->place_a);

	findings_add(&r->findings, r->profile->weight, FINDING_LOOP_ENDLESS, &at,
	    "correct its condition, or what it counts",
	    "%s runs in this loop for ever and never comes to its end",
	    lane_name(r, r->of[w->channel_a]));
}

/* What only the proof met. */
static void not_told(struct pair_report *r)
{
	const struct wait_result *w = &r->result;
	struct finding_place at = {-1, NULL, 0, 0};

	if (w->repair == FINDING_RUN_LONG && w->place_a.line)
		at = proof_place(r, w->channel_a, &w->place_a);
	if (w->repair == FINDING_RUN_LONG && w->why)
		findings_add(&r->findings, r->profile->weight, FINDING_RUN_LONG, &at,
		    "use fewer conditions around wait codes, or compare them by hand", "%s",
		    w->why);
	else if (w->repair == FINDING_RUN_LONG)
		findings_add(&r->findings, r->profile->weight, FINDING_RUN_LONG, &at,
		    "raise run_max in the profile, or compare the wait codes by hand",
		    "the run is longer than %llu steps and was not followed to its end",
		    (unsigned long long)r->profile->run_max);
	else if (w->repair == FINDING_SKIP_MANY)
		findings_add(&r->findings, r->profile->weight, FINDING_SKIP_MANY, &at,
		    "use fewer block-skip switches",
		    "only %llu settings of block skip were examined",
		    (unsigned long long)w->settings);
	else if (w->repair == FINDING_FLOW_UNFOLLOWED)
		unfollowed(r);
	else if (w->repair == FINDING_LOOP_ENDLESS)
		endless(r);
}

/* The last signal that the run shown sends. */
static struct finding_place last_sent(const struct pair_report *r)
{
	for (size_t i = r->result.rungs; i--;) {
		for (size_t k = 0; k < r->programs; k++) {
			const struct wait_stop *stop = &r->result.rung[i].channel[k];

			if (stop->takes_part && stop->code && stop->code->kind == WAIT_CODE_SEND)
				return proof_place(r, (int)k, &stop->code->at);
		}
	}
	return (struct finding_place){-1, NULL, 0, 0};
}

/* What is left behind by a run that does not fail. */
static void left_behind(struct pair_report *r)
{
	const struct wait_result *w = &r->result;
	struct finding_place sent = last_sent(r), pair = {-1, NULL, 0, 0};

	if (w->left)
		findings_add(&r->findings, r->profile->weight, FINDING_SIGNAL_LEFT, &sent,
		    "add the code that waits for it, or remove the one that sends",
		    "%llu signal%s sent and never waited for", (unsigned long long)w->left,
		    w->left == 1 ? " is" : "s are");
	if (w->rounds)
		findings_add(&r->findings, r->profile->weight, FINDING_END_DIFFERS, &pair,
		    "let all programs hold the wait codes of one part",
		    "the programs begin again with M99 at different meetings, so that one "
		    "makes more rounds than the other");
}

void rules_pair_waits(struct pair_report *r)
{
	if (!r->proved || r->unreadable)
		return;
	if (r->verdict == VERDICT_AGREE)
		none_at_all(r);
	if (pair_words_failed_rung(r)) {
		failed(r);
		return;
	}
	not_told(r);
	left_behind(r);
	if (r->result.verdict == VERDICT_AGREE && r->programs == r->profile->channels &&
	    !r->profile->skip_separate)
		in_skipped(r);
}
