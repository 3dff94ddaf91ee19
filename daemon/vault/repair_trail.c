/*
 * 1. From entry to entry: of what was found under the next number, that is the next entry whose hash is that
 *    of its fields after the entry before.
 * 2. A log may hold two of them: one of a transaction that was rolled back, and the one that was recorded in
 *    its place. The note beside the vault decides (endnote.h): the trail leads to the entry that it tells. Then
 *    what SQLite would see goes first, then what is longer.
 * 3. Behind the note's entry only what SQLite would see was recorded. Without a note what is found there may
 *    be of a transaction that was never ended; nothing shows it.
 */
#include <stdio.h>
#include <stdlib.h>
#include "append.h"
#include "entry.h"
#include "hash.h"
#include "node.h"
#include "repair.h"
#include "sealed.h"

/* A text ends with a NUL for us, and has none inside. */
static bool texts(const struct scrape_row *row, struct entry *en, struct text *own)
{
	static const unsigned char column[ENTRY_TEXTS] = {3, 4, 5, 6, 7, 8, 9, 12, 13};
	size_t at[ENTRY_TEXTS];

	for (int i = 0; i < ENTRY_TEXTS; i++) {
		const struct scrape_column *c = &row->column[column[i]];

		if (memchr(c->p, 0, c->n))
			return false;
		at[i] = own->n;
		text_add(own, (const char *)c->p, c->n);
		text_add(own, "", 1);
		en->text[i].n = c->n;
	}
	for (int i = 0; i < ENTRY_TEXTS && !own->failed; i++)
		en->text[i].s = own->s + at[i];
	return !own->failed;
}

/* A cell as an entry; what it points into is row and own. */
static bool entry_of(const struct repair *r, const struct scrape_cell *cell, struct scrape_row *row,
    struct text *own, struct entry *en, struct sha *hash)
{
	if (scrape_read(r->from, cell, row) < 0 || row->columns != 14)
		return false;
	*en = (struct entry){.seq = (uint64_t)cell->key,
	    .utc_us = row->column[1].i,
	    .order = (uint64_t)row->column[2].i,
	    .parts = row->column[11].p,
	    .parts_n = row->column[11].n};
	memcpy(hash->b, row->column[10].p, sizeof(hash->b));
	return texts(row, en, own);
}

/* Whether a cell is the entry after prev, and its hash. */
static bool follows(
    const struct repair *r, const struct scrape_cell *cell, const struct sha *prev, struct sha *hash)
{
	struct scrape_row row = {0};
	struct text own = {0};
	struct entry en;
	struct sha computed;
	bool fits = entry_of(r, cell, &row, &own, &en, hash) &&
	            entry_hash(r->to->hash, prev, &en, &computed) == 0 &&
	            memcmp(&computed, hash, sizeof(computed)) == 0;

	scrape_row_free(&row);
	text_free(&own);
	return fits;
}

/* The first cell that is the entry after prev, and the hash of that entry; NULL. */
static const struct scrape_cell *first_fit(
    const struct repair *r, int64_t seq, const struct sha *prev, struct sha *hash)
{
	const struct scrape_list *list = scrape_rows(r->from, SCRAPE_EVENT);
	size_t at, n = scrape_find(list, seq, &at);

	for (size_t i = 0; i < n; i++)
		if (follows(r, &list->v[at + i], prev, hash))
			return &list->v[at + i];
	return NULL;
}

/* What speaks for a way: that it leads to the entry that the note tells, that SQLite would see it, its
 * length. */
static uint64_t weight(const struct repair *r, const struct scrape_cell *cell, const struct sha *hash)
{
	const uint64_t told = UINT64_C(1) << 62, seen = UINT64_C(1) << 61;
	struct sha h = *hash, next;
	int64_t seq = cell->key;
	uint64_t w = cell->view == 0 ? seen : 0;

	for (;; seq++, h = next) {
		if ((uint64_t)seq == r->told.seq && memcmp(&h, &r->told.head, sizeof(h)) == 0)
			w |= told;
		if (!first_fit(r, seq + 1, &h, &next))
			break;
	}
	return w + (uint64_t)seq;
}

/* The next entry after prev, which is entry seq - 1. */
static const struct scrape_cell *best(const struct repair *r, int64_t seq, const struct sha *prev)
{
	const struct scrape_list *list = scrape_rows(r->from, SCRAPE_EVENT);
	const struct scrape_cell *found = NULL;
	struct sha hash, chosen = {{0}};
	size_t at, n = scrape_find(list, seq, &at);
	uint64_t most = 0, w;

	for (size_t i = 0; i < n; i++) {
		const struct scrape_cell *cell = &list->v[at + i];

		/* Behind what the note tells, what SQLite would not see was never recorded. */
		if (r->told.seq > 0 && (uint64_t)seq > r->told.seq && cell->view != 0)
			continue;
		if (!follows(r, cell, prev, &hash) ||
		    (found && memcmp(&hash, &chosen, sizeof(hash)) == 0))
			continue;
		if (found && most == 0)
			most = weight(r, found, &chosen);
		w = found ? weight(r, cell, &hash) : 0;
		if (found && w <= most)
			continue;
		found = cell;
		chosen = hash;
		most = w;
	}
	return found;
}

/* 1 appended, 0 this version does not know such an entry, -1 failed. */
static int take(struct repair *r, const struct scrape_cell *cell, struct sha *head)
{
	struct scrape_row row = {0};
	struct text own = {0};
	struct entry en;
	int done = -1;

	if (!entry_of(r, cell, &row, &own, &en, head))
		db_say(r->to, "memory ran out");
	else
		done = append_again(r->to, &en, head);
	scrape_row_free(&row);
	text_free(&own);
	return done;
}

static int take_entries(struct repair *r)
{
	struct sha head = {{0}};
	const struct scrape_cell *cell;
	int done;

	while ((cell = best(r, (int64_t)r->out->events + 1, &head))) {
		done = take(r, cell, &head);
		if (done < 0)
			return -1;
		if (done == 0)
			return db_say(r->to,
			    "entry %llu is of a kind that this version of yoked does not know: install the "
			    "later one again; nothing was changed",
			    (unsigned long long)r->out->events + 1);
		r->out->events++;
	}
	return 0;
}

/* Whether a cell counts for how long the trail was. */
static bool counts(const struct repair *r, const struct scrape_cell *c)
{
	return !c->by_force && (c->view == 0 || r->told.seq == 0);
}

/* The highest entry that somebody wrote: the trail's own note of its end, or an entry in its place. */
static uint64_t highest(const struct repair *r)
{
	const struct scrape_list *ends = scrape_rows(r->from, SCRAPE_TRAIL),
	                         *events = scrape_rows(r->from, SCRAPE_EVENT);
	uint64_t most = 0;

	for (size_t i = 0; i < ends->n; i++) {
		struct scrape_row row = {0};

		if (ends->v[i].key == 1 && counts(r, &ends->v[i]) &&
		    scrape_read(r->from, &ends->v[i], &row) == 0 && row.column[1].i > 0 && (uint64_t)row.column[1].i > most)
			most = (uint64_t)row.column[1].i;
		scrape_row_free(&row);
	}
	for (size_t i = 0; i < events->n; i++)
		if (counts(r, &events->v[i]) && (uint64_t)events->v[i].key > most)
			most = (uint64_t)events->v[i].key;
	return most;
}

/* A checkpoint that is the next one of this trail: 1 kept, 0 not, -1. */
static int take_checkpoint(struct repair *r, const struct scrape_cell *cell)
{
	struct scrape_row row = {0};
	struct tree tree = node_tree(r->to);
	struct checkpoint c;
	struct sha root;
	int kept = 0;

	if (scrape_read(r->from, cell, &row) < 0 ||
	    !sealed_read((const char *)row.column[2].p, row.column[2].n, NULL, &c) ||
	    c.number != (uint64_t)cell->key || c.size != (uint64_t)row.column[1].i || c.size == 0 ||
	    c.size > r->out->events)
		goto out;
	kept = tree_root_of(&tree, c.size, &root);
	if (kept == 0 && memcmp(&root, &c.root, sizeof(root)) == 0)
		kept = db_run(r->to, "INSERT INTO checkpoint(n,size,note) VALUES(?,?,?)",
		           db_int(cell->key), db_int((int64_t)c.size),
		           (struct db_arg){DB_TEXT, row.column[2].p, row.column[2].n, 0}) < 0
		           ? -1
		           : 1;
out:
	scrape_row_free(&row);
	return kept;
}

static int take_checkpoints(struct repair *r)
{
	const struct scrape_list *list = scrape_rows(r->from, SCRAPE_CHECKPOINT);
	int64_t most = 0;
	int done = 1;

	for (size_t i = 0; i < list->n; i++)
		if (!list->v[i].by_force && list->v[i].key > most)
			most = list->v[i].key;
	while (done == 1) {
		size_t at, n = scrape_find(list, (int64_t)r->out->checkpoints + 1, &at);

		done = 0;
		for (size_t i = 0; i < n && done == 0; i++)
			done = take_checkpoint(r, &list->v[at + i]);
		if (done == 1)
			r->out->checkpoints++;
	}
	if ((uint64_t)most > r->out->checkpoints) {
		r->out->lost_checkpoints = (uint64_t)most - r->out->checkpoints;
		repair_say(r, "checkpoints %llu to %lld of the trail",
		    (unsigned long long)r->out->checkpoints + 1, (long long)most);
	}
	return done < 0 ? -1 : 0;
}

/* An entry that names a key ends a checkpoint, which this key signed: where that is lost, verify is told. */
static int tell_unsealed(struct repair *r)
{
	sqlite3_stmt *s = db_stmt(r->to,
	    "SELECT seq FROM seal_key WHERE seq NOT IN (SELECT size FROM checkpoint) ORDER BY seq", NULL,
	    0);
	int done;

	while ((done = s ? db_next(r->to, s) : -1) == 1) {
		long long seq = sqlite3_column_int64(s, 0);

		text_printf(&r->unsealed, "%s%lld", r->unsealed.n ? "," : "", seq);
		repair_say(r, "the checkpoint that was signed with entry %lld, which names a key", seq);
	}
	db_done(r->to, s);
	return done;
}

int repair_trail(struct repair *r)
{
	uint64_t most = highest(r);

	if (take_entries(r) < 0)
		return -1;
	if (r->told.seq > most)
		most = r->told.seq;
	if (most > r->out->events) {
		r->out->lost_from = r->out->events + 1;
		r->out->lost_to = most;
		repair_say(r, "entries %llu to %llu of the trail", (unsigned long long)r->out->lost_from,
		    (unsigned long long)most);
	}
	return take_checkpoints(r) < 0 ? -1 : tell_unsealed(r);
}
