/*
 * What happens in the shop, as events. Each kind has a row of duties: what the caller must say, and
 * what is taken from the order or the machine when it is left out, so that each entry of the trail
 * can be read by itself. What the shop must never see is refused here, before anything is written;
 * fold.c takes every entry as it stands.
 */
#include "append.h"
#include "consent.h"
#include "parts.h"
#include "sealed.h"
#include "state.h"

enum duty {
	MACHINE = 1,  /* names a machine; when it names an order, that of this machine */
	JOB = 2,      /* names a job */
	ORDER = 4,    /* names an order */
	PROGRAM = 8,  /* its programs are in the vault */
	PARTS = 16,   /* has parts */
	LOADED = 32,  /* the machine's content is certain: job and parts come from there */
	OUTCOME = 64, /* says an outcome */
	TAKES = 128,  /* machine, job and parts that are left out are the order's */
};

static const unsigned duties[EVENT_COUNT] = {
    [EVENT_ARRIVED] = PROGRAM | PARTS,
    [EVENT_RELEASED] = JOB | PARTS,
    [EVENT_ACCEPTED] = JOB | PARTS | PROGRAM | OUTCOME,
    [EVENT_WITHDRAWN] = JOB,
    [EVENT_QUEUED] = MACHINE | OUTCOME,
    [EVENT_CANCELLED] = MACHINE | ORDER | TAKES,
    [EVENT_MOVED] = MACHINE | ORDER | TAKES,
    [EVENT_CARRYING] = MACHINE | ORDER | TAKES,
    [EVENT_STEP] = MACHINE | ORDER | OUTCOME | TAKES,
    [EVENT_CARRIED] = MACHINE | JOB | PARTS | TAKES,
    [EVENT_READ_BACK] = MACHINE | TAKES,
    [EVENT_KEPT] = MACHINE | TAKES,
    [EVENT_SPLIT] = MACHINE | TAKES,
    [EVENT_UNKNOWN] = MACHINE | TAKES,
    [EVENT_FETCHED] = MACHINE | TAKES,
    [EVENT_FED] = MACHINE | ORDER | PARTS | TAKES,
    [EVENT_DRIFT] = MACHINE,
    [EVENT_ADOPTED] = MACHINE | JOB | PARTS | PROGRAM,
    [EVENT_PROVEN] = MACHINE | LOADED,
    [EVENT_UNPROVEN] = MACHINE,
    [EVENT_EXPORTED] = MACHINE | JOB | PARTS | PROGRAM,
    [EVENT_LOADED] = MACHINE | JOB | PARTS | OUTCOME,
    [EVENT_LOCKED] = MACHINE,
    [EVENT_UNLOCKED] = MACHINE,
    [EVENT_OFFLINE] = MACHINE,
    [EVENT_ONLINE] = MACHINE,
    [EVENT_ABANDONED] = MACHINE,
    [EVENT_KEYED] = OUTCOME,
    [EVENT_SEALING] = OUTCOME,
};

/* An event while it is made, and what its texts point into. */
struct draft {
	struct event e;
	struct vault_order order;
	struct state_machine machine;
};

static bool given(const char *s)
{
	return s && *s;
}

static int check_name(struct vault *v, const char *what, const char *name)
{
	if (name && strlen(name) > YOKE_NAME_MAX)
		return db_say(
		    v, "a %s's name has more than %d bytes; shorten it", what, YOKE_NAME_MAX);
	return 0;
}

static int take(struct vault *v, struct draft *d, enum event_kind kind, const struct vault_by *by,
    const struct vault_about *a)
{
	d->e = (struct event){
	    .utc_us = by->utc_us,
	    .kind = kind,
	    .who = by->who,
	    .from = by->from,
	    .machine = a->machine,
	    .job = a->job,
	    .revision = a->revision,
	    .order = a->order,
	    .outcome = a->outcome,
	    .text = a->text,
	    .detail = a->detail,
	    .parts = a->parts,
	};
	if (a->parts > YOKE_CHANNELS_MAX || (a->parts > 0 && !a->part))
		return db_say(v, "an event has %u parts; a machine has at most %d channels",
		    a->parts, YOKE_CHANNELS_MAX);
	for (uint32_t i = 0; i < a->parts; i++) {
		d->e.part[i] = a->part[i];
		if (!memchr(a->part[i].channel, 0, sizeof(a->part[i].channel)))
			return db_say(v, "a channel's name has no end");
	}
	if (check_name(v, "machine", a->machine) < 0 || check_name(v, "job", a->job) < 0)
		return -1;
	return check_name(v, "revision", a->revision);
}

/* Load the order and take from it what was left out. */
static int take_order(struct vault *v, struct draft *d)
{
	struct event *e = &d->e;
	int r;

	if (e->order == 0 || e->kind == EVENT_QUEUED || !(duties[e->kind] & MACHINE))
		return 0;
	r = state_order(v, e->order, &d->order);
	if (r < 0)
		return -1;
	if (r == 0)
		return db_say(v, "there is no order %llu", (unsigned long long)e->order);
	if (!given(e->machine) && duties[e->kind] & TAKES)
		e->machine = d->order.machine;
	if (given(e->machine) && strcmp(e->machine, d->order.machine) != 0)
		return db_say(v, "order %llu is for machine %s, not for %s",
		    (unsigned long long)e->order, d->order.machine, e->machine);
	if (!given(e->job) && duties[e->kind] & TAKES) {
		e->job = d->order.job;
		e->revision = d->order.revision;
	}
	if (e->parts == 0 && duties[e->kind] & PARTS && duties[e->kind] & TAKES)
		e->parts = parts_as_after(e->part, d->order.part, d->order.parts);
	return 0;
}

/* The pair that somebody says has made a good part is the one that the machine is known to hold. */
static int take_loaded(struct vault *v, struct draft *d)
{
	struct vault_machine *m = &d->machine.m;
	struct event *e = &d->e;

	if (d->machine.unsure || m->content != VAULT_LOADED)
		return db_say(v,
		    "it is not known that machine %s holds a pair; carry or inspect one first",
		    m->name);
	if (m->drift)
		return db_say(v,
		    "machine %s no longer holds what was carried there; fetch it, or carry the "
		    "pair again",
		    m->name);
	if (given(e->job) && (strcmp(e->job, m->job) != 0 ||
	                         strcmp(e->revision ? e->revision : "", m->revision) != 0))
		return db_say(
		    v, "machine %s holds %s@%s, not %s", m->name, m->job, m->revision, e->job);
	e->job = m->job;
	e->revision = m->revision;
	if (e->parts == 0)
		e->parts = parts_as_after(e->part, m->part, m->parts);
	return 0;
}

static bool names(const struct event *e, const char *job, const char *revision,
    const struct vault_part *part, uint32_t parts)
{
	struct vault_part told[YOKE_CHANNELS_MAX];
	uint32_t n = parts_after(told, e->part, e->parts);

	return strcmp(e->job, job) == 0 && strcmp(e->revision ? e->revision : "", revision) == 0 &&
	       parts_same(told, n, part, parts);
}

/* A stick is not given out for a locked machine; and a person may say that the machine holds the
 * pair that was given out, or still holds the one that is known. */
static int check_stick(struct vault *v, const struct draft *d)
{
	const struct vault_machine *m = &d->machine.m;
	const struct event *e = &d->e;
	struct vault_stick s;

	if (e->kind == EVENT_EXPORTED && m->locked)
		return db_say(v, "machine %s is locked: nothing is given out for it", e->machine);
	if (e->kind != EVENT_LOADED)
		return 0;
	if (state_stick(v, e->machine, &s) < 0)
		return -1;
	if (s.state != VAULT_STICK_NONE && names(e, s.job, s.revision, s.part, s.parts))
		return 0;
	if (!d->machine.unsure && m->content == VAULT_LOADED && !m->drift &&
	    names(e, m->job, m->revision, m->part, m->parts))
		return 0;
	return db_say(v,
	    "%s@%s was not given out for machine %s on a stick, and is not what it is known to hold",
	    e->job, e->revision ? e->revision : "", e->machine);
}

/* What is adopted is what the machine is known to hold: a pair that was changed there. And only what is
 * proven can cease to be. */
static int check_adopted(struct vault *v, const struct draft *d)
{
	const struct vault_machine *m = &d->machine.m;

	if (d->e.kind == EVENT_ADOPTED &&
	    (d->machine.unsure || m->content != VAULT_LOADED || !m->drift))
		return db_say(v, "nothing was changed at machine %s: there is nothing to adopt", m->name);
	if (d->e.kind == EVENT_UNPROVEN && !m->has_good)
		return db_say(v, "machine %s has no last good pair", m->name);
	return 0;
}

static int check_programs(struct vault *v, const struct event *e)
{
	for (uint32_t i = 0; i < e->parts; i++) {
		if (!e->part[i].has_after)
			return db_say(v, "the event '%s' names no program", event_name(e->kind));
		if (vault_program_size(v, &e->part[i].after) < 0)
			return -1;
	}
	return 0;
}

/* A program that is executed while it is read leaves what the machine holds as it is, and no other
 * order is of this kind. */
static int check_drip(struct vault *v, const struct draft *d)
{
	unsigned long long id = d->order.id;
	bool drip = strcmp(d->order.act, "drip") == 0;
	bool feeds = d->e.kind == EVENT_FED ||
	             (d->e.kind == EVENT_STEP && strcmp(d->e.outcome, "feed") == 0);

	if (!id)
		return 0;
	if (feeds && !drip)
		return db_say(v, "order %llu is a %s: nothing is executed while it is read", id,
		    d->order.act);
	if (d->e.kind == EVENT_FED && d->order.state != VAULT_CARRYING)
		return db_say(v, "order %llu is %s: nothing is executed in its name", id,
		    vault_order_state_name(d->order.state));
	switch (d->e.kind) {
	case EVENT_STEP:
	case EVENT_CARRIED:
	case EVENT_READ_BACK:
	case EVENT_SPLIT:
	case EVENT_UNKNOWN:
	case EVENT_FETCHED:
	case EVENT_DRIFT:
		if (drip && !feeds)
			return db_say(v,
			    "order %llu is a drip: what the machine holds stays as it is", id);
		return 0;
	default:
		return 0;
	}
}

/* One order at a time for a machine, no step without it, and nothing for a locked machine but
 * questions. */
static int check_order(struct vault *v, const struct draft *d)
{
	unsigned long long id = d->order.id;
	const struct vault_machine *m = &d->machine.m;
	enum vault_order_state state = d->order.state;

	if (d->e.kind == EVENT_STEP && (state != VAULT_CARRYING || m->order != d->order.id))
		return db_say(
		    v, "order %llu is %s: it takes no step", id, vault_order_state_name(state));
	if (d->e.kind == EVENT_MOVED && state != VAULT_QUEUED)
		return db_say(v, "order %llu is %s: only one that waits is moved", id,
		    vault_order_state_name(state));
	if (d->e.kind != EVENT_CARRYING)
		return 0;
	if (state != VAULT_QUEUED && state != VAULT_CARRYING)
		return db_say(v, "order %llu is %s: it is not carried again", id,
		    vault_order_state_name(state));
	if (m->order != 0 && m->order != d->order.id)
		return db_say(
		    v, "machine %s is busy with order %llu", m->name, (unsigned long long)m->order);
	if (m->locked && (strcmp(d->order.act, "send") == 0 ||
	                     strcmp(d->order.act, "restore") == 0 ||
	                     strcmp(d->order.act, "drip") == 0))
		return db_say(v, "machine %s is locked: nothing is sent to it", m->name);
	return 0;
}

/* A key is one, and belongs to this trail. */
static int check_key(struct vault *v, const struct event *e)
{
	struct note_key key, now;
	int r;

	if (e->kind != EVENT_KEYED)
		return 0;
	if (!note_key_read(e->outcome, strlen(e->outcome), &key))
		return db_say(v, "what should be the trail's new key is no public key");
	r = sealed_key(v, &now);
	if (r < 0)
		return -1;
	return r == 1 && strcmp(now.name, key.name) != 0
	           ? db_say(v, "the new key is that of the trail %s; this one is %s", key.name, now.name)
	           : 0;
}

static int check(struct vault *v, struct draft *d)
{
	struct event *e = &d->e;
	unsigned duty = duties[e->kind];
	const char *missing = NULL;

	if (take_order(v, d) < 0)
		return -1;
	if (given(e->machine) && state_machine(v, e->machine, &d->machine) < 0)
		return -1;
	if (duty & MACHINE && !given(e->machine))
		missing = "machine";
	else if (duty & JOB && !given(e->job))
		missing = "job";
	else if (duty & ORDER && e->order == 0)
		missing = "order";
	else if (duty & PARTS && e->parts == 0)
		missing = "program";
	else if (duty & OUTCOME && !given(e->outcome))
		missing = "outcome";
	if (missing)
		return db_say(v, "the event '%s' names no %s", event_name(e->kind), missing);
	if (duty & LOADED && take_loaded(v, d) < 0)
		return -1;
	if (duty & PROGRAM && check_programs(v, e) < 0)
		return -1;
	if (check_stick(v, d) < 0 || check_adopted(v, d) < 0 || consent_check(v, e) < 0 || check_key(v, e) < 0)
		return -1;
	return check_drip(v, d) < 0 ? -1 : check_order(v, d);
}

static uint64_t record(
    struct vault *v, enum event_kind kind, const struct vault_by *by, const struct vault_about *a)
{
	struct draft d = {0};

	if (vault_begin(v) < 0)
		return 0;
	if (take(v, &d, kind, by, a) < 0 || check(v, &d) < 0 || append(v, &d.e) < 0) {
		vault_rollback(v);
		return 0;
	}
	return vault_commit(v) < 0 ? 0 : d.e.seq;
}

uint64_t vault_record_started(
    struct vault *v, const struct vault_by *by, const char *text, const char *detail)
{
	return record(v, EVENT_STARTED, by, &(struct vault_about){.text = text, .detail = detail});
}

uint64_t vault_record_stopped(struct vault *v, const struct vault_by *by)
{
	return record(v, EVENT_STOPPED, by, &(struct vault_about){0});
}

uint64_t vault_record_configured(struct vault *v, const struct vault_by *by, const char *detail)
{
	return record(v, EVENT_CONFIGURED, by, &(struct vault_about){.detail = detail});
}

#define RECORD(name, kind)                                                                         \
	uint64_t vault_record_##name(                                                              \
	    struct vault *v, const struct vault_by *by, const struct vault_about *a)               \
	{                                                                                          \
		return record(v, kind, by, a);                                                     \
	}

RECORD(arrived, EVENT_ARRIVED)
RECORD(turned_away, EVENT_TURNED_AWAY)
RECORD(held, EVENT_HELD)
RECORD(released, EVENT_RELEASED)
RECORD(accepted, EVENT_ACCEPTED)
RECORD(withdrawn, EVENT_WITHDRAWN)
RECORD(queued, EVENT_QUEUED)
RECORD(cancelled, EVENT_CANCELLED)
RECORD(moved, EVENT_MOVED)
RECORD(carrying, EVENT_CARRYING)
RECORD(step, EVENT_STEP)
RECORD(carried, EVENT_CARRIED)
RECORD(read_back, EVENT_READ_BACK)
RECORD(kept, EVENT_KEPT)
RECORD(split, EVENT_SPLIT)
RECORD(unknown, EVENT_UNKNOWN)
RECORD(fetched, EVENT_FETCHED)
RECORD(fed, EVENT_FED)
RECORD(drift, EVENT_DRIFT)
RECORD(adopted, EVENT_ADOPTED)
RECORD(proven, EVENT_PROVEN)
RECORD(unproven, EVENT_UNPROVEN)
RECORD(exported, EVENT_EXPORTED)
RECORD(loaded, EVENT_LOADED)
RECORD(locked, EVENT_LOCKED)
RECORD(unlocked, EVENT_UNLOCKED)
RECORD(offline, EVENT_OFFLINE)
RECORD(online, EVENT_ONLINE)
RECORD(abandoned, EVENT_ABANDONED)
RECORD(refused, EVENT_REFUSED)
RECORD(backed_up, EVENT_BACKED_UP)
RECORD(from_backup, EVENT_FROM_BACKUP)
RECORD(repaired, EVENT_REPAIRED)
RECORD(clock_stepped, EVENT_CLOCK_STEPPED)
RECORD(room_low, EVENT_ROOM_LOW)
RECORD(room_again, EVENT_ROOM_AGAIN)
RECORD(keyed, EVENT_KEYED)
RECORD(sealing, EVENT_SEALING)
