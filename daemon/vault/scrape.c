/*
 * 1. Every page that says it is a leaf of a table is read cell by cell, whichever table it belongs to and
 *    whether anything leads there. A page that says nothing sensible, or whose cells are not where it says,
 *    is tried at every byte.
 * 2. What kind a row is, its columns' types tell: the tables of the vault differ in them (schema.c).
 * 3. A row's further pages are looked for in the view in which it was found.
 */
#include "scrape.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include "scrape_file.h"

enum { LEAF = 0x0d, LEAF_HEAD = 8, FILE_HEAD = 100, HASH_TYPE = 12 + 2 * YOKE_SHA_SIZE };

struct scrape {
	struct scrape_file file;
	struct scrape_list list[SCRAPE_KINDS];
};

/* A cell as it lies in its page. */
struct cell {
	uint64_t payload; /* bytes */
	int64_t rowid;
	size_t local;        /* of these in the page, */
	size_t at;           /* from here */
	uint64_t type[SCRAPE_COLUMNS];
	unsigned columns;
	size_t head; /* bytes of the record in front of its values */
};

/* A number of up to nine bytes that must end before end: its length, or 0. */
static size_t varint(const unsigned char *p, size_t at, size_t end, uint64_t *out)
{
	*out = 0;
	for (size_t i = 0; i < 9 && at + i < end; i++) {
		if (i == 8) {
			*out = *out << 8 | p[at + i];
			return 9;
		}
		*out = *out << 7 | (p[at + i] & 0x7f);
		if (!(p[at + i] & 0x80))
			return i + 1;
	}
	return 0;
}

static size_t local_part(uint64_t payload, size_t size)
{
	size_t most = size - 35, least = (size - 12) * 32 / 255 - 23, rest;

	if (payload <= most)
		return (size_t)payload;
	rest = least + (size_t)((payload - least) % (size - 4));
	return rest <= most ? rest : least;
}

static size_t type_size(uint64_t type)
{
	static const unsigned char size[] = {0, 1, 2, 3, 4, 6, 8, 8, 0, 0, 0, 0};

	return type < 12 ? size[type] : (size_t)((type - 12) / 2);
}

/* The cell at a place of a page: whether there can be one. */
static bool look(const struct scrape *s, const unsigned char *page, size_t at, struct cell *c)
{
	size_t end = s->file.size, n, used;
	uint64_t rowid, head, sum = 0;

	n = varint(page, at, end, &c->payload);
	if (!n || c->payload < 2 || c->payload > DB_TEXT_MAX + (1 << 20))
		return false;
	at += n;
	n = varint(page, at, end, &rowid);
	c->rowid = (int64_t)rowid;
	if (!n || c->rowid < 1)
		return false;
	c->at = at + n;
	c->local = local_part(c->payload, end);
	if (c->at + c->local + (c->local < c->payload ? 4 : 0) > end)
		return false;
	used = varint(page, c->at, c->at + c->local, &head);
	if (!used || head > c->local || head > 1 + 9 * SCRAPE_COLUMNS)
		return false;
	c->columns = 0;
	c->head = (size_t)head;
	while (used < head) {
		uint64_t type;

		n = varint(page, c->at + used, c->at + (size_t)head, &type);
		if (!n || c->columns == SCRAPE_COLUMNS || type == 10 || type == 11)
			return false;
		c->type[c->columns++] = type;
		if (type_size(type) > c->payload)
			return false;
		used += n;
		sum += type_size(type);
	}
	return used == head && head + sum == c->payload;
}

static bool is_int(uint64_t type)
{
	return (type >= 1 && type <= 6) || type == 8 || type == 9;
}

static bool is_text(uint64_t type)
{
	return type >= 13 && type % 2;
}

static bool is_blob(uint64_t type)
{
	return type >= 12 && type % 2 == 0;
}

static enum scrape_kind kind_of(const struct cell *c)
{
	const uint64_t *t = c->type;

	if (c->columns == 14) {
		bool fits = t[0] == 0 && is_int(t[1]) && is_int(t[2]) && t[10] == HASH_TYPE &&
		            is_blob(t[11]) && is_text(t[12]) && is_text(t[13]);

		for (int i = 3; i < 10; i++)
			fits = fits && is_text(t[i]);
		return fits ? SCRAPE_EVENT : SCRAPE_KINDS;
	}
	if (c->columns != 3)
		return SCRAPE_KINDS;
	if (t[0] == 0 && t[1] == HASH_TYPE && is_int(t[2]))
		return SCRAPE_PROGRAM;
	if (t[0] == 0 && is_int(t[1]) && t[2] == HASH_TYPE)
		return SCRAPE_TRAIL;
	if (t[0] == 0 && is_int(t[1]) && is_text(t[2]))
		return SCRAPE_CHECKPOINT;
	return is_int(t[0]) && is_int(t[1]) && is_blob(t[2]) ? SCRAPE_PIECE : SCRAPE_KINDS;
}

static int64_t int_at(uint64_t type, const unsigned char *p)
{
	size_t n = type_size(type);
	uint64_t x = n && p[0] & 0x80 ? UINT64_MAX : 0;

	if (type == 8 || type == 9)
		return (int64_t)type - 8;
	for (size_t i = 0; i < n; i++)
		x = x << 8 | p[i];
	return (int64_t)x;
}

/* Put it into the list of its kind, if it has one. 0; -1 no memory. */
static int take(struct scrape *s, const unsigned char *page, size_t at, const struct cell *c,
    unsigned view, bool by_force)
{
	enum scrape_kind kind = kind_of(c);
	struct scrape_cell new = {.key = c->rowid, .page = page, .at = (uint16_t)at,
	    .view = (uint8_t)view, .by_force = by_force};
	struct scrape_list *list;

	if (kind == SCRAPE_KINDS)
		return 0;
	if (kind == SCRAPE_PIECE) {
		const unsigned char *p = page + c->at + c->head;

		new.key = int_at(c->type[0], p);
		new.n = int_at(c->type[1], p + type_size(c->type[0]));
	}
	list = &s->list[kind];
	if (list->n == list->room) {
		size_t room = list->room ? 2 * list->room : 256;
		struct scrape_cell *v = reallocarray(list->v, room, sizeof(*v));

		if (!v)
			return -1;
		list->v = v;
		list->room = room;
	}
	list->v[list->n++] = new;
	return 0;
}

static int take_by_force(struct scrape *s, const unsigned char *page, unsigned view)
{
	struct cell c;

	for (size_t at = 0; at + 4 < s->file.size; at++)
		if (look(s, page, at, &c) && take(s, page, at, &c, view, true) < 0)
			return -1;
	return 0;
}

/* Its cells, where it says that they are. 1: some are not there; -1 no memory. */
static int take_leaf(
    struct scrape *s, const unsigned char *page, size_t head, unsigned view)
{
	size_t cells = (size_t)page[head + 3] << 8 | page[head + 4];
	struct cell c;
	int r = 0;

	if (head + LEAF_HEAD + 2 * cells > s->file.size)
		return 1;
	for (size_t i = 0; i < cells; i++) {
		const unsigned char *p = page + head + LEAF_HEAD + 2 * i;
		size_t at = (size_t)p[0] << 8 | p[1];

		if (at >= s->file.size || !look(s, page, at, &c))
			r = 1; /* a row of another table with more columns, or damage */
		else if (take(s, page, at, &c, view, false) < 0)
			return -1;
	}
	return r;
}

static int take_page(struct scrape *s, uint32_t number, const unsigned char *page, unsigned view)
{
	size_t head = number == 1 ? FILE_HEAD : 0;
	uint32_t first = scrape_u32(page);
	int r = 1;

	if (page[head] == LEAF)
		r = take_leaf(s, page, head, view);
	else if (page[head] == 0x02 || page[head] == 0x0a ||
	         first <= s->file.pages) /* an index's, or it goes on with a long row */
		r = 0;
	return r == 1 ? take_by_force(s, page, view) : r;
}

static int by_key(const void *a, const void *b)
{
	const struct scrape_cell *x = a, *y = b;

	if (x->key != y->key)
		return x->key < y->key ? -1 : 1;
	if (x->n != y->n)
		return x->n < y->n ? -1 : 1;
	if (x->view != y->view)
		return x->view < y->view ? -1 : 1;
	return x->by_force - y->by_force;
}

/* A page that looks the same in several views is read once, in the first of them. */
static int look_through(struct scrape *s)
{
	for (uint32_t number = 1; number <= s->file.pages && number; number++)
		for (unsigned view = 0; view < SCRAPE_VIEWS; view++) {
			const unsigned char *page = scrape_page(&s->file, view, number);
			bool seen = !page;

			for (unsigned other = 0; other < view && !seen; other++)
				seen = scrape_page(&s->file, other, number) == page;
			if (!seen && take_page(s, number, page, view) < 0)
				return -1;
		}
	for (int i = 0; i < SCRAPE_KINDS; i++)
		if (s->list[i].n > 1)
			qsort(s->list[i].v, s->list[i].n, sizeof(*s->list[i].v), by_key);
	return 0;
}

struct scrape *scrape_open(const char *path, char *why, size_t n)
{
	struct scrape *s = calloc(1, sizeof(*s));

	if (s && scrape_file_open(&s->file, path) == 0) {
		if (look_through(s) == 0)
			return s;
		errno = ENOMEM;
	}
	snprintf(why, n, "vault %.400s: it cannot be read: %s", path, strerror(errno));
	scrape_close(s);
	return NULL;
}

void scrape_close(struct scrape *s)
{
	if (!s)
		return;
	for (int i = 0; i < SCRAPE_KINDS; i++)
		free(s->list[i].v);
	scrape_file_close(&s->file);
	free(s);
}

const struct scrape_list *scrape_rows(const struct scrape *s, enum scrape_kind kind)
{
	return &s->list[kind];
}

/* The record in one piece. NULL: its further pages are not there. */
static unsigned char *gather(const struct scrape *s, const struct scrape_cell *at,
    const struct cell *c)
{
	size_t got = c->local, room = s->file.size - 4;
	uint32_t next = scrape_u32(at->page + c->at + c->local);
	unsigned char *all = malloc((size_t)c->payload);

	if (!all)
		return NULL;
	memcpy(all, at->page + c->at, got);
	while (got < c->payload) {
		const unsigned char *page = scrape_page(&s->file, at->view, next);
		size_t n = c->payload - got < room ? (size_t)c->payload - got : room;

		if (!page) {
			free(all);
			return NULL;
		}
		memcpy(all + got, page + 4, n);
		next = scrape_u32(page);
		got += n;
	}
	return all;
}

int scrape_read(const struct scrape *s, const struct scrape_cell *at, struct scrape_row *out)
{
	const unsigned char *p;
	struct cell c;

	*out = (struct scrape_row){0};
	if (!look(s, at->page, at->at, &c))
		return -1;
	p = at->page + c.at;
	if (c.local < c.payload) {
		p = out->own = gather(s, at, &c);
		if (!p)
			return -1;
	}
	p += c.head;
	for (unsigned i = 0; i < c.columns; i++) {
		struct scrape_column *to = &out->column[i];
		uint64_t type = c.type[i];

		to->type = type == 0 ? 'n' : is_text(type) ? 't' : is_blob(type) ? 'b' : 'i';
		to->p = p;
		to->n = type_size(type);
		to->i = to->type == 'i' ? int_at(type, p) : 0;
		p += to->n;
	}
	out->columns = c.columns;
	return 0;
}

void scrape_row_free(struct scrape_row *r)
{
	free(r->own);
	r->own = NULL;
}

size_t scrape_find(const struct scrape_list *list, int64_t key, size_t *at)
{
	size_t low = 0, high = list->n, n = 0;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (list->v[middle].key < key)
			low = middle + 1;
		else
			high = middle;
	}
	*at = low;
	while (low + n < list->n && list->v[low + n].key == key)
		n++;
	return n;
}
