#include "setup_json.h"

#include <stdio.h>
#include "report_json.h"

json_t *setup_json_place(const struct setup_place *p)
{
	if (!p->line)
		return json_null();
	return json_pack("{s:o, s:I, s:o}", "file", report_json_string(p->file ? p->file : ""),
	    "line", (json_int_t)p->line, "sequence",
	    p->sequence < 0 ? json_null() : json_integer(p->sequence));
}

static json_t *count(uint64_t n, const struct setup_place *first)
{
	return json_pack("{s:I, s:o}", "count", (json_int_t)n, "first", setup_json_place(first));
}

static json_t *most(const struct setup_most *m)
{
	if (!m->seen)
		return json_null();
	return json_pack("{s:f, s:o}", "value", m->v, "at", setup_json_place(&m->at));
}

/* Appends; frees the list and gives NULL when it cannot. */
static json_t *append(json_t *list, json_t *value)
{
	if (list && json_array_append_new(list, value) == 0)
		return list;
	json_decref(list);
	return NULL;
}

static json_t *offsets(const struct setup_tool *t)
{
	json_t *list = json_array();
	char s[16];

	for (size_t i = 0; list && i < t->offsets; i++) {
		const struct setup_offset *o = &t->offset[i];

		if (o->letter == 'T')
			snprintf(s, sizeof(s), "%u", (unsigned)o->number);
		else
			snprintf(s, sizeof(s), "%c%u", o->letter, (unsigned)o->number);
		list = append(list, json_string(s));
	}
	return list;
}

static json_t *tool(const struct setup_tool *t)
{
	json_t *comments = json_array();

	for (size_t i = 0; comments && i < t->comments; i++)
		comments = append(comments, report_json_string(t->comment[i]));
	return json_pack("{s:o, s:o, s:I, s:o, s:I, s:o, s:I}", "tool",
	    t->known ? json_integer(t->number) : json_null(), "offsets", offsets(t), "more_offsets",
	    (json_int_t)t->offsets_more, "first", setup_json_place(&t->first), "changes",
	    (json_int_t)t->changes, "comments", comments, "more_comments",
	    (json_int_t)t->comments_more);
}

static json_t *axes(const struct setup_work *w, bool diameter)
{
	json_t *list = json_array();

	for (int i = 0; list && i < SETUP_AXES; i++) {
		const struct setup_extent *e = &w->axis[i];
		double scale = i == 0 && diameter ? 2 : 1;

		if (e->seen)
			list = append(list,
			    json_pack("{s:s#, s:f, s:o, s:f, s:o}", "axis", &"XYZABC"[i], 1, "low",
			        e->low * scale, "low_at", setup_json_place(&e->low_at), "high",
			        e->high * scale, "high_at", setup_json_place(&e->high_at)));
	}
	return list;
}

static json_t *work(const struct setup_work *w, bool diameter)
{
	char name[SETUP_NAME_MAX];

	return json_pack("{s:s, s:o, s:I, s:o}", "work_offset", setup_work_name(w, name), "first",
	    setup_json_place(&w->first), "moves", (json_int_t)w->moves, "axes", axes(w, diameter));
}

static json_t *stop(const struct setup_stop *s)
{
	return json_pack("{s:s, s:i, s:o, s:I, s:o}", "stop", s->optional ? "M01" : "M00", "skip",
	    (int)s->skip, "at", setup_json_place(&s->at), "times", (json_int_t)s->times, "comment",
	    report_json_string(s->comment));
}

static json_t *code(const struct setup_code *c)
{
	return json_pack("{s:I, s:o, s:o, s:b, s:I, s:o, s:o}", "code", (json_int_t)c->code,
	    "group", report_json_string(c->group), "meaning", report_json_string(c->text),
	    "of_machine", (int)c->of_machine, "times", (json_int_t)c->times, "first",
	    setup_json_place(&c->first), "last", setup_json_place(&c->last));
}

static json_t *program(const struct setup_number *n)
{
	static const char *const kind[] = {[SETUP_NUMBER_MAIN] = "main",
	    [SETUP_NUMBER_HERE] = "subprogram",
	    [SETUP_NUMBER_RESIDENT] = "in the control",
	    [SETUP_NUMBER_MISSING] = "missing"};

	return json_pack("{s:o, s:o, s:s, s:o, s:I, s:o}", "number",
	    n->name[0] ? json_null() : json_integer(n->number), "name",
	    n->name[0] ? report_json_string(n->name) : json_null(), "kind", kind[n->kind], "at",
	    setup_json_place(&n->at), "calls", (json_int_t)n->calls, "first_call",
	    setup_json_place(&n->called));
}

static json_t *skips(const struct setup_channel *c)
{
	json_t *list = json_array();

	for (int k = 1; list && k < SETUP_SKIPS; k++)
		if (c->skip[k].blocks)
			list = append(list, json_pack("{s:i, s:I, s:o}", "level", k, "blocks",
			                        (json_int_t)c->skip[k].blocks, "first",
			                        setup_json_place(&c->skip[k].first)));
	return list;
}

/* A list of one kind of entry. */
#define LIST(o, name, n, entry)                                                                    \
	do {                                                                                       \
		json_t *list = json_array();                                                       \
		for (size_t i = 0; list && i < (n); i++)                                           \
			list = append(list, entry);                                                \
		failed |= json_object_set_new(o, name, list) < 0;                                  \
	} while (0)

static json_t *left_out(const struct setup_channel *c)
{
	return json_pack("{s:o, s:o, s:o, s:o, s:I}", "moves",
	    count(c->moves_unknown, &c->move_unknown), "cycles", count(c->cycles, &c->cycle),
	    "references", count(c->references, &c->reference), "calls",
	    count(c->not_entered, &c->call_not_entered), "speeds", (json_int_t)c->speeds_unknown);
}

static json_t *channel(const struct setup_channel *c)
{
	static const char *const followed[] = {
	    [SETUP_WHOLE] = "whole", [SETUP_LOST] = "in part", [SETUP_UNREAD] = "not at all"};
	json_t *o = json_pack("{s:o, s:o, s:s, s:s, s:o, s:I, s:I, s:b}", "channel",
	    report_json_string(c->name), "file",
	    c->file ? report_json_string(c->file) : json_null(), "followed",
	    followed[c->present ? c->end : SETUP_UNREAD], "why",
	    c->why        ? c->why
	    : !c->present ? "its program is missing"
	                  : "",
	    "lost_at", setup_json_place(&c->lost_at), "blocks", (json_int_t)c->blocks, "waits",
	    (json_int_t)c->waits, "diameter", (int)c->diameter);
	bool failed = !o;

	LIST(o, "tools", c->tools, tool(&c->tool[i]));
	failed |=
	    json_object_set_new(o, "tools_waiting", count(c->tools_waiting, &c->tool_waiting)) < 0;
	LIST(o, "work_offsets", c->works, work(&c->work[i], c->diameter));
	LIST(o, "stops", c->stops, stop(&c->stop[i]));
	LIST(o, "codes", c->codes, code(&c->code[i]));
	LIST(o, "programs", c->numbers, program(&c->number[i]));
	failed |= json_object_set_new(o, "inches", json_boolean(c->inches)) < 0;
	failed |= json_object_set_new(o, "speed", most(&c->speed)) < 0;
	failed |= json_object_set_new(o, "surface_speed", most(&c->surface)) < 0;
	failed |= json_object_set_new(o, "clamp", most(&c->clamp)) < 0;
	failed |= json_object_set_new(o, "unclamped", most(&c->unclamped)) < 0;
	failed |= json_object_set_new(o, "skips", skips(c)) < 0;
	failed |= json_object_set_new(o, "left_out", left_out(c)) < 0;
	failed |= json_object_set_new(o, "not_listed",
	              json_pack("{s:I, s:I, s:I, s:I, s:I}", "tools", (json_int_t)c->tools_more,
	                  "work_offsets", (json_int_t)c->works_more, "stops",
	                  (json_int_t)c->stops_more, "codes", (json_int_t)c->codes_more, "programs",
	                  (json_int_t)c->numbers_more)) < 0;
	if (!failed)
		return o;
	json_decref(o);
	return NULL;
}

static json_t *strings(const char *const *s)
{
	json_t *list = json_array();

	for (; list && *s; s++)
		list = append(list, json_string(*s));
	return list;
}

json_t *setup_json(const struct setup *s)
{
	json_t *channels = json_array();

	for (size_t c = 0; channels && c < s->channels; c++)
		channels = append(channels, channel(&s->channel[c]));
	return json_pack("{s:o, s:o, s:o, s:o, s:b, s:o, s:o, s:o}", "machine",
	    report_json_string(s->machine), "job", report_json_string(s->job), "revision",
	    report_json_string(s->revision), "outcome", report_json_string(s->outcome), "branches",
	    (int)s->branches, "channels", channels, "cautions", strings(setup_cautions),
	    "computed_from", strings(setup_limits));
}
