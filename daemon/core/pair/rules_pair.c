#include <string.h>
#include "pair_state.h"
#include "rules_pair.h"

static struct finding_place place_in(
    const struct pair_report *r, int lane, uint64_t line, uint32_t col)
{
	return (struct finding_place){lane, r->lane[lane].program->file, line, col};
}

static void mates(struct pair_report *r)
{
	int have = 0;

	for (uint32_t c = 0; c < r->profile->channels; c++)
		if (r->lane[c].program)
			have = (int)c;
	for (uint32_t c = 0; c < r->profile->channels; c++) {
		struct finding_place at = {-1, NULL, 0, 0};

		if (r->lane[c].program)
			continue;
		if (r->lane[have].program)
			at = place_in(r, have, 0, 0);
		findings_add(&r->findings, r->profile->weight, FINDING_MATE_MISSING, &at,
		    "drop the other channel's program of the same job and revision",
		    "no program for channel %s", lane_name(r, (int)c));
	}
}

/*
 * One value that all programs must agree on. Returns it where all have it and agree, else "".
 * Differences are told against the first program that has a value.
 */
static const char *agreed(struct pair_report *r, const char *(*value)(const struct program *),
    enum finding_id differs, const char *what)
{
	const char *common = NULL;
	bool all = true;
	int first = 0;

	for (uint32_t c = 0; c < r->profile->channels; c++) {
		const struct program *p = r->lane[c].program;

		if (!p)
			continue;
		if (!value(p)[0]) {
			all = false;
			continue;
		}
		if (!common) {
			common = value(p);
			first = (int)c;
		} else if (strcmp(common, value(p)) != 0) {
			struct finding_place at =
			    place_in(r, (int)c, p->identity.header.line, p->identity.header.col);
			const struct program *q = r->lane[first].program;

			findings_place_also(&r->findings,
			    findings_add(&r->findings, r->profile->weight, differs, &at,
			        "find out which is right, and release both programs alike",
			        "%s is %s %s, %s is %s %s", lane_name(r, first), what, common,
			        lane_name(r, (int)c), what, value(p)),
			    q->file, q->identity.header.line, q->identity.header.col);
			all = false;
		}
	}
	return all && common ? common : "";
}

static void numbers(struct pair_report *r)
{
	const struct program *first = NULL;
	int first_lane = 0;

	for (uint32_t c = 0; c < r->profile->channels; c++) {
		const struct program *p = r->lane[c].program;

		if (!p || !p->number_seen)
			continue;
		if (!first) {
			first = p;
			first_lane = (int)c;
		} else if (p->number != first->number) {
			struct finding_place at =
			    place_in(r, (int)c, p->number_at.line, p->number_at.col);

			findings_place_also(&r->findings,
			    findings_add(&r->findings, r->profile->weight, FINDING_NUMBER_MATE, &at,
			        "give both channels the number of the job", "%s is O%u, %s is O%u",
			        lane_name(r, first_lane), (unsigned)first->number,
			        lane_name(r, (int)c), (unsigned)p->number),
			    first->file, first->number_at.line, first->number_at.col);
		}
	}
}

static void same_text(struct pair_report *r, int a, int b)
{
	const struct program *p = r->lane[a].program, *q = r->lane[b].program;
	struct finding_place at = place_in(r, b, 0, 0);

	if (p->print != q->print || p->shape.blocks != q->shape.blocks || !p->motion)
		return;
	findings_place_also(&r->findings,
	    findings_add(&r->findings, r->profile->weight, FINDING_CHANNEL_SAME, &at,
	        "find out for which channel this program was written, and drop the other's own",
	        "%s and %s hold the same text, block for block", lane_name(r, a), lane_name(r, b)),
	    p->file, 0, 0);
}

static void same_texts(struct pair_report *r)
{
	for (uint32_t a = 0; a < r->profile->channels; a++)
		for (uint32_t b = a + 1; b < r->profile->channels; b++)
			if (r->lane[a].program && r->lane[b].program)
				same_text(r, (int)a, (int)b);
}

void rules_pair_identity(struct pair_report *r)
{
	mates(r);
	r->job = agreed(r, program_job, FINDING_JOB_DIFFERS, "job");
	r->revision = agreed(r, program_revision, FINDING_REVISION_DIFFERS, "revision");
	numbers(r);
	same_texts(r);
}

/* True when q has an optional stop between the same wait codes. */
static bool has_stop(const struct program *q, uint64_t waits_before)
{
	size_t n = q->stops < STOPS_KEEP ? q->stops : STOPS_KEEP;

	for (size_t i = 0; i < n; i++)
		if (q->stop[i].waits_before == waits_before)
			return true;
	return q->stops > STOPS_KEEP;
}

/*
 * Stops are compared by the wait codes before them in the text; where the channels do not have the
 * same number of wait codes, only whether there are any.
 */
static void stops_of(struct pair_report *r, int lane, int other)
{
	const struct program *p = r->lane[lane].program, *q = r->lane[other].program;
	size_t n = p->stops < STOPS_KEEP ? p->stops : STOPS_KEEP;
	bool exact = p->waits == q->waits;

	for (size_t i = 0; i < n; i++) {
		struct finding_place at = place_in(r, lane, p->stop[i].at.line, p->stop[i].at.col);

		if (exact ? has_stop(q, p->stop[i].waits_before) : q->stops > 0)
			continue;
		findings_add(&r->findings, r->profile->weight, FINDING_STOP_ONE_CHANNEL, &at,
		    "write M01 into both channels between the same wait codes",
		    "optional stop M01 in %s only; %s has none between the same wait codes",
		    lane_name(r, lane), lane_name(r, other));
	}
}

void rules_pair_stops(struct pair_report *r)
{
	if (r->unreadable)
		return;
	for (uint32_t a = 0; a < r->profile->channels; a++) {
		for (uint32_t b = 0; b < r->profile->channels; b++)
			if (a != b && r->lane[a].program && r->lane[b].program)
				stops_of(r, (int)a, (int)b);
	}
}
