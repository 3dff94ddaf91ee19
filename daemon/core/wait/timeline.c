/* The traces of all channels, run in step: each to its next stop, then whoever may go on. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "timeline_inside.h"

/* One channel of the result. */
struct lane {
	struct trace *trace;
	struct timeline_way way;
	bool assumed;           /* a condition was not known, and taken as false */
	enum trace_kind stands; /* STOP, END, ROUND or LOST */
	const struct wait_code *code;
	const char *why;
	double clock;   /* when it was at its last rung */
	uint64_t begun; /* number of that rung */
	uint64_t blocks, blocks_max;
};

struct run {
	const struct wait_timeline *w;
	struct timeline *out;
	struct lane lane[YOKE_CHANNELS_MAX];
	int index[YOKE_CHANNELS_MAX]; /* of each machine channel in the result, -1 */
	struct wait_signals signals;
	struct timeline_signals sent;
	struct timeline_path path;
	struct timeline_keep keep;
};

/* To the next stop. False without memory. A loop whose motion goes on for ever is left at last. */
static bool advance(struct lane *l)
{
	struct trace_step step;

	l->code = NULL;
	for (;;) {
		if (trace_next(l->trace, &step) != 0)
			return false;
		timeline_part_step(&l->way, &step);
		if (step.kind != TRACE_BLOCK)
			break;
		if (l->blocks++ == l->blocks_max) {
			step.kind = TRACE_LOST;
			step.why = "more blocks than are followed";
			break;
		}
	}
	l->stands = step.kind;
	l->assumed = step.assumed;
	if (step.kind == TRACE_STOP)
		l->code = step.code;
	else
		l->why = step.why;
	return true;
}

/* A rung that only the channels in goes (by index) come to; seconds of the parts before it. */
struct arrival {
	uint32_t goes;
	double at;
	size_t after;
	bool meets, end;
};

static void arrive(
    struct run *r, const struct arrival *a, struct timeline_kept *kept, struct timeline_node *node)
{
	for (size_t i = 0; i < r->w->n; i++) {
		struct lane *l = &r->lane[i];
		struct timeline_part *part = &kept->part[kept->parts];
		struct timeline_channel *channel;

		if (!(a->goes >> i & 1))
			continue;
		timeline_part_next(&l->way, part);
		part->to_end = a->end;
		part->first = l->begun;
		part->last = r->out->rungs_run;
		part->start_seconds = l->clock;
		node->seconds[i] = part->seconds;
		part->wait_seconds = fmax(0, a->at - l->clock - part->seconds);
		channel = &r->out->channel[part->channel];
		timeline_part_sum(&channel->work, &part->work);
		channel->work_seconds += part->seconds;
		channel->wait_seconds += part->wait_seconds;
		channel->end_seconds = l->clock + part->seconds;
		kept->rung.goes |= 1u << part->channel;
		kept->rung.wait_seconds[part->channel] = part->wait_seconds;
		l->clock = a->at;
		l->begun = r->out->rungs_run;
		kept->parts++;
	}
}

/* False without memory. */
static bool rung(struct run *r, const struct arrival *a, const struct wait_code *code)
{
	struct timeline_node node = {.goes = a->goes, .after = a->after};
	struct timeline_kept kept = {
	    .rung = {.number = r->out->rungs_run, .meets = a->meets, .at_seconds = a->at}};

	if (code) {
		kept.rung.code = code->code;
		kept.rung.call = code->call;
	}
	arrive(r, a, &kept, &node);
	if (!timeline_path_add(&r->path, &node) || !timeline_keep_add(&r->keep, &kept, r->out))
		return false;
	r->out->rungs_run++;
	return true;
}

/* The latest of the channels in goes. */
static double latest(const struct run *r, uint32_t goes)
{
	double at = 0;

	for (size_t i = 0; i < r->w->n; i++)
		if (goes >> i & 1)
			at = fmax(at,
			    r->lane[i].clock + timeline_part_seconds(&r->lane[i].way.part.work));
	return at;
}

/* Those that can go on together do. 1; 0 when nobody can; -1 without memory. */
static int together(struct run *r)
{
	const struct wait_code *code[YOKE_CHANNELS_MAX] = {NULL}, *first = NULL;
	struct wait_signals before = r->signals;
	struct arrival a = {.after = TIMELINE_NO_RUNG, .meets = true};
	struct timeline_sent sent, used = {0};
	bool waited;

	for (size_t i = 0; i < r->w->n; i++)
		code[i] = r->lane[i].code;
	a.goes = wait_meet(r->w->profile, code, r->w->n, r->w->number, &r->signals);
	if (!a.goes)
		return 0;
	a.at = latest(r, a.goes);
	sent = (struct timeline_sent){.at_seconds = a.at, .rung = r->path.n};
	if (!timeline_signal_change(&r->sent, &before, &r->signals, &sent, &used, &waited))
		return -1;
	if (waited) {
		a.at = fmax(a.at, used.at_seconds);
		a.after = r->path.over ? TIMELINE_NO_RUNG : used.rung;
	}
	for (size_t i = 0; i < r->w->n && !first; i++)
		if (a.goes >> i & 1)
			first = code[i];
	if (!rung(r, &a, first))
		return -1;
	for (size_t i = 0; i < r->w->n; i++)
		if (a.goes >> i & 1 && !advance(&r->lane[i]))
			return -1;
	return 1;
}

/* Nobody goes on: how the run ends. */
static enum timeline_end ending(const struct run *r, const char **why)
{
	bool stops = false, round = false;

	*why = NULL;
	for (size_t i = 0; i < r->w->n; i++) {
		const struct lane *l = &r->lane[i];

		stops |= l->stands == TRACE_STOP;
		round |= l->stands == TRACE_ROUND;
		if (l->stands != TRACE_LOST)
			continue;
		*why = l->why;
		return TIMELINE_LOST;
	}
	if (stops && round) {
		*why = "a program begins again before the others have ended";
		return TIMELINE_LOST;
	}
	return stops ? TIMELINE_STUCK : TIMELINE_WHOLE;
}

/* False without memory. */
static bool finish(struct run *r)
{
	struct timeline *out = r->out;
	struct arrival a = {.after = TIMELINE_NO_RUNG, .end = true};

	out->end = ending(r, &out->why);
	for (size_t i = 0; i < r->w->n; i++)
		out->branches |= r->lane[i].assumed;
	a.goes = (1u << r->w->n) - 1;
	a.at = latest(r, a.goes);
	a.meets = out->end == TIMELINE_WHOLE;
	if (!rung(r, &a, NULL) || !timeline_keep_finish(&r->keep, out))
		return false;
	for (size_t i = 0; out->end != TIMELINE_WHOLE && i < out->parts; i++)
		if (out->part[i].to_end)
			out->part[i].to_end =
			    r->lane[r->index[out->part[i].channel]].stands != TRACE_STOP;
	out->cycle_seconds = a.at;
	out->critical_known = out->end == TIMELINE_WHOLE && !r->path.over;
	return !out->critical_known || timeline_path_mark(&r->path, r->index, out);
}

/* The channel's text and those of its sisters. False without memory. */
static bool follow(const struct wait_timeline *w, size_t i, struct lane *l)
{
	l->trace = trace_new(w->flow[i], w->text[i].bytes, w->text[i].size, &w->result->run[i]);
	if (!l->trace)
		return false;
	for (size_t k = 0; k < w->sisters[i]; k++) {
		const struct wait_timeline_text *t = &w->sister[i][k];

		if (t->bytes && trace_sister(l->trace, (uint32_t)k + 1, t->bytes, t->size, t->name))
			return false;
	}
	return true;
}

/* False without memory. */
static bool begin(struct run *r)
{
	const struct wait_timeline *w = r->w;
	struct timeline *out = r->out;

	out->channels = w->profile->channels;
	out->branches = w->result->branches;
	for (size_t c = 0; c < out->channels; c++) {
		out->channel[c].name = w->profile->channel[c].name;
		r->index[c] = -1;
	}
	for (size_t i = 0; i < w->n; i++) {
		struct lane *l = &r->lane[i];
		int c = w->number[i];

		r->index[c] = (int)i;
		out->channel[c].present = true;
		out->channel[c].on = w->result->run[i].on;
		timeline_part_begin(&l->way, w->profile, c, w->text[i].name);
		l->blocks_max = w->profile->run_max + w->text[i].size;
		if (!follow(w, i, l) || !advance(l))
			return false;
	}
	return true;
}

int wait_timeline(const struct wait_timeline *w, struct timeline *out)
{
	struct run *r = calloc(1, sizeof(*r));
	int went = -1;

	if (!r)
		return -1;
	r->w = w;
	r->out = out;
	if (begin(r))
		do
			went = together(r);
		while (went > 0);
	if (went == 0 && !finish(r))
		went = -1;
	for (size_t i = 0; i < w->n; i++)
		trace_free(r->lane[i].trace);
	timeline_signal_free(&r->sent);
	timeline_path_free(&r->path);
	timeline_keep_free(&r->keep);
	free(r);
	if (went < 0)
		wait_timeline_free(out);
	return went;
}

void wait_timeline_free(struct timeline *t)
{
	free(t->rung);
	free(t->part);
	memset(t, 0, sizeof(*t));
}
