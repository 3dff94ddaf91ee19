#include "ladder_json.h"

#include <string.h>
#include "report_json.h"

#define CAUTION                                                                                    \
	"Agreement of wait codes does not prove that tools cannot meet: prove out every new, "     \
	"changed or restored pair at the machine."

static const char *kind_name(enum pair_rung_kind k)
{
	static const char *const names[] = {[PAIR_RUNG_MEETING] = "meeting",
	    [PAIR_RUNG_SIGNAL] = "signal",
	    [PAIR_RUNG_ENDED] = "ended",
	    [PAIR_RUNG_FAILED] = "failed",
	    [PAIR_RUNG_LOST] = "lost"};

	return names[k];
}

static json_t *stop_json(const struct pair_stop *s)
{
	const char *state = s->code[0]  ? "waits"
	                    : s->at_end ? "ended"
	                    : s->begins ? "begins again"
	                                : "unknown";

	return json_pack("{s:s, s:b, s:s, s:o, s:I, s:I, s:o}", "state", state, "goes",
	    (int)s->goes, "code", s->code, "file", report_json_string(s->file ? s->file : ""),
	    "line", (json_int_t)s->line, "col", (json_int_t)s->col, "sequence",
	    s->sequence < 0 || !s->line ? json_null() : json_integer(s->sequence));
}

static const struct timeline_rung *when(const struct timeline *t, uint64_t number)
{
	for (size_t i = 0; t && i < t->rungs; i++)
		if (t->rung[i].number == number)
			return &t->rung[i];
	return NULL;
}

static json_t *rung_json(
    const struct profile *p, const struct pair_rung *rung, const struct timeline *t)
{
	const struct timeline_rung *at = when(t, rung->number);
	json_t *channels = json_array();

	for (uint32_t c = 0; channels && c < p->channels; c++)
		json_array_append_new(channels, stop_json(&rung->channel[c]));
	return json_pack("{s:I, s:s, s:I, s:o, s:o}", "number", (json_int_t)rung->number, "kind",
	    kind_name(rung->kind), "repeat", (json_int_t)rung->repeat, "at_seconds",
	    at ? json_real(at->at_seconds) : json_null(), "channels", channels);
}

static json_t *rungs_json(
    const struct profile *p, const struct pair_report *r, const struct timeline *t)
{
	json_t *list = json_array();
	struct pair_rung rung;

	for (size_t i = 0; list && i < pair_rungs(r); i++) {
		pair_rung(r, i, &rung);
		if (json_array_append_new(list, rung_json(p, &rung, t)) < 0) {
			json_decref(list);
			return NULL;
		}
	}
	return list;
}

static json_t *left_json(const struct timeline_work *w)
{
	json_t *left = json_object();

	for (int k = 0; left && k < TIMELINE_LEFTS; k++)
		if (w->left[k])
			json_object_set_new(left, timeline_left_words((enum timeline_left)k),
			    json_integer((json_int_t)w->left[k]));
	return left;
}

static json_t *part_json(const struct profile *p, const struct timeline_part *q)
{
	json_t *tools = json_array();
	json_t *part;

	for (size_t i = 0; tools && i < q->tools; i++)
		json_array_append_new(tools, json_integer(q->tool[i]));
	part = json_pack("{s:o, s:o, s:o, s:I, s:I, s:I, s:o, s:o, s:s}", "channel",
	    report_json_string(p->channel[q->channel].name), "from",
	    q->from_start ? json_null() : json_integer((json_int_t)q->first), "to",
	    q->to_end ? json_null() : json_integer((json_int_t)q->last), "first_line",
	    (json_int_t)q->first_line, "last_line", (json_int_t)q->last_line, "blocks",
	    (json_int_t)q->work.blocks, "tools", tools, "comment", report_json_string(q->comment),
	    "spindle", q->spindle);
	if (!part)
		return NULL;
	json_object_set_new(part, "seconds", json_real(q->seconds));
	json_object_set_new(part, "feed_seconds", json_real(q->work.feed_seconds));
	json_object_set_new(part, "rapid_seconds", json_real(q->work.rapid_seconds));
	json_object_set_new(part, "dwell_seconds", json_real(q->work.dwell_seconds));
	json_object_set_new(part, "tool_seconds", json_real(q->work.tool_seconds));
	json_object_set_new(part, "wait_seconds", json_real(q->wait_seconds));
	json_object_set_new(part, "critical", json_boolean(q->critical));
	json_object_set_new(part, "gain_seconds", json_real(q->gain_seconds));
	json_object_set_new(part, "left_out", left_json(&q->work));
	return part;
}

static json_t *parts_json(const struct profile *p, const struct timeline *t)
{
	json_t *list = json_array();

	for (size_t i = 0; list && t && i < t->parts; i++) {
		if (json_array_append_new(list, part_json(p, &t->part[i])) < 0) {
			json_decref(list);
			return NULL;
		}
	}
	return list;
}

static json_t *channel_json(const char *name, const struct timeline_channel *c)
{
	json_t *channel = json_pack("{s:o, s:o, s:o, s:o}", "name", report_json_string(name),
	    "present", c ? json_boolean(c->present) : json_null(), "work_seconds",
	    c ? json_real(c->work_seconds) : json_null(), "wait_seconds",
	    c ? json_real(c->wait_seconds) : json_null());

	if (channel && c)
		json_object_set_new(channel, "left_out", left_json(&c->work));
	return channel;
}

static json_t *channels_json(const struct profile *p, const struct timeline *t)
{
	json_t *list = json_array();

	for (uint32_t c = 0; list && c < p->channels; c++)
		json_array_append_new(
		    list, channel_json(p->channel[c].name, t ? &t->channel[c] : NULL));
	return list;
}

static const char *end_name(enum timeline_end end)
{
	static const char *const names[] = {[TIMELINE_WHOLE] = "the end",
	    [TIMELINE_STUCK] = "where channels stand for ever",
	    [TIMELINE_LOST] = "where a channel is not followed"};

	return names[end];
}

static json_t *lines_json(const struct text *drawing)
{
	json_t *lines = json_array();
	const char *s = drawing->s, *end;

	for (; lines && s && *s; s = end + (*end != '\0')) {
		end = strchrnul(s, '\n');
		json_array_append_new(lines, json_stringn(s, (size_t)(end - s)));
	}
	return lines;
}

json_t *ladder_json(const struct profile *profile, const struct pair_report *report,
    const struct timeline *timeline, const struct text *drawing)
{
	json_t *o = json_pack("{s:s, s:o, s:o, s:I, s:o, s:o, s:o, s:o, s:s, s:s, s:o}", "verdict",
	    pair_verdict_name(pair_verdict(report)), "job", report_json_string(pair_job(report)),
	    "revision", report_json_string(pair_revision(report)), "meetings",
	    (json_int_t)pair_meetings(report), "channels", channels_json(profile, timeline),
	    "rungs", rungs_json(profile, report, timeline), "parts", parts_json(profile, timeline),
	    "cycle_seconds", timeline ? json_real(timeline->cycle_seconds) : json_null(),
	    "times_are", timeline_estimate_words(), "caution", CAUTION, "ladder",
	    lines_json(drawing));

	if (!o || !timeline)
		return o;
	json_object_set_new(o, "times_up_to", json_string(end_name(timeline->end)));
	json_object_set_new(o, "branches", json_boolean(timeline->branches));
	json_object_set_new(o, "critical_known", json_boolean(timeline->critical_known));
	return o;
}
