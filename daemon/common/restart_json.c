#include "restart_json.h"

#include <inttypes.h>
#include <stdio.h>
#include "report_json.h"
#include "setup_json.h"

static const char not_known[] = "not known";

static json_t *append(json_t *list, json_t *value)
{
	if (list && json_array_append_new(list, value) == 0)
		return list;
	json_decref(list);
	return NULL;
}

static json_t *word(const struct restart_word *w)
{
	if (!w->programmed)
		return json_null();
	return w->known ? json_real(w->v) : json_string(not_known);
}

/* "G54", "G54.1" of a code in tenths. */
static json_t *g_code(int code)
{
	char s[16];

	if (code < 0)
		return code == -1 ? json_null() : json_string(not_known);
	snprintf(s, sizeof(s), code % 10 ? "G%d.%d" : "G%d", code / 10, code % 10);
	return json_string(s);
}

static json_t *spindle(int code)
{
	char s[16];

	if (code < 0)
		return code == -1 ? json_null() : json_string(not_known);
	snprintf(s, sizeof(s), "M%02d", code);
	return json_string(s);
}

static json_t *on(int state)
{
	if (state < 0)
		return state == -1 ? json_null() : json_string(not_known);
	return json_boolean(state);
}

static json_t *axes(const struct restart_state *s)
{
	json_t *o = json_object();

	for (int i = 0; o && i < SETUP_AXES; i++) {
		const struct restart_axis *a = &s->axis[i];
		const char name[] = {"XYZABC"[i], '\0'};

		if (a->known)
			json_object_set_new(o, name,
			    json_pack("{s:f, s:b}", "at", a->v * (i == 0 && s->diameter ? 2 : 1),
			        "shifted", (int)a->shifted));
	}
	return o;
}

static json_t *codes(const struct restart_state *s)
{
	json_t *list = json_array();

	for (size_t i = 0; list && i < s->codes; i++)
		list =
		    append(list, json_pack("{s:I, s:o, s:o}", "code", (json_int_t)s->code[i].code,
		                     "group", report_json_string(s->code[i].group), "meaning",
		                     report_json_string(s->code[i].text)));
	return list;
}

static json_t *state(const struct restart_state *s)
{
	json_t *o = json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "tool",
	    word(&s->tool), "tool_next", word(&s->tool_next), "offset", word(&s->offset), "h",
	    word(&s->h), "d", word(&s->d), "work_offset_p", word(&s->work_offset_p), "feed",
	    word(&s->feed), "speed", word(&s->speed), "clamp", word(&s->clamp));
	json_t *modes = json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "work_offset",
	    g_code(s->work_offset), "length_offset", g_code(s->length_offset), "plane",
	    g_code(s->plane), "units", g_code(s->units), "distance", g_code(s->distance), "motion",
	    g_code(s->motion), "compensation", g_code(s->compensation), "feed_mode",
	    g_code(s->feed_mode), "speed_mode", g_code(s->speed_mode));
	json_t *rest = json_pack("{s:o, s:o, s:o, s:o, s:o, s:b, s:b}", "spindle",
	    spindle(s->spindle), "mist", on(s->mist), "flood", on(s->flood), "axes", axes(s),
	    "codes", codes(s), "variables", (int)s->variables, "origin", (int)s->origin);
	bool whole = o && modes && rest && json_object_update(o, modes) == 0 &&
	             json_object_update(o, rest) == 0;

	json_decref(modes);
	json_decref(rest);
	if (whole)
		return o;
	json_decref(o);
	return NULL;
}

static json_t *place(const struct restart *r, const struct restart_place *p)
{
	static const char *const kind[] = {[RESTART_START] = "start",
	    [RESTART_RUNG] = "behind wait code",
	    [RESTART_TOOL] = "tool change"};

	return json_pack("{s:o, s:s, s:o, s:I, s:o, s:I, s:I, s:o, s:o, s:b, s:o}", "channel",
	    report_json_string(r->name[p->channel]), "kind", kind[p->kind], "file",
	    report_json_string(p->at.file), "line", (json_int_t)p->at.line, "sequence",
	    p->at.sequence < 0 ? json_null() : json_integer(p->at.sequence), "first_segment",
	    (json_int_t)p->first, "last_segment", (json_int_t)p->last, "behind",
	    report_json_string(p->behind), "comment", report_json_string(p->comment), "repeats",
	    (int)p->repeats, "state", state(&p->state));
}

static json_t *segment(const struct restart *r, const struct restart_segment *g)
{
	json_t *list = json_array();

	for (size_t c = 0; list && c < r->channels; c++)
		if (r->file[c])
			list = append(
			    list, json_pack("{s:o, s:b, s:s}", "channel",
			              report_json_string(r->name[c]), "place", (int)g->has[c],
			              "why_not", g->unfit[c] ? g->unfit[c] : ""));
	return json_pack("{s:I, s:o, s:b, s:o}", "segment", (json_int_t)g->number, "behind",
	    report_json_string(g->behind), "signals", (int)g->signals, "channels", list);
}

static json_t *near(const struct restart *r, const struct restart_near *n)
{
	json_t *list = json_array();
	char asked[32];

	snprintf(asked, sizeof(asked), n->ask.line ? "line %" PRIu64 : "N%" PRIu64, n->ask.value);
	for (size_t c = 0; list && n->pair && c < r->channels; c++)
		if (n->has[c])
			list = append(list, place(r, &n->place[c]));
	return json_pack("{s:o, s:s, s:b, s:o, s:I, s:b, s:I, s:I, s:s, s:o, s:o}", "channel",
	    report_json_string(r->name[n->ask.channel]), "asked", asked, "found", (int)n->found,
	    "at", setup_json_place(&n->at), "times", (json_int_t)n->times, "elsewhere",
	    (int)n->elsewhere, "first_segment", (json_int_t)n->first, "last_segment",
	    (json_int_t)n->last, "why_not", n->unfit ? n->unfit : "", "segment",
	    n->pair ? json_integer((json_int_t)n->segment) : json_null(), "places", list);
}

/* A list of one kind of entry. */
#define LIST(o, name, n, entry)                                                                    \
	do {                                                                                       \
		json_t *list = json_array();                                                       \
		for (size_t i = 0; list && i < (n); i++)                                           \
			list = append(list, entry);                                                \
		failed |= json_object_set_new(o, name, list) < 0;                                  \
	} while (0)

json_t *restart_json(const struct restart *r)
{
	static const char *const followed[] = {[RESTART_WHOLE] = "whole",
	    [RESTART_STUCK] = "stands for ever",
	    [RESTART_LOST] = "in part"};
	json_t *o = json_pack("{s:o, s:o, s:o, s:o, s:o, s:s, s:s, s:b, s:I, s:I, s:b}", "machine",
	    report_json_string(r->machine), "job", report_json_string(r->job), "revision",
	    report_json_string(r->revision), "outcome", report_json_string(r->outcome), "switches",
	    report_json_string(r->switches), "followed", followed[r->end], "why",
	    r->why ? r->why : "", "branches", (int)r->branches, "more_segments",
	    (json_int_t)r->segments_more, "more_places", (json_int_t)r->places_more, "dangerous",
	    (int)r->dangerous);
	bool failed = !o;
	size_t cautions = 0;

	while (restart_cautions[cautions])
		cautions++;
	LIST(o, "segments", r->segments, segment(r, &r->segment[i]));
	LIST(o, "places", r->places, place(r, &r->place[i]));
	LIST(o, "near", r->nears, near(r, &r->near[i]));
	LIST(o, "cautions", cautions, json_string(restart_cautions[i]));
	if (!failed)
		return o;
	json_decref(o);
	return NULL;
}
