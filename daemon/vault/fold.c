/*
 * 1. The state tables are written here and nowhere else, from events alone: no clock, no
 * configuration.
 * 2. A machine's row keeps its last certain content. Only carried and split change it.
 * 3. A step makes the machine unsure; so does unknown. Unsure ends with carried or split; with kept
 * or cancelled when it was sure before the order; with kept after an inspection, with fetched or
 * with read-back, when these name the very programs of the certain content. Everything else leaves
 * it unsure.
 *
 * An order:
 *
 *   queued --carrying--> carrying --carried, fetched--> done
 *    ^ |                    | | |----kept, split, unknown--> failed
 *    | \---- cancelled -----|-+---> cancelled
 *    \---- kept, "again" ---/
 *
 * Kept with the outcome "again" puts the order back into the queue. An inspection that ends with
 * split, or with kept and its evidence, is done: it has found out.
 *
 * What a machine holds:
 *
 *   nothing --carried--> loaded <--carried-- split      (machine_content)
 *   any --step, unknown--> unsure --carried, split, kept--> sure      (machine_unsure,
 * machine_kept)
 */
#include <stdlib.h>
#include "fold.h"
#include "parts.h"
#include "state.h"

/* An arrival's outcome is its program number, "O4417"; 0 when it says none. */
static int64_t slot_number(const char *outcome)
{
	char *end;
	unsigned long n;

	if (!outcome || outcome[0] != 'O' || outcome[1] < '0' || outcome[1] > '9')
		return 0;
	n = strtoul(outcome + 1, &end, 10);
	return *end == 0 && n <= UINT32_MAX ? (int64_t)n : 0;
}

/* The program is the newest of its file, unless it came from a machine in the course of an order.
 */
static int fold_path(struct vault *v, const struct event *e)
{
	const struct sha *sha = &e->part[0].after;

	if (e->order != 0 || e->parts == 0 || !e->part[0].has_after || !e->text || !*e->text)
		return 0;
	return db_run(v, "INSERT OR REPLACE INTO path(path,sha,seq) VALUES(?,?,?)",
	    db_text(e->text), db_bytes(sha->b, sizeof(sha->b)), db_int((int64_t)e->seq));
}

static int fold_arrived(struct vault *v, const struct event *e)
{
	char path[YOKE_PATH_MAX + 1], who[128];

	if (fold_path(v, e) < 0)
		return -1;
	if (!e->job || !*e->job)
		return 0;
	db_cut(path, sizeof(path), e->text);
	db_cut(who, sizeof(who), e->who);
	for (uint32_t i = 0; i < e->parts; i++) {
		const struct event_part *p = &e->part[i];

		if (!p->has_after || !*p->channel)
			continue;
		if (db_run(v,
		        "INSERT OR REPLACE INTO slot(" STATE_SLOT
		        ",number) VALUES(?,?,?,?,?,?,?,?,?)",
		        db_text(e->machine), db_text(e->job), db_text(e->revision),
		        db_text(p->channel), db_text(path), db_text(who),
		        db_bytes(p->after.b, sizeof(p->after.b)), db_int((int64_t)e->seq),
		        db_int(slot_number(e->outcome))) < 0)
			return -1;
	}
	return 0;
}

/* Who dropped the last program of the event's pair; the event's own "who" when no arrival is known.
 */
static int last_dropper(struct vault *v, const struct event *e, char *out, size_t size)
{
	sqlite3_stmt *s = db_query(v,
	    "SELECT who FROM slot WHERE area=? AND job=? AND revision=? ORDER BY seq DESC LIMIT 1",
	    db_text(e->machine), db_text(e->job), db_text(e->revision));
	int r = s ? db_next(v, s) : -1;

	db_cut(out, size, e->who);
	if (r == 1)
		db_copy(out, size, s, 0);
	db_done(v, s);
	return r < 0 ? -1 : 0;
}

static int fold_verdict(struct vault *v, const struct event *e)
{
	struct vault_pair p = {.state = e->kind == EVENT_RELEASED ? VAULT_RELEASED : VAULT_HELD};
	struct parts_bytes parts;

	if (!e->job || !*e->job)
		return 0;
	if (last_dropper(v, e, p.who, sizeof(p.who)) < 0)
		return -1;
	db_cut(p.verdict, sizeof(p.verdict), e->outcome);
	if (p.state == VAULT_HELD)
		db_cut(p.text, sizeof(p.text), e->text);
	p.parts = parts_after(p.part, e->part, e->parts);
	state_encode(&parts, p.part, p.parts);
	if (db_run(v, "INSERT OR REPLACE INTO pair(" STATE_PAIR ") VALUES(?,?,?,?,?,?,?,?,?,?)",
	        db_text(e->machine), db_text(e->job), db_text(e->revision), db_int(p.state),
	        db_text(p.verdict), db_bytes(parts.b, parts.n), db_int((int64_t)e->seq),
	        db_int(e->utc_us), db_text(p.who), db_text(p.text)) < 0)
		return -1;
	if (p.state == VAULT_HELD)
		return 0;
	parts_sort(p.part, p.parts);
	state_encode(&parts, p.part, p.parts);
	return db_run(v,
	    "INSERT OR REPLACE INTO release(area,job,revision,parts,verdict,seq,utc_us,who)"
	    " VALUES(?,?,?,?,?,?,?,?)",
	    db_text(e->machine), db_text(e->job), db_text(e->revision), db_bytes(parts.b, parts.n),
	    db_text(p.verdict), db_int((int64_t)e->seq), db_int(e->utc_us), db_text(p.who));
}

static bool is_proven(const struct vault_machine *m)
{
	return m->has_good && parts_same(m->part, m->parts, m->good, m->goods);
}

static void machine_settle(struct state_machine *s)
{
	s->unsure = s->unsure_before = false;
	s->tolds = 0;
	memset(s->told, 0, sizeof(s->told));
	s->unsure_us = 0;
	memset(s->unsure_by, 0, sizeof(s->unsure_by));
}

/* Content that the event names, certain from now on. */
static void machine_content(struct state_machine *s, enum vault_content content,
    const struct event *e, const char *asked_by)
{
	struct vault_machine *m = &s->m;

	machine_settle(s);
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
static void machine_believe(struct state_machine *s, const struct event *e)
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

static void machine_unsure(struct state_machine *s, const struct event *e, const char *asked_by)
{
	if (!s->unsure) {
		s->unsure = true;
		s->unsure_us = e->utc_us;
		db_cut(s->unsure_by, sizeof(s->unsure_by), asked_by);
		memcpy(s->told, s->m.part, sizeof(s->told));
		s->tolds = s->m.parts;
	}
	if (e->kind == EVENT_UNKNOWN)
		machine_believe(s, e);
}

/* The order changed nothing: it is as sure or unsure as it was when the order began. */
static void machine_as_before(struct state_machine *s, const struct vault_order *o)
{
	if (o->id != 0 && s->m.order == o->id && !s->unsure_before)
		machine_settle(s);
}

/* Whether an inspection has seen the certain content. */
static bool has_evidence(
    const struct state_machine *s, const struct vault_order *o, const struct event *e)
{
	struct vault_part seen[YOKE_CHANNELS_MAX];
	uint32_t n = parts_after(seen, e->part, e->parts);

	return strcmp(o->act, "inspect") == 0 && parts_same(seen, n, s->m.part, s->m.parts);
}

static void machine_equal(struct state_machine *s)
{
	s->m.read_back = true;
	s->m.drift = false;
	s->m.proven = is_proven(&s->m);
}

static void machine_fetched(
    struct state_machine *s, const struct vault_order *o, const struct event *e)
{
	struct vault_part got[YOKE_CHANNELS_MAX];
	uint32_t n = parts_after(got, e->part, e->parts);

	machine_as_before(s, o);
	if (s->m.content == VAULT_LOADED && parts_same(got, n, s->m.part, s->m.parts)) {
		machine_settle(s);
		machine_equal(s);
	} else if (s->unsure) {
		machine_believe(s, e);
	}
}

/* Compared and equal; for an unsure machine that counts when it was the certain content that it was
 * compared with. */
static void machine_read_back(struct state_machine *s, const struct event *e)
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
	machine_settle(s);
	machine_equal(s);
}

static void machine_proven(struct vault_machine *m, const struct event *e)
{
	m->proven = m->has_good = true;
	memcpy(m->good_job, m->job, sizeof(m->good_job));
	memcpy(m->good_revision, m->revision, sizeof(m->good_revision));
	memcpy(m->good, m->part, sizeof(m->good));
	m->goods = m->parts;
	m->good_us = e->utc_us;
	db_cut(m->good_by, sizeof(m->good_by), e->who);
}

/* What an event of carrying does to the machine; o is its order, empty when it has none. */
static void machine_carry(
    struct state_machine *s, const struct vault_order *o, const struct event *e)
{
	const char *asked_by = o->id != 0 ? o->who : e->who;
	bool ends = true;

	switch (e->kind) {
	case EVENT_CARRYING:
		s->unsure_before = s->unsure;
		s->m.order = o->id;
		return;
	case EVENT_STEP:
		machine_unsure(s, e, asked_by);
		return;
	case EVENT_CARRIED:
		machine_content(s, VAULT_LOADED, e, asked_by);
		break;
	case EVENT_SPLIT:
		machine_content(s, VAULT_SPLIT, e, asked_by);
		break;
	case EVENT_UNKNOWN:
		machine_unsure(s, e, asked_by);
		break;
	case EVENT_KEPT:
		if (has_evidence(s, o, e))
			machine_settle(s);
		else
			machine_as_before(s, o);
		break;
	case EVENT_CANCELLED:
		if (s->m.order != o->id) /* it never came to the machine */
			return;
		machine_as_before(s, o);
		break;
	case EVENT_FETCHED:
		machine_fetched(s, o, e);
		break;
	case EVENT_READ_BACK:
		machine_read_back(s, e);
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

static enum vault_order_state order_after(
    const struct state_machine *before, const struct vault_order *o, const struct event *e)
{
	switch (e->kind) {
	case EVENT_CARRYING:
		return VAULT_CARRYING;
	case EVENT_CARRIED:
	case EVENT_FETCHED:
		return VAULT_DONE;
	case EVENT_CANCELLED:
		return VAULT_CANCELLED;
	case EVENT_KEPT:
		if (e->outcome && strcmp(e->outcome, "again") == 0)
			return VAULT_QUEUED;
		return has_evidence(before, o, e) ? VAULT_DONE : VAULT_FAILED;
	case EVENT_SPLIT:
		return strcmp(o->act, "inspect") == 0 ? VAULT_DONE : VAULT_FAILED;
	case EVENT_UNKNOWN:
		return VAULT_FAILED;
	default:
		return o->state;
	}
}

static int fold_order(struct vault *v, struct vault_order *o, const struct state_machine *before,
    const struct event *e)
{
	o->state = order_after(before, o, e);
	if (e->kind == EVENT_STEP || e->kind == EVENT_CARRYING)
		db_cut(o->step, sizeof(o->step), e->kind == EVENT_STEP ? e->outcome : "");
	if (e->text && *e->text)
		db_cut(o->text, sizeof(o->text), e->text);
	o->seq = e->seq;
	o->utc_us = e->utc_us;
	return state_save_order(v, o);
}

static int fold_carry(struct vault *v, const struct event *e)
{
	struct vault_order o = {0};
	struct state_machine s;
	int has_order = e->order != 0 ? state_order(v, e->order, &o) : 0;

	if (has_order < 0 || state_machine(v, e->machine, &s) < 0)
		return -1;
	if (has_order == 0)
		o.id = 0;
	else if (fold_order(v, &o, &s, e) < 0)
		return -1;
	machine_carry(&s, &o, e);
	return state_save_machine(v, &s);
}

static int fold_queued(struct vault *v, const struct event *e)
{
	struct vault_order o = {.id = e->seq, .seq = e->seq, .utc_us = e->utc_us};

	db_cut(o.act, sizeof(o.act), e->outcome);
	db_cut(o.machine, sizeof(o.machine), e->machine);
	db_cut(o.job, sizeof(o.job), e->job);
	db_cut(o.revision, sizeof(o.revision), e->revision);
	db_cut(o.who, sizeof(o.who), e->who);
	db_cut(o.text, sizeof(o.text), e->text);
	o.parts = parts_after(o.part, e->part, e->parts);
	return state_save_order(v, &o);
}

/* What is said about a machine without touching what it holds. */
static int fold_machine(struct vault *v, const struct event *e)
{
	struct state_machine s;

	if (state_machine(v, e->machine, &s) < 0)
		return -1;
	switch (e->kind) {
	case EVENT_PROVEN:
		if (!s.unsure && s.m.content == VAULT_LOADED)
			machine_proven(&s.m, e);
		break;
	case EVENT_LOCKED:
	case EVENT_UNLOCKED:
		s.m.locked = e->kind == EVENT_LOCKED;
		db_cut(s.m.lock_text, sizeof(s.m.lock_text), s.m.locked ? e->text : "");
		break;
	case EVENT_OFFLINE:
		s.m.offline = true;
		break;
	case EVENT_ABANDONED:
		s.m.abandoned = true;
		break;
	default:
		s.m.offline = s.m.abandoned = false;
		break;
	}
	return state_save_machine(v, &s);
}

static int fold_state(struct vault *v, const struct event *e)
{
	switch (e->kind) {
	case EVENT_ARRIVED:
		return fold_arrived(v, e);
	case EVENT_HELD:
	case EVENT_RELEASED:
		return fold_verdict(v, e);
	case EVENT_QUEUED:
		return fold_queued(v, e);
	case EVENT_CANCELLED:
	case EVENT_CARRYING:
	case EVENT_STEP:
	case EVENT_CARRIED:
	case EVENT_READ_BACK:
	case EVENT_KEPT:
	case EVENT_SPLIT:
	case EVENT_UNKNOWN:
	case EVENT_FETCHED:
	case EVENT_DRIFT:
		return fold_carry(v, e);
	case EVENT_PROVEN:
	case EVENT_LOCKED:
	case EVENT_UNLOCKED:
	case EVENT_OFFLINE:
	case EVENT_ONLINE:
	case EVENT_ABANDONED:
		return fold_machine(v, e);
	case EVENT_STARTED:
	case EVENT_STOPPED:
	case EVENT_CONFIGURED:
	case EVENT_TURNED_AWAY:
	case EVENT_REFUSED:
	case EVENT_COUNT:
		break;
	}
	return 0;
}

int fold(struct vault *v, const struct event *e, const struct sha *hash)
{
	if (fold_state(v, e) < 0)
		return -1;
	return db_run(v, "UPDATE trail SET seq=?,head=?", db_int((int64_t)e->seq),
	    db_bytes(hash->b, sizeof(hash->b)));
}
