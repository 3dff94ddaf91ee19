/*
 * The traces of all channels in step: segment k is what each channel does while k rungs were
 * passed. Blocks of one segment match, whichever they are: the same meetings lie behind all
 * channels.
 */
#include "yoke/restart.h"

#include <stdlib.h>
#include <string.h>
#include "pair_words.h"
#include "restart_inside.h"

struct run {
	const struct pair_report *report;
	struct restart *out;
	struct restart_lane lane[YOKE_CHANNELS_MAX];
	size_t lanes;
	int number[YOKE_CHANNELS_MAX]; /* channel of the machine, by lane */
	struct wait_signals signals;
	bool settled[YOKE_CHANNELS_MAX]; /* by ask: its pair is found */
	uint64_t segment;
	char behind[RESTART_TEXT_MAX];
};

/* False without memory. */
static bool segment(struct run *r)
{
	struct restart *out = r->out;
	struct restart_segment *s;

	if (out->segments == RESTART_SEGMENTS_MAX) {
		out->segments_more++;
		return true;
	}
	if ((out->segments & (out->segments - 1)) == 0) {
		size_t room = out->segments ? 2 * out->segments : 1;
		struct restart_segment *grown = reallocarray(out->segment, room, sizeof(*grown));

		if (!grown)
			return false;
		out->segment = grown;
	}
	s = &out->segment[out->segments++];
	*s = (struct restart_segment){.number = r->segment, .signals = r->signals.n > 0};
	memcpy(s->behind, r->behind, sizeof(s->behind));
	for (size_t i = 0; i < r->lanes; i++) {
		const struct restart_lane *l = &r->lane[i];

		s->has[l->channel] = l->has_first;
		s->unfit[l->channel] = l->has_first ? NULL : l->unfit;
	}
	return true;
}

static void pair(struct run *r, struct restart_near *n, const struct restart_place *own)
{
	n->pair = true;
	n->segment = r->segment;
	for (size_t i = 0; i < r->lanes; i++) {
		const struct restart_lane *l = &r->lane[i];

		n->has[l->channel] = true;
		n->place[l->channel] = l->channel == n->ask.channel ? *own : l->first;
	}
}

/* The pair nearest to what was asked for, as far as this segment. The last one before it stays
 * where its own segment has none. */
static void near(struct run *r, size_t ask)
{
	struct restart_near *n = &r->out->near[ask];
	const struct restart_lane *own = NULL;
	const struct restart_place *place;
	bool all = true, here;

	for (size_t i = 0; i < r->lanes; i++) {
		all &= r->lane[i].has_first;
		if (r->lane[i].channel == n->ask.channel)
			own = &r->lane[i];
	}
	if (!own || r->settled[ask])
		return;
	here = own->asked_here[ask];
	if (n->found && !here) {
		r->settled[ask] = true;
		return;
	}
	place = !here                 ? &own->last
	        : own->has_asked[ask] ? &own->asked[ask]
	        : n->pair             ? NULL
	                              : &own->first;
	if (all && place)
		pair(r, n, place);
	r->settled[ask] = here && (!place || all);
}

static void code_of_rung(struct run *r, uint32_t goes)
{
	for (size_t i = 0; i < r->lanes; i++) {
		if (!(goes >> i & 1))
			continue;
		restart_words_code(r->report->profile, r->lane[i].code, r->behind);
		return;
	}
}

/* Those that can go on together do. 1; 0 when nobody can; -1 without memory. */
static int together(struct run *r)
{
	const struct wait_code *code[YOKE_CHANNELS_MAX] = {NULL};
	uint32_t goes;

	for (size_t i = 0; i < r->lanes; i++)
		code[i] = r->lane[i].code;
	goes = wait_meet(r->report->profile, code, r->lanes, r->number, &r->signals);
	if (!goes)
		return 0;
	code_of_rung(r, goes);
	for (size_t i = 0; i < r->lanes; i++)
		if (goes >> i & 1)
			restart_lane_close(&r->lane[i], r->out, r->segment);
	r->segment++;
	for (size_t i = 0; i < r->lanes; i++)
		if (goes >> i & 1 && !restart_lane_advance(&r->lane[i], r->out, r->segment))
			return -1;
	return 1;
}

static void ending(struct run *r)
{
	bool stops = false, round = false;

	for (size_t i = 0; i < r->lanes; i++) {
		const struct restart_lane *l = &r->lane[i];

		restart_lane_close(&r->lane[i], r->out, r->segment);
		stops |= l->stands == TRACE_STOP;
		round |= l->stands == TRACE_ROUND;
		if (l->stands == TRACE_LOST && r->out->end != RESTART_LOST) {
			r->out->end = RESTART_LOST;
			r->out->why = l->why;
		}
	}
	if (r->out->end == RESTART_LOST || !stops)
		return;
	r->out->end = round ? RESTART_LOST : RESTART_STUCK;
	if (round)
		r->out->why = "a program begins again before the others have ended";
}

/* False without memory. */
static bool follow(struct run *r)
{
	int went = 1;

	for (uint32_t c = 0; c < r->report->profile->channels; c++) {
		struct restart_lane *l = &r->lane[r->lanes];
		int proved = r->report->lane[c].proved;

		if (!r->report->lane[c].program)
			continue;
		r->number[r->lanes++] = (int)c;
		if (!restart_lane_begin(l, r->report, (int)c, &r->report->result.run[proved]) ||
		    !restart_lane_advance(l, r->out, 0))
			return false;
	}
	while (went > 0) {
		if (!segment(r))
			return false;
		for (size_t i = 0; i < r->out->nears; i++)
			near(r, i);
		went = together(r);
	}
	if (went == 0)
		ending(r);
	return went == 0;
}

/* Asks whose segments have none in common. */
static bool dangerous(const struct restart *r)
{
	for (size_t i = 0; i < r->nears; i++)
		for (size_t k = 0; k < i; k++) {
			const struct restart_near *a = &r->near[i], *b = &r->near[k];

			if (a->found && b->found && (a->first > b->last || b->first > a->last))
				return true;
		}
	return false;
}

/* Why nothing can be computed, NULL when it can. */
static const char *impossible(const struct pair_report *r)
{
	if (r->unreadable)
		return "a program cannot be read with certainty";
	if (!r->proved)
		return "a mate is missing";
	for (uint32_t c = 0; c < r->profile->channels; c++) {
		if (!r->lane[c].program)
			continue;
		if (!r->lane[c].program->bytes)
			return "the text of a program is not at hand";
		if (r->lane[c].proved < 0)
			return "a mate is missing";
	}
	return NULL;
}

/* False without memory. */
static bool fill(const struct pair_report *report, struct restart *out)
{
	struct run *r;
	bool good;

	out->why = impossible(report);
	if (out->why) {
		out->end = RESTART_LOST;
		return true;
	}
	r = calloc(1, sizeof(*r));
	if (!r)
		return false;
	r->report = report;
	r->out = out;
	good = follow(r);
	for (size_t i = 0; i < r->lanes; i++)
		restart_lane_end(&r->lane[i]);
	free(r);
	out->dangerous = dangerous(out);
	return good;
}

struct restart *restart_new(const struct pair_report *r, const struct restart_ask *asks, size_t n)
{
	struct restart *out = calloc(1, sizeof(*out));
	struct text outcome = {0}, switches = {0};

	if (!out)
		return NULL;
	pair_words_outcome(r, &outcome);
	pair_words_switches(r, &switches);
	out->outcome = text_take(&outcome);
	out->switches = text_take(&switches);
	out->machine = r->profile->name;
	out->job = r->job;
	out->revision = r->revision;
	out->branches = r->proved && r->result.branches;
	out->channels = r->profile->channels;
	for (size_t c = 0; c < out->channels; c++) {
		out->name[c] = lane_name(r, (int)c);
		out->file[c] = r->lane[c].program ? r->lane[c].program->file : NULL;
	}
	for (size_t i = 0; i < n && i < YOKE_CHANNELS_MAX; i++)
		out->near[out->nears++].ask = asks[i];
	if (out->outcome && out->switches && fill(r, out))
		return out;
	restart_free(out);
	return NULL;
}

void restart_free(struct restart *r)
{
	if (!r)
		return;
	free(r->outcome);
	free(r->switches);
	free(r->segment);
	free(r->place);
	free(r);
}

int restart_nearest(const struct restart *r)
{
	int best = -1;

	for (size_t i = 0; i < r->nears; i++)
		if (r->near[i].found && r->near[i].pair &&
		    (best < 0 || r->near[i].segment < r->near[best].segment))
			best = (int)i;
	return best;
}
