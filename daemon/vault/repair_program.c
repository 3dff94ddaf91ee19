/*
 * A program is saved when some of the pieces that were found under its number make its SHA-256. Numbers of
 * programs that were dropped on their way in are used again, so that there may be several pieces of one place:
 * what SQLite would see goes first, and then the others are tried.
 */
#include <stdio.h>
#include <stdlib.h>
#include "entry.h"
#include "hash.h"
#include "repair.h"

enum { TRIES = 256, PIECES_MAX = 4096 };

/* The pieces of one number: of piece n the cells first[n] to first[n + 1]. */
struct pieces {
	const struct scrape_cell *cell;
	size_t *first;
	size_t n;
};

/* From 0 on without a gap. 0; -1 no memory. */
static int take_pieces(const struct repair *r, int64_t key, struct pieces *out)
{
	const struct scrape_list *list = scrape_rows(r->from, SCRAPE_PIECE);
	size_t at, end = scrape_find(list, key, &at), n = 0;

	*out = (struct pieces){.cell = list->v};
	end += at;
	out->first = calloc(end - at + 1, sizeof(*out->first));
	if (!out->first)
		return -1;
	while (at < end && list->v[at].n < 0)
		at++;
	for (; at < end && list->v[at].n == (int64_t)n && n < PIECES_MAX; n++) {
		out->first[n] = at;
		while (at < end && list->v[at].n == (int64_t)n)
			at++;
	}
	out->first[n] = at;
	out->n = n;
	return 0;
}

static const struct scrape_cell *chosen(const struct pieces *p, const size_t *choice, size_t n)
{
	return &p->cell[p->first[n] + choice[n]];
}

/* The SHA-256 of the first so many pieces, as they are chosen. 0, and their size; -1 they cannot be read. */
static int sum(const struct repair *r, const struct pieces *p, const size_t *choice, size_t pieces,
    struct sha *out, uint64_t *size)
{
	struct hash *h = hash_new();
	int rc = h ? 0 : -1;

	*size = 0;
	if (h)
		hash_start(h);
	for (size_t i = 0; i < pieces && rc == 0; i++) {
		struct scrape_row row = {0};

		rc = scrape_read(r->from, chosen(p, choice, i), &row);
		if (rc == 0) {
			hash_add(h, row.column[2].p, row.column[2].n);
			*size += row.column[2].n;
		}
		scrape_row_free(&row);
	}
	if (rc == 0)
		rc = hash_end(h, out);
	hash_free(h);
	return rc;
}

/* The next choice; false when there is none. */
static bool next(const struct pieces *p, size_t *choice)
{
	for (size_t i = p->n; i-- > 0;) {
		if (p->first[i] + ++choice[i] < p->first[i + 1])
			return true;
		choice[i] = 0;
	}
	return false;
}

static int keep(struct repair *r, const struct pieces *p, const size_t *choice, const struct sha *sha)
{
	struct vault_stage *s = vault_stage_new(r->to);

	if (!s)
		return -1;
	for (size_t i = 0; i < p->n; i++) {
		struct scrape_row row = {0};
		int rc = scrape_read(r->from, chosen(p, choice, i), &row);

		if (rc == 0)
			rc = vault_stage_add(s, row.column[2].p, row.column[2].n);
		scrape_row_free(&row);
		if (rc < 0) {
			vault_stage_drop(s);
			return -1;
		}
	}
	return vault_stage_keep(s, sha);
}

static bool has(struct vault *v, const struct sha *sha)
{
	return vault_program_size(v, sha) >= 0;
}

/* The program of this number, if its pieces make one that sha names, or without sha any that is wanted. 1
 * saved, 0 not, -1. */
static int save(struct repair *r, int64_t key, const struct sha *sha,
    bool (*wanted)(void *ctx, const struct sha *sha), void *ctx)
{
	struct pieces p;
	size_t *choice = NULL;
	int saved = 0;

	if (take_pieces(r, key, &p) < 0)
		return db_say(r->to, "memory ran out");
	choice = calloc(p.n + 1, sizeof(*choice));
	for (int i = 0; choice && saved == 0 && i < TRIES; i++) {
		struct sha got;
		uint64_t size;
		bool fits = sum(r, &p, choice, p.n, &got, &size) == 0 &&
		            (sha ? memcmp(&got, sha, sizeof(got)) == 0 : wanted(ctx, &got));

		if (fits)
			saved = keep(r, &p, choice, &got) < 0 ? -1 : 1;
		if (!next(&p, choice))
			break;
	}
	if (!choice)
		saved = db_say(r->to, "memory ran out");
	free(choice);
	free(p.first);
	return saved;
}

/* The SHA-256 of programs that are to be there: what came in, and what the table of programs says. */
struct wants {
	struct sha *v;
	size_t n, room;
};

static int want(struct wants *w, const struct sha *sha)
{
	if (w->n == w->room) {
		size_t room = w->room ? 2 * w->room : 64;
		struct sha *v = reallocarray(w->v, room, sizeof(*v));

		if (!v)
			return -1;
		w->v = v;
		w->room = room;
	}
	w->v[w->n++] = *sha;
	return 0;
}

static int by_bytes(const void *a, const void *b)
{
	return memcmp(a, b, sizeof(struct sha));
}

static bool is_wanted(void *ctx, const struct sha *sha)
{
	struct wants *w = ctx;

	return w->n > 0 && bsearch(sha, w->v, w->n, sizeof(*w->v), by_bytes) != NULL;
}

static void tidy(struct wants *w)
{
	size_t n = 0;

	if (w->n > 1)
		qsort(w->v, w->n, sizeof(*w->v), by_bytes);
	for (size_t i = 0; i < w->n; i++)
		if (n == 0 || memcmp(&w->v[n - 1], &w->v[i], sizeof(*w->v)) != 0)
			w->v[n++] = w->v[i];
	w->n = n;
}

static int arrived(void *ctx, const struct event *e, const struct sha *hash)
{
	for (uint32_t i = 0; i < e->parts; i++)
		if (e->part[i].has_after && want(ctx, &e->part[i].after) < 0)
			return -1;
	return 0;
}

static int save_by_table(struct repair *r, struct wants *w)
{
	const struct scrape_list *list = scrape_rows(r->from, SCRAPE_PROGRAM);

	for (size_t i = 0; i < list->n; i++) {
		struct scrape_row row = {0};
		struct sha sha;
		int saved = 0;

		if (scrape_read(r->from, &list->v[i], &row) < 0)
			continue;
		memcpy(sha.b, row.column[1].p, sizeof(sha.b));
		scrape_row_free(&row);
		if (!has(r->to, &sha))
			saved = save(r, list->v[i].key, &sha, NULL, NULL);
		/* What SQLite would not see may have been dropped; so may what was found by trying. */
		if (saved < 0 || (!list->v[i].by_force && list->v[i].view == 0 && want(w, &sha) < 0))
			return -1;
	}
	return 0;
}

/* Pieces whose row in the table of programs is gone: their SHA-256 says whether the trail knows them. */
static int save_orphans(struct repair *r, struct wants *w)
{
	size_t missing = w->n;

	const struct scrape_list *list = scrape_rows(r->from, SCRAPE_PIECE);

	for (size_t i = 0; i < list->n && missing > 0; i++) {
		int saved;

		if (i > 0 && list->v[i].key == list->v[i - 1].key)
			continue;
		saved = save(r, list->v[i].key, NULL, is_wanted, w);
		if (saved < 0)
			return -1;
		missing -= saved > 0 && missing > 0;
	}
	return 0;
}

/* Those of them that are not saved yet. */
static int still_missing(struct repair *r, const struct wants *w, struct wants *out)
{
	for (size_t i = 0; i < w->n; i++)
		if (!has(r->to, &w->v[i]) && want(out, &w->v[i]) < 0)
			return -1;
	return 0;
}

static void tell(struct repair *r, const struct wants *w)
{
	char hex[YOKE_SHA_HEX + 1];

	for (size_t i = 0; i < w->n; i++) {
		if (has(r->to, &w->v[i])) {
			r->out->programs++;
			continue;
		}
		for (int k = 0; k < YOKE_SHA_SIZE; k++)
			sprintf(hex + 2 * k, "%02x", w->v[i].b[k]);
		repair_say(r, "program %s", hex);
		text_printf(&r->lost, "%s\"%s\"", r->out->lost_programs ? "," : "", hex);
		r->out->lost_programs++;
	}
}

int repair_programs(struct repair *r)
{
	struct vault_filter all = {.kind = event_name(EVENT_ARRIVED), .oldest_first = true};
	struct wants w = {0}, missing = {0};
	int done = -1;

	if (vault_events(r->to, &all, arrived, &w) != 0 || save_by_table(r, &w) < 0)
		goto out;
	tidy(&w);
	if (still_missing(r, &w, &missing) < 0 || save_orphans(r, &missing) < 0)
		goto out;
	tell(r, &w);
	done = 0;
out:
	if (done < 0 && !*vault_error(r->to))
		db_say(r->to, "memory ran out");
	free(w.v);
	free(missing.v);
	return done;
}
