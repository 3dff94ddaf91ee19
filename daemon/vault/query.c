/*
 * Questions. A list hands out each row as it is read; its statement stays open meanwhile, and the
 * callback may ask other questions or the same one again (db.c, 4).
 */
#include <stdio.h>
#include <stdlib.h>
#include "entry.h"
#include "state.h"

/* One answer: r is what db_next said. */
#define EACH(v, s, row, read, fn, ctx)                                                             \
	do {                                                                                       \
		while ((r = s ? db_next(v, s) : -1) == 1) {                                        \
			r = read(v, s, &row);                                                      \
			if (r == 0)                                                                \
				r = fn(ctx, &row);                                                 \
			if (r != 0)                                                                \
				break;                                                             \
		}                                                                                  \
		db_done(v, s);                                                                     \
	} while (0)

int vault_slots(struct vault *v, const char *area, const char *job, const char *revision,
    int (*fn)(void *ctx, const struct vault_slot *s), void *ctx)
{
	struct db_arg any = {.type = DB_NULL};
	struct vault_slot row;
	sqlite3_stmt *s;
	int r;

	if (area && job && revision)
		s = db_query(v,
		    "SELECT " STATE_SLOT " FROM slot WHERE area=? AND job=? AND revision=?"
		    " ORDER BY channel",
		    db_text(area), db_text(job), db_text(revision));
	else
		s = db_query(v,
		    "SELECT " STATE_SLOT " FROM slot WHERE (?1 IS NULL OR area=?1)"
		    " AND (?2 IS NULL OR job=?2) AND (?3 IS NULL OR revision=?3)"
		    " ORDER BY area,job,revision,channel",
		    area ? db_text(area) : any, job ? db_text(job) : any,
		    revision ? db_text(revision) : any);
	EACH(v, s, row, state_read_slot, fn, ctx);
	return r;
}

int vault_pairs(
    struct vault *v, const char *job, int (*fn)(void *ctx, const struct vault_pair *p), void *ctx)
{
	struct db_arg any = {.type = DB_NULL};
	struct vault_pair row;
	sqlite3_stmt *s = db_query(v,
	    "SELECT " STATE_PAIR " FROM pair WHERE (?1 IS NULL OR job=?1) ORDER BY seq DESC",
	    job ? db_text(job) : any);
	int r;

	EACH(v, s, row, state_read_pair, fn, ctx);
	return r;
}

int vault_orders(struct vault *v, const char *machine, bool open_only,
    int (*fn)(void *ctx, const struct vault_order *o), void *ctx)
{
	struct vault_order row;
	sqlite3_stmt *s;
	int r;

	if (machine && open_only)
		s = db_query(v,
		    "SELECT " STATE_ORDER " FROM orders WHERE state<2 AND machine=? ORDER BY rank,id",
		    db_text(machine));
	else if (machine)
		s = db_query(v, "SELECT " STATE_ORDER " FROM orders WHERE machine=? ORDER BY rank,id",
		    db_text(machine));
	else if (open_only)
		s = db_stmt(
		    v, "SELECT " STATE_ORDER " FROM orders WHERE state<2 ORDER BY rank,id", NULL, 0);
	else
		s = db_stmt(v, "SELECT " STATE_ORDER " FROM orders ORDER BY rank,id", NULL, 0);
	EACH(v, s, row, state_read_order, fn, ctx);
	return r;
}

static int read_told(struct vault *v, sqlite3_stmt *s, struct vault_machine *out)
{
	struct state_machine m;

	if (state_read_machine(v, s, &m) < 0)
		return -1;
	state_told(&m, out);
	return state_stick(v, out->name, &out->stick) < 0 ? -1 : 0;
}

int vault_machines(struct vault *v, int (*fn)(void *ctx, const struct vault_machine *m), void *ctx)
{
	struct vault_machine row;
	sqlite3_stmt *s =
	    db_stmt(v, "SELECT " STATE_MACHINE " FROM machine ORDER BY name", NULL, 0);
	int r;

	EACH(v, s, row, read_told, fn, ctx);
	return r;
}

/* The first row of s as a pair: 1, 0 none, -1 failed. */
static int one_pair(struct vault *v, sqlite3_stmt *s, struct vault_pair *out)
{
	int r = s ? db_next(v, s) : -1;

	memset(out, 0, sizeof(*out));
	if (r == 1 && state_read_pair(v, s, out) < 0)
		r = -1;
	db_done(v, s);
	return r;
}

int vault_pair(struct vault *v, const char *area, const char *job, const char *revision,
    struct vault_pair *out)
{
	if (revision && *revision)
		return one_pair(v,
		    db_query(v,
		        "SELECT " STATE_PAIR " FROM pair WHERE area=? AND job=? AND revision=?",
		        db_text(area), db_text(job), db_text(revision)),
		    out);
	return one_pair(v,
	    db_query(v,
	        "SELECT " STATE_PAIR " FROM pair WHERE area=? AND job=? AND state=1"
	        " ORDER BY seq DESC LIMIT 1",
	        db_text(area), db_text(job)),
	    out);
}

int vault_order(struct vault *v, uint64_t id, struct vault_order *out)
{
	return state_order(v, id, out);
}

int vault_machine(struct vault *v, const char *name, struct vault_machine *out)
{
	struct state_machine m;

	if (state_machine(v, name, &m) < 0)
		goto fail;
	state_told(&m, out);
	if (state_stick(v, name, &out->stick) < 0)
		goto fail;
	return 1;
fail:
	memset(out, 0, sizeof(*out));
	return -1;
}

/* Whether a released pair's programs are not those of the newest arrivals. */
struct newest {
	const struct vault_pair *released;
	bool other;
};

static int compare_newest(void *ctx, const struct vault_slot *slot)
{
	struct newest *n = ctx;

	for (uint32_t i = 0; i < n->released->parts; i++) {
		const struct vault_part *p = &n->released->part[i];

		if (p->present && strcmp(p->channel, slot->channel) == 0 &&
		    memcmp(&p->sha, &slot->sha, sizeof(p->sha)) != 0)
			n->other = true;
	}
	return 0;
}

int vault_was_released(struct vault *v, const char *area, const char *job, const char *revision,
    struct vault_pair *out)
{
	sqlite3_stmt *s = db_query(v,
	    "SELECT area,job,revision,1,verdict,parts,seq,utc_us,who,'' FROM release"
	    " WHERE area=? AND job=? AND revision=? ORDER BY seq DESC",
	    db_text(area), db_text(job), db_text(revision));
	struct newest n = {out, false};
	int r;

	while ((r = s ? db_next(v, s) : -1) == 1) {
		if (state_read_pair(v, s, out) < 0 ||
		    vault_slots(v, out->area, out->job, out->revision, compare_newest, &n) < 0) {
			r = -1;
			break;
		}
		if (n.other)
			break;
	}
	db_done(v, s);
	if (r != 1)
		memset(out, 0, sizeof(*out));
	return r;
}

int vault_path(struct vault *v, const char *path, struct sha *sha)
{
	sqlite3_stmt *s = db_query(v, "SELECT sha FROM path WHERE path=?", db_text(path));
	int r = s ? db_next(v, s) : -1;

	memset(sha, 0, sizeof(*sha));
	if (r == 1 && db_sha(v, s, 0, sha) < 0)
		r = -1;
	db_done(v, s);
	return r;
}

int vault_number_user(struct vault *v, const char *area, const char *channel, uint32_t number,
    const char *job, struct vault_slot *out)
{
	/* Asked at every arrival. Left to itself SQLite goes through all programs of the area; with
	 * number>0 in place of number<>0 through all numbers of the channel. */
	sqlite3_stmt *s = db_query(v,
	    "SELECT " STATE_SLOT " FROM slot INDEXED BY slot_number"
	    " WHERE area=? AND channel=? AND number=? AND number<>0"
	    " AND job<>? ORDER BY seq DESC LIMIT 1",
	    db_text(area), db_text(channel), db_int(number), db_text(job));
	int r = s ? db_next(v, s) : -1;

	memset(out, 0, sizeof(*out));
	if (r == 1 && state_read_slot(v, s, out) < 0)
		r = -1;
	db_done(v, s);
	return r;
}

char *vault_event_detail(struct vault *v, uint64_t seq)
{
	sqlite3_stmt *s = db_query(v, "SELECT detail FROM event WHERE seq=?", db_int((int64_t)seq));
	char *out = NULL;
	size_t n;

	if (s && db_next(v, s) == 1) {
		const char *t = db_column(s, 0, &n);

		if (n > 0) {
			out = strdup(t);
			if (!out)
				db_say(v, "memory ran out; ask again");
		}
	}
	db_done(v, s);
	return out;
}

enum { FILTER_TEXT = 2048, FILTER_ARGS = 10 };

/* The statement of a filter: only the conditions that are asked for, so that an index can serve
 * them. */
static sqlite3_stmt *filter(struct vault *v, const struct vault_filter *f, char *sql)
{
	struct db_arg arg[FILTER_ARGS];
	size_t n = 0;
	int at = snprintf(sql, FILTER_TEXT, "SELECT " ENTRY_COLUMNS " FROM event WHERE seq>?");

	arg[n++] = db_int((int64_t)f->after_seq);
#define WANT(condition, text, value)                                                               \
	if (condition) {                                                                           \
		at += snprintf(sql + at, FILTER_TEXT - at, "%s", text);                            \
		arg[n++] = value;                                                                  \
	}
	WANT(f->job && *f->job, " AND job=? AND job<>''", db_text(f->job))
	WANT(f->machine && *f->machine, " AND machine=? AND machine<>''", db_text(f->machine))
	WANT(f->kind && *f->kind, " AND kind=?", db_text(f->kind))
	WANT(f->who && *f->who, " AND instr(who,?)>0", db_text(f->who))
	WANT(f->text && *f->text,
	    " AND instr(lower(outcome||' '||text||' '||detail),lower(?))>0", db_text(f->text))
	WANT(f->from_us != 0, " AND utc_us>=?", db_int(f->from_us))
	WANT(f->to_us != 0, " AND utc_us<?", db_int(f->to_us))
#undef WANT
	snprintf(
	    sql + at, FILTER_TEXT - at, " ORDER BY seq%s LIMIT ?", f->oldest_first ? "" : " DESC");
	arg[n++] = db_int(f->limit > 0 && f->limit < INT64_MAX ? (int64_t)f->limit : -1);
	return db_stmt_once(v, sql, arg, n);
}

int vault_events(struct vault *v, const struct vault_filter *f,
    int (*fn)(void *ctx, const struct event *e, const struct sha *hash), void *ctx)
{
	char sql[FILTER_TEXT];
	sqlite3_stmt *s = filter(v, f, sql);
	int r;

	while ((r = s ? db_next(v, s) : -1) == 1) {
		struct entry en;
		struct event e;
		struct sha hash;

		entry_of_row(&en, s);
		if (entry_event(&en, &e) < 0)
			r = db_damaged(v, "the programs of an entry cannot be read");
		else
			r = db_sha(v, s, ENTRY_HASH_COLUMN, &hash);
		if (r == 0)
			r = fn(ctx, &e, &hash);
		if (r != 0)
			break;
	}
	db_done(v, s);
	return r;
}
