#include "state.h"

void state_encode(struct parts_bytes *out, const struct vault_part *part, uint32_t count)
{
	struct event_part e[YOKE_CHANNELS_MAX];

	parts_encode(out, e, parts_as_after(e, part, count));
}

static int read_parts(
    struct vault *v, sqlite3_stmt *s, int i, struct vault_part *part, uint32_t *count)
{
	struct event_part e[YOKE_CHANNELS_MAX];
	const void *p = sqlite3_column_blob(s, i);

	if (parts_decode(p, (size_t)sqlite3_column_bytes(s, i), e, count) < 0)
		return db_damaged(v, "the list of a state's programs cannot be read");
	parts_after(part, e, *count);
	return 0;
}

#define COPY(field, i) db_copy(field, sizeof(field), s, i)

int state_read_machine(struct vault *v, sqlite3_stmt *s, struct state_machine *out)
{
	struct vault_machine *m = &out->m;

	memset(out, 0, sizeof(*out));
	COPY(m->name, 0);
	m->content = (enum vault_content)sqlite3_column_int(s, 1);
	COPY(m->job, 2);
	COPY(m->revision, 3);
	m->read_back = sqlite3_column_int(s, 5);
	m->proven = sqlite3_column_int(s, 6);
	m->drift = sqlite3_column_int(s, 7);
	m->locked = sqlite3_column_int(s, 8);
	m->offline = sqlite3_column_int(s, 9);
	m->abandoned = sqlite3_column_int(s, 10);
	m->order = (uint64_t)sqlite3_column_int64(s, 11);
	m->since_us = sqlite3_column_int64(s, 12);
	COPY(m->by, 13);
	COPY(m->lock_text, 14);
	COPY(m->text, 15);
	m->has_good = sqlite3_column_int(s, 16);
	COPY(m->good_job, 17);
	COPY(m->good_revision, 18);
	m->good_us = sqlite3_column_int64(s, 20);
	COPY(m->good_by, 21);
	out->unsure = sqlite3_column_int(s, 22);
	out->unsure_before = sqlite3_column_int(s, 23);
	out->unsure_us = sqlite3_column_int64(s, 25);
	COPY(out->unsure_by, 26);
	if (m->content > VAULT_UNKNOWN)
		return db_damaged(v, "a machine's content has no name");
	if (read_parts(v, s, 4, m->part, &m->parts) < 0 ||
	    read_parts(v, s, 19, m->good, &m->goods) < 0)
		return -1;
	return read_parts(v, s, 24, out->told, &out->tolds);
}

int state_read_order(struct vault *v, sqlite3_stmt *s, struct vault_order *out)
{
	memset(out, 0, sizeof(*out));
	out->id = (uint64_t)sqlite3_column_int64(s, 0);
	out->state = (enum vault_order_state)sqlite3_column_int(s, 1);
	COPY(out->act, 2);
	COPY(out->machine, 3);
	COPY(out->job, 4);
	COPY(out->revision, 5);
	COPY(out->who, 7);
	COPY(out->step, 8);
	out->seq = (uint64_t)sqlite3_column_int64(s, 9);
	out->utc_us = sqlite3_column_int64(s, 10);
	COPY(out->text, 11);
	out->rank = sqlite3_column_int64(s, 12);
	if (out->state > VAULT_CANCELLED)
		return db_damaged(v, "an order's state has no name");
	return read_parts(v, s, 6, out->part, &out->parts);
}

int state_read_pair(struct vault *v, sqlite3_stmt *s, struct vault_pair *out)
{
	memset(out, 0, sizeof(*out));
	COPY(out->area, 0);
	COPY(out->job, 1);
	COPY(out->revision, 2);
	out->state = (enum vault_pair_state)sqlite3_column_int(s, 3);
	COPY(out->verdict, 4);
	out->seq = (uint64_t)sqlite3_column_int64(s, 6);
	out->utc_us = sqlite3_column_int64(s, 7);
	COPY(out->who, 8);
	COPY(out->text, 9);
	if (out->state > VAULT_WITHDRAWN)
		return db_damaged(v, "a pair's state has no name");
	return read_parts(v, s, 5, out->part, &out->parts);
}

int state_read_slot(struct vault *v, sqlite3_stmt *s, struct vault_slot *out)
{
	memset(out, 0, sizeof(*out));
	COPY(out->area, 0);
	COPY(out->job, 1);
	COPY(out->revision, 2);
	COPY(out->channel, 3);
	COPY(out->path, 4);
	COPY(out->who, 5);
	out->seq = (uint64_t)sqlite3_column_int64(s, 7);
	return db_sha(v, s, 6, &out->sha);
}

int state_machine(struct vault *v, const char *name, struct state_machine *out)
{
	sqlite3_stmt *s =
	    db_query(v, "SELECT " STATE_MACHINE " FROM machine WHERE name=?", db_text(name));
	int r = s ? db_next(v, s) : -1;

	memset(out, 0, sizeof(*out));
	db_cut(out->m.name, sizeof(out->m.name), name);
	if (r == 1 && state_read_machine(v, s, out) < 0)
		r = -1;
	db_done(v, s);
	return r;
}

int state_order(struct vault *v, uint64_t id, struct vault_order *out)
{
	sqlite3_stmt *s =
	    db_query(v, "SELECT " STATE_ORDER " FROM orders WHERE id=?", db_int((int64_t)id));
	int r = s ? db_next(v, s) : -1;

	memset(out, 0, sizeof(*out));
	out->id = id;
	if (r == 1 && state_read_order(v, s, out) < 0)
		r = -1;
	db_done(v, s);
	return r;
}

int state_stick(struct vault *v, const char *machine, struct vault_stick *out)
{
	sqlite3_stmt *s =
	    db_query(v, "SELECT " STATE_STICK " FROM stick WHERE machine=?", db_text(machine));
	int r = s ? db_next(v, s) : -1;

	memset(out, 0, sizeof(*out));
	if (r == 1) {
		out->state = (enum vault_stick_state)sqlite3_column_int(s, 1);
		COPY(out->job, 2);
		COPY(out->revision, 3);
		out->utc_us = sqlite3_column_int64(s, 5);
		COPY(out->who, 6);
		if (out->state > VAULT_STICK_SAID)
			r = db_damaged(v, "a stick's state has no name");
		else if (read_parts(v, s, 4, out->part, &out->parts) < 0)
			r = -1;
	}
	db_done(v, s);
	return r;
}

int state_save_stick(struct vault *v, const char *machine, const struct vault_stick *in)
{
	struct parts_bytes parts;

	if (in->state == VAULT_STICK_NONE)
		return db_run(v, "DELETE FROM stick WHERE machine=?", db_text(machine));
	state_encode(&parts, in->part, in->parts);
	return db_run(v, "INSERT OR REPLACE INTO stick(" STATE_STICK ") VALUES(?,?,?,?,?,?,?)",
	    db_text(machine), db_int(in->state), db_text(in->job), db_text(in->revision),
	    db_bytes(parts.b, parts.n), db_int(in->utc_us), db_text(in->who));
}

int state_save_machine(struct vault *v, const struct state_machine *in)
{
	const struct vault_machine *m = &in->m;
	struct parts_bytes parts, good, told;

	state_encode(&parts, m->part, m->parts);
	state_encode(&good, m->good, m->goods);
	state_encode(&told, in->told, in->tolds);
	return db_run(v,
	    "INSERT OR REPLACE INTO machine(" STATE_MACHINE
	    ") VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,"
	    "?,?,?,?,?,?,?,?,?,?)",
	    db_text(m->name), db_int(m->content), db_text(m->job), db_text(m->revision),
	    db_bytes(parts.b, parts.n), db_int(m->read_back), db_int(m->proven), db_int(m->drift),
	    db_int(m->locked), db_int(m->offline), db_int(m->abandoned), db_int((int64_t)m->order),
	    db_int(m->since_us), db_text(m->by), db_text(m->lock_text), db_text(m->text),
	    db_int(m->has_good), db_text(m->good_job), db_text(m->good_revision),
	    db_bytes(good.b, good.n), db_int(m->good_us), db_text(m->good_by), db_int(in->unsure),
	    db_int(in->unsure_before), db_bytes(told.b, told.n), db_int(in->unsure_us),
	    db_text(in->unsure_by));
}

int state_save_order(struct vault *v, const struct vault_order *o)
{
	struct parts_bytes parts;

	state_encode(&parts, o->part, o->parts);
	return db_run(v,
	    "INSERT OR REPLACE INTO orders(" STATE_ORDER ") VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?)",
	    db_int((int64_t)o->id), db_int(o->state), db_text(o->act), db_text(o->machine),
	    db_text(o->job), db_text(o->revision), db_bytes(parts.b, parts.n), db_text(o->who),
	    db_text(o->step), db_int((int64_t)o->seq), db_int(o->utc_us), db_text(o->text),
	    db_int(o->rank));
}

void state_told(const struct state_machine *in, struct vault_machine *out)
{
	*out = in->m;
	memcpy(out->last_job, in->m.job, sizeof(out->last_job));
	memcpy(out->last_revision, in->m.revision, sizeof(out->last_revision));
	if (!in->unsure)
		return;
	out->content = VAULT_UNKNOWN;
	memset(out->job, 0, sizeof(out->job));
	memset(out->revision, 0, sizeof(out->revision));
	memcpy(out->part, in->told, sizeof(out->part));
	out->parts = in->tolds;
	out->read_back = out->proven = out->drift = false;
	out->since_us = in->unsure_us;
	memcpy(out->by, in->unsure_by, sizeof(out->by));
}
