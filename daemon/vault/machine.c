/*
 * 1. A machine's row keeps its last certain content. Only carried, loaded, adopted and split change it.
 * 2. A step makes the machine unsure; so does unknown. Not the step "feed": what is executed while
 *    it is read is stored nowhere, and such an order leaves the machine as it was at each end.
 * 3. Unsure ends with carried, loaded or split; with kept or cancelled when it was sure before the
 *    order; with kept after an inspection, with fetched or with read-back, when these name the
 *    very programs of the certain content. Everything else leaves it unsure.
 *
 *   nothing --carried--> loaded <--carried-- split      set_content
 *   any of these --loaded--> loaded                     loaded
 *   loaded, drifted --adopted--> loaded                 adopted
 *   any of these --step, unknown--> unsure              doubt
 *   unsure --carried, loaded, split--> loaded, split    set_content
 *   unsure --kept, cancelled, fed--> as before          as_before
 *   unsure --kept (inspect)--> as before the doubt      machine_carry
 *   unsure --fetched, read-back--> loaded               fetched, read_back
 */
#include <string.h>
#include "machine.h"
#include "parts.h"

static bool is_proven(const struct vault_machine *m)
{
	return m->has_good && parts_same(m->part, m->parts, m->good, m->goods);
}

static void settle(struct state_machine *s)
{
	s->unsure = s->unsure_before = false;
	s->tolds = 0;
	memset(s->told, 0, sizeof(s->told));
	s->unsure_us = 0;
	memset(s->unsure_by, 0, sizeof(s->unsure_by));
}

/* Content that the event names, certain from now on. */
static void set_content(struct state_machine *s, enum vault_content content, const struct event *e,
    const char *asked_by)
{
	struct vault_machine *m = &s->m;

	settle(s);
	m->content = content;
	db_cut(m->job, sizeof(m->job), content == VAULT_LOADED ? e->job : "");
	db_cut(m->revision, sizeof(m->revision), content == VAULT_LOADED ? e->revision : "");
	m->parts = parts_after(m->part, e->part, e->parts);
	m->read_back = m->drift = false;
	m->proven = content == VAULT_LOADED && is_proven(m);
	m->since_us = e->utc_us;
	db_cut(m->by, sizeof(m->by), asked_by);
}

/* Believe of each channel what the event says that it holds, and leave the others. */
static void believe(struct state_machine *s, const struct event *e)
{
	for (uint32_t i = 0; i < e->parts; i++) {
		uint32_t k = 0;

		if (!e->part[i].has_after)
			continue;
		while (k < s->tolds && strcmp(s->told[k].channel, e->part[i].channel) != 0)
			k++;
		if (k == YOKE_CHANNELS_MAX)
			continue;
		if (k == s->tolds)
			s->tolds++;
		memcpy(s->told[k].channel, e->part[i].channel, sizeof(s->told[k].channel));
		s->told[k].present = true;
		s->told[k].sha = e->part[i].after;
	}
}

static void doubt(struct state_machine *s, const struct event *e, const char *asked_by)
{
	if (!s->unsure) {
		s->unsure = true;
		s->unsure_us = e->utc_us;
		db_cut(s->unsure_by, sizeof(s->unsure_by), asked_by);
		memcpy(s->told, s->m.part, sizeof(s->told));
		s->tolds = s->m.parts;
	}
	if (e->kind == EVENT_UNKNOWN)
		believe(s, e);
}

/* The order changed nothing: it is as sure or unsure as it was when the order began. */
static void as_before(struct state_machine *s, const struct vault_order *o)
{
	if (o->id != 0 && s->m.order == o->id && !s->unsure_before)
		settle(s);
}

bool machine_has_evidence(
    const struct state_machine *s, const struct vault_order *o, const struct event *e)
{
	struct vault_part seen[YOKE_CHANNELS_MAX];
	uint32_t n = parts_after(seen, e->part, e->parts);

	return strcmp(o->act, "inspect") == 0 && parts_same(seen, n, s->m.part, s->m.parts);
}

static void equal(struct state_machine *s)
{
	s->m.read_back = true;
	s->m.drift = false;
	s->m.proven = is_proven(&s->m);
}

static void fetched(struct state_machine *s, const struct vault_order *o, const struct event *e)
{
	struct vault_part got[YOKE_CHANNELS_MAX];
	uint32_t n = parts_after(got, e->part, e->parts);

	as_before(s, o);
	if (s->m.content == VAULT_LOADED && parts_same(got, n, s->m.part, s->m.parts)) {
		settle(s);
		equal(s);
	} else if (s->unsure) {
		believe(s, e);
	}
}

/* Compared and equal; for an unsure machine that counts when it was the certain content that it was
 * compared with. */
static void read_back(struct state_machine *s, const struct event *e)
{
	struct vault_part with[YOKE_CHANNELS_MAX] = {0};

	if (s->m.content != VAULT_LOADED)
		return;
	for (uint32_t i = 0; s->unsure && i < e->parts; i++) {
		memcpy(with[i].channel, e->part[i].channel, sizeof(with[i].channel));
		with[i].present = e->part[i].has_before;
		with[i].sha = e->part[i].before;
	}
	if (s->unsure && !parts_same(with, e->parts, s->m.part, s->m.parts))
		return;
	settle(s);
	equal(s);
}

/* What somebody said, or a stick showed; what is known for certain already stays as it is known. */
static void loaded(struct state_machine *s, const struct event *e)
{
	struct vault_part told[YOKE_CHANNELS_MAX];
	uint32_t n = parts_after(told, e->part, e->parts);

	if (s->unsure || s->m.content != VAULT_LOADED || s->m.drift ||
	    !parts_same(told, n, s->m.part, s->m.parts))
		set_content(s, VAULT_LOADED, e, e->who);
}

/* It holds what it holds, under a name of its own now. */
static void adopted(struct state_machine *s, const struct event *e)
{
	if (s->unsure || s->m.content != VAULT_LOADED || !s->m.drift)
		return;
	set_content(s, VAULT_LOADED, e, e->who);
	s->m.read_back = true;
}

static void unprove(struct vault_machine *m)
{
	m->proven = m->has_good = false;
	memset(m->good_job, 0, sizeof(m->good_job));
	memset(m->good_revision, 0, sizeof(m->good_revision));
	memset(m->good, 0, sizeof(m->good));
	m->goods = 0;
	m->good_us = 0;
	memset(m->good_by, 0, sizeof(m->good_by));
}

static void prove(struct vault_machine *m, const struct event *e)
{
	m->proven = m->has_good = true;
	memcpy(m->good_job, m->job, sizeof(m->good_job));
	memcpy(m->good_revision, m->revision, sizeof(m->good_revision));
	memcpy(m->good, m->part, sizeof(m->good));
	m->goods = m->parts;
	m->good_us = e->utc_us;
	db_cut(m->good_by, sizeof(m->good_by), e->who);
}

void machine_carry(struct state_machine *s, const struct vault_order *o, const struct event *e)
{
	const char *asked_by = o->id != 0 ? o->who : e->who;
	bool ends = true;

	switch (e->kind) {
	case EVENT_CARRYING:
		s->unsure_before = s->unsure;
		s->m.order = o->id;
		return;
	case EVENT_STEP:
		if (!e->outcome || strcmp(e->outcome, "feed") != 0)
			doubt(s, e, asked_by);
		return;
	case EVENT_CARRIED:
		set_content(s, VAULT_LOADED, e, asked_by);
		break;
	case EVENT_LOADED:
		loaded(s, e);
		ends = false;
		break;
	case EVENT_SPLIT:
		set_content(s, VAULT_SPLIT, e, asked_by);
		break;
	case EVENT_UNKNOWN:
		doubt(s, e, asked_by);
		break;
	case EVENT_KEPT:
		if (machine_has_evidence(s, o, e))
			settle(s);
		else
			as_before(s, o);
		break;
	case EVENT_CANCELLED:
		if (s->m.order != o->id) /* it never came to the machine */
			return;
		as_before(s, o);
		break;
	case EVENT_FETCHED:
		fetched(s, o, e);
		break;
	case EVENT_FED:
		as_before(s, o);
		break;
	case EVENT_READ_BACK:
		read_back(s, e);
		ends = false;
		break;
	case EVENT_ADOPTED:
		adopted(s, e);
		ends = false;
		break;
	case EVENT_DRIFT:
		s->m.drift = true;
		s->m.read_back = s->m.proven = false;
		ends = false;
		break;
	default:
		return;
	}
	db_cut(s->m.text, sizeof(s->m.text), e->text);
	if (ends && o->id != 0 && s->m.order == o->id)
		s->m.order = 0;
}

void machine_say(struct state_machine *s, const struct event *e)
{
	struct vault_machine *m = &s->m;

	switch (e->kind) {
	case EVENT_PROVEN:
		if (!s->unsure && m->content == VAULT_LOADED)
			prove(m, e);
		break;
	case EVENT_UNPROVEN:
		unprove(m);
		break;
	case EVENT_LOCKED:
	case EVENT_UNLOCKED:
		m->locked = e->kind == EVENT_LOCKED;
		db_cut(m->lock_text, sizeof(m->lock_text), m->locked ? e->text : "");
		break;
	case EVENT_OFFLINE:
		m->offline = true;
		break;
	case EVENT_ABANDONED:
		m->abandoned = true;
		break;
	case EVENT_ONLINE:
		m->offline = m->abandoned = false;
		break;
	default:
		break;
	}
}
