/*
 * 1. The state tables are written here and nowhere else, from events alone: no clock, no
 *    configuration. What an event does to a machine stands in machine.c.
 * 2. An order goes this way; carrying and step are refused in any other state (record.c):
 *
 *   queued --carrying--> carrying --carried, fetched, fed--> done
 *    ^ |                    | | |----kept, split, unknown--> failed
 *    | |                    | | |----carried, an error-----> failed
 *    | +---- cancelled -----|-+---> cancelled
 *    +------ kept, "again" -+
 *
 * 3. Kept with the outcome "again" puts the order back into the queue. An inspection that ends
 *    with carried, split, or with kept and its evidence, is done: it has found out.
 * 4. Carried with an error's name as its outcome: all of it left us, but the copy that was to be
 *    compared did not come. The machine holds the pair, not read back, and the order has failed.
 */
#include <stdlib.h>
#include "consent.h"
#include "fold.h"
#include "machine.h"
#include "note.h"
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

/* The program is the newest of its file, unless it came from a machine: in the course of an order,
 * punched unasked, or adopted. */
static int fold_path(struct vault *v, const struct event *e)
{
	const struct sha *sha = &e->part[0].after;

	bool of_machine =
	    e->from && (strcmp(e->from, "line") == 0 || strcmp(e->from, "adopt") == 0);

	if (of_machine || e->order != 0 || e->parts == 0 || !e->part[0].has_after || !e->text || !*e->text)
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
	if (consent_of_pair(v, e->machine, e->job, e->revision, &p) < 0)
		return -1;
	if (db_run(v, "INSERT OR REPLACE INTO pair(" STATE_PAIR ") VALUES(?,?,?,?,?,?,?,?,?,?)",
	        db_text(e->machine), db_text(e->job), db_text(e->revision), db_int(p.state),
	        db_text(p.verdict), db_bytes(parts.b, parts.n), db_int((int64_t)e->seq),
	        db_int(e->utc_us), db_text(p.who), db_text(p.text)) < 0)
		return -1;
	if (p.state != VAULT_RELEASED)
		return 0;
	consent_sorted(&parts, p.part, p.parts);
	return db_run(v,
	    "INSERT OR REPLACE INTO release(area,job,revision,parts,verdict,seq,utc_us,who)"
	    " VALUES(?,?,?,?,?,?,?,?)",
	    db_text(e->machine), db_text(e->job), db_text(e->revision), db_bytes(parts.b, parts.n),
	    db_text(p.verdict), db_int((int64_t)e->seq), db_int(e->utc_us), db_text(p.who));
}

/* "done", or "none" as the name of no error. */
static bool without_error(const struct event *e)
{
	return !e->outcome || !*e->outcome || strcmp(e->outcome, "done") == 0 ||
	       strcmp(e->outcome, "none") == 0;
}

static enum vault_order_state order_after(
    const struct state_machine *before, const struct vault_order *o, const struct event *e)
{
	switch (e->kind) {
	case EVENT_CARRYING:
		return VAULT_CARRYING;
	case EVENT_CARRIED:
		return without_error(e) || strcmp(o->act, "inspect") == 0 ? VAULT_DONE
		                                                         : VAULT_FAILED;
	case EVENT_FETCHED:
	case EVENT_FED:
		return VAULT_DONE;
	case EVENT_CANCELLED:
		return VAULT_CANCELLED;
	case EVENT_KEPT:
		if (e->outcome && strcmp(e->outcome, "again") == 0)
			return VAULT_QUEUED;
		if (strcmp(o->act, "dry-run") == 0)
			return e->outcome && strcmp(e->outcome, "done") == 0 ? VAULT_DONE
			                                                      : VAULT_FAILED;
		return machine_has_evidence(before, o, e) ? VAULT_DONE : VAULT_FAILED;
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

/* Before all others that wait for the machine. */
static int fold_moved(struct vault *v, const struct event *e)
{
	struct vault_order o;
	sqlite3_stmt *s;
	int r = state_order(v, e->order, &o);

	if (r <= 0)
		return r;
	s = db_query(v, "SELECT min(rank) FROM orders WHERE state<2 AND machine=?",
	    db_text(o.machine));
	r = s ? db_next(v, s) : -1;
	if (r == 1)
		o.rank = sqlite3_column_int64(s, 0) - 1;
	db_done(v, s);
	return r < 0 ? -1 : state_save_order(v, &o);
}

/* The pair that was given out on a stick, and what the machine was said to hold because of it. */
static int fold_stick(struct vault *v, const struct event *e)
{
	struct vault_stick s;
	struct vault_part part[YOKE_CHANNELS_MAX];
	uint32_t parts = parts_after(part, e->part, e->parts);
	bool said;

	if (state_stick(v, e->machine, &s) < 0)
		return -1;
	switch (e->kind) {
	case EVENT_EXPORTED:
		s = (struct vault_stick){.state = VAULT_STICK_OUT};
		db_cut(s.job, sizeof(s.job), e->job);
		db_cut(s.revision, sizeof(s.revision), e->revision);
		memcpy(s.part, part, sizeof(s.part));
		s.parts = parts;
		break;
	case EVENT_LOADED:
		said = e->outcome && strcmp(e->outcome, "said") == 0;
		s.state = said && parts_same(part, parts, s.part, s.parts) ? VAULT_STICK_SAID
		                                                           : VAULT_STICK_NONE;
		break;
	case EVENT_READ_BACK: /* what was said is seen now */
		if (s.state != VAULT_STICK_SAID)
			return 0;
		s.state = VAULT_STICK_NONE;
		break;
	default: /* carried: what was given out before is no longer what counts */
		s.state = VAULT_STICK_NONE;
	}
	s.utc_us = e->utc_us;
	db_cut(s.who, sizeof(s.who), e->who);
	return state_save_stick(v, e->machine, &s);
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

static int fold_machine(struct vault *v, const struct event *e)
{
	struct state_machine s;

	if (state_machine(v, e->machine, &s) < 0)
		return -1;
	machine_say(&s, e);
	return state_save_machine(v, &s);
}

/* A key's name and public half; what is none signs nothing. */
static int fold_key(struct vault *v, const struct event *e)
{
	struct note_key key;

	if (!e->outcome || !note_key_read(e->outcome, strlen(e->outcome), &key))
		return 0;
	return db_run(v, "INSERT INTO seal_key(seq,key,utc_us) VALUES(?,?,?)",
	    db_int((int64_t)e->seq), db_text(e->outcome), db_int(e->utc_us));
}

static int fold_state(struct vault *v, const struct event *e)
{
	switch (e->kind) {
	case EVENT_ARRIVED:
		return fold_arrived(v, e);
	case EVENT_HELD:
	case EVENT_RELEASED:
		return fold_verdict(v, e);
	case EVENT_ACCEPTED:
		return consent_accepted(v, e);
	case EVENT_WITHDRAWN:
		return consent_withdrawn(v, e);
	case EVENT_QUEUED:
		return fold_queued(v, e);
	case EVENT_MOVED:
		return fold_moved(v, e);
	case EVENT_EXPORTED:
		return fold_stick(v, e);
	case EVENT_CARRIED:
	case EVENT_LOADED:
	case EVENT_READ_BACK:
		return fold_carry(v, e) < 0 ? -1 : fold_stick(v, e);
	case EVENT_CANCELLED:
	case EVENT_CARRYING:
	case EVENT_STEP:
	case EVENT_KEPT:
	case EVENT_SPLIT:
	case EVENT_UNKNOWN:
	case EVENT_FETCHED:
	case EVENT_FED:
	case EVENT_DRIFT:
	case EVENT_ADOPTED:
		return fold_carry(v, e);
	case EVENT_PROVEN:
	case EVENT_UNPROVEN:
	case EVENT_LOCKED:
	case EVENT_UNLOCKED:
	case EVENT_OFFLINE:
	case EVENT_ONLINE:
	case EVENT_ABANDONED:
		return fold_machine(v, e);
	case EVENT_KEYED:
		return fold_key(v, e);
	case EVENT_STARTED:
	case EVENT_STOPPED:
	case EVENT_CONFIGURED:
	case EVENT_TURNED_AWAY:
	case EVENT_REFUSED:
	case EVENT_BACKED_UP:
	case EVENT_FROM_BACKUP:
	case EVENT_REPAIRED:
	case EVENT_CLOCK_STEPPED:
	case EVENT_ROOM_LOW:
	case EVENT_ROOM_AGAIN:
	case EVENT_SEALING:
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
