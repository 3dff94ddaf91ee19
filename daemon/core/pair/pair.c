#include <stdlib.h>
#include "pair_state.h"
#include "rules_pair.h"

const char *pair_verdict_name(enum verdict v)
{
	switch (v) {
	case VERDICT_AGREE:
		return "agree";
	case VERDICT_DISAGREE:
		return "disagree";
	case VERDICT_CANNOT_TELL:
		break;
	}
	return "cannot tell";
}

static void place(struct pair_report *r, int lane, const struct program *p)
{
	r->lane[lane].program = p;
	r->programs++;
}

static void same_channel(struct pair_report *r, const struct program *p)
{
	const struct program *first = r->lane[p->identity.channel].program;
	struct finding_place at = {p->identity.channel, p->file, 0, 0};

	findings_place_also(&r->findings,
	    findings_add(&r->findings, r->profile->weight, FINDING_CHANNEL_DIFFERS, &at,
	        "find out which of the two is for the other channel",
	        "both programs are for channel %s", lane_name(r, p->identity.channel)),
	    first->file, 0, 0);
}

/* Each program into the lane of its channel; what names none, or one that is taken, into the next
 * free one. */
static void place_all(struct pair_report *r, struct program *const *programs, size_t n)
{
	bool placed[YOKE_CHANNELS_MAX] = {false};

	for (size_t i = 0; i < n; i++) {
		int c = programs[i]->identity.channel;

		if (c < 0)
			continue;
		if (r->lane[c].program) {
			same_channel(r, programs[i]);
			continue;
		}
		place(r, c, programs[i]);
		placed[i] = true;
	}
	for (size_t i = 0; i < n; i++) {
		int c = 0;

		if (placed[i])
			continue;
		while (r->lane[c].program)
			c++;
		place(r, c, programs[i]);
	}
}

/* A file of subprograms is told once, for whichever channels call into it. */
static void gather_sisters(struct pair_report *r, const struct program *p)
{
	for (size_t i = 0; i < p->sisters; i++)
		findings_append_new(&r->findings, &p->sister[i]->findings);
}

static void gather(struct pair_report *r)
{
	for (uint32_t c = 0; c < r->profile->channels; c++) {
		size_t from = r->findings.n;

		if (!r->lane[c].program)
			continue;
		/* The head of a file that holds several channels was read for each of them. */
		if (r->lane[c].program->identity.separated >= 0)
			findings_append_new(&r->findings, &r->lane[c].program->findings);
		else
			findings_append(&r->findings, &r->lane[c].program->findings);
		for (size_t i = from; i < r->findings.n; i++)
			r->findings.v[i].channel = (int)c;
	}
	for (uint32_t c = 0; c < r->profile->channels; c++)
		if (r->lane[c].program)
			gather_sisters(r, r->lane[c].program);
}

static bool refuses(const struct pair_report *r, const enum finding_id *id, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (r->findings.seen[id[i]] > 0 && r->profile->weight[id[i]] == WEIGHT_REFUSE)
			return true;
	return false;
}

/*
 * What was read decides how far the proof reaches. Where the text is no program, or a wait code is
 * uncertain, nothing can be told; where a word could not be read or the end is missing, agreement
 * cannot be told. A profile that lowers the weight of such a finding vouches for it.
 */
static void judge(struct pair_report *r)
{
	static const enum finding_id nothing[] = {
	    FINDING_FRAMING_7E, FINDING_EMPTY, FINDING_CUT_OFF, FINDING_WAIT_UNCERTAIN};
	static const enum finding_id doubt[] = {FINDING_WORD_BAD, FINDING_NUMBER_BAD,
	    FINDING_NUL_INSIDE, FINDING_BLOCK_LONG, FINDING_COMMENT_OPEN, FINDING_COMMENT_NESTED,
	    FINDING_PERCENT_MIDDLE, FINDING_CHARACTER, FINDING_END_MISSING, FINDING_PART_UNKNOWN};

	r->unreadable = refuses(r, nothing, sizeof(nothing) / sizeof(*nothing));
	r->verdict = r->proved ? r->result.verdict : VERDICT_CANNOT_TELL;
	if (r->unreadable)
		r->verdict = VERDICT_CANNOT_TELL;
	if (r->verdict == VERDICT_AGREE && (r->programs < r->profile->channels ||
	                                       refuses(r, doubt, sizeof(doubt) / sizeof(*doubt))))
		r->verdict = VERDICT_CANNOT_TELL;
}

static int prove(struct pair_report *r)
{
	struct wait_flow *flow[YOKE_CHANNELS_MAX];
	int n = 0;

	for (uint32_t c = 0; c < r->profile->channels; c++) {
		r->lane[c].proved = -1;
		if (!r->lane[c].program)
			continue;
		r->lane[c].proved = n;
		r->of[n] = (int)c;
		flow[n++] = r->lane[c].program->flow;
	}
	if (n < 2)
		return 0;
	if (wait_prove(r->profile, flow, r->of, (size_t)n, &r->result) != 0)
		return -1;
	r->proved = true;
	return 0;
}

struct pair_report *pair_check(
    const struct profile *profile, struct program *const *programs, size_t n)
{
	struct pair_report *r = calloc(1, sizeof(*r));

	if (!r)
		return NULL;
	r->profile = profile;
	r->job = r->revision = "";
	if (n > profile->channels)
		n = profile->channels;
	for (size_t i = 0; i < n; i++)
		if (program_finish(programs[i]) != 0)
			goto failed;
	place_all(r, programs, n);
	gather(r);
	if (prove(r) != 0)
		goto failed;
	judge(r);
	rules_pair_identity(r);
	rules_pair_stops(r);
	rules_pair_waits(r);
	if (r->findings.failed)
		goto failed;
	findings_sort(&r->findings);
	return r;

failed:
	pair_report_free(r);
	return NULL;
}

void pair_report_free(struct pair_report *r)
{
	if (!r)
		return;
	if (r->proved)
		wait_result_free(&r->result);
	findings_free(&r->findings);
	free(r);
}

enum verdict pair_verdict(const struct pair_report *r)
{
	return r->verdict;
}

const struct findings *pair_findings(const struct pair_report *r)
{
	return &r->findings;
}

enum weight pair_weight(const struct pair_report *r)
{
	return findings_heaviest(&r->findings);
}

bool pair_may_release(const struct pair_report *r)
{
	return pair_weight(r) < WEIGHT_REFUSE && r->verdict != VERDICT_DISAGREE;
}

const char *pair_job(const struct pair_report *r)
{
	return r->job;
}

const char *pair_revision(const struct pair_report *r)
{
	return r->revision;
}

uint64_t pair_meetings(const struct pair_report *r)
{
	return r->proved ? r->result.fewest : 0;
}

int pair_add_finding(
    struct pair_report *r, enum finding_id id, int channel, const char *file, const char *text)
{
	struct finding_place at = {.channel = channel, .file = file};

	findings_add(&r->findings, r->profile->weight, id, &at, NULL, "%s", text);
	findings_sort(&r->findings);
	return r->findings.failed ? -1 : 0;
}
