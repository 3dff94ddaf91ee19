/*
 * What is left of a damaged vault, read from the bytes of its file and of its write-ahead log without SQLite:
 * where a page that leads to others is gone, the others are found all the same. Nothing that is found here
 * is to be believed by itself: an entry is one by its hash, a program by its SHA-256. Nothing is written.
 *
 * The format is SQLite's: https://www.sqlite.org/fileformat2.html (from memory: leaf pages of tables,
 * records, overflow pages, frames of the log). Inside the vault only.
 */
#ifndef VAULT_SCRAPE_H
#define VAULT_SCRAPE_H

#include "db.h"

enum scrape_kind {
	SCRAPE_EVENT,
	SCRAPE_PROGRAM,
	SCRAPE_PIECE,
	SCRAPE_TRAIL,
	SCRAPE_CHECKPOINT,
	SCRAPE_KINDS,
};

enum { SCRAPE_COLUMNS = 14 };

/* Where a row lies; key: its rowid, of a piece its program; n: of a piece its number. */
struct scrape_cell {
	int64_t key, n;
	const unsigned char *page;
	uint16_t at;
	uint8_t view;  /* which pages its further pages are of: 0 is what SQLite would see */
	bool by_force; /* found by trying, not where its page says */
};

struct scrape_list {
	struct scrape_cell *v;
	size_t n, room;
};

struct scrape_column {
	char type; /* 'n'ull, 'i'nteger, 't'ext, 'b'lob */
	int64_t i;
	const unsigned char *p;
	size_t n;
};

struct scrape_row {
	struct scrape_column column[SCRAPE_COLUMNS];
	unsigned columns;
	unsigned char *own; /* what the columns point into, when it did not lie in one piece */
};

struct scrape;

/* Look through the vault at path, and PATH-wal where it is. NULL with one line in why. */
struct scrape *scrape_open(const char *path, char *why, size_t n);
void scrape_close(struct scrape *s);

/* The rows of a kind, by key, then n, then view; what SQLite would see stands first. */
const struct scrape_list *scrape_rows(const struct scrape *s, enum scrape_kind kind);

/* The rows of one key in such a list: from *at, as many as returned. */
size_t scrape_find(const struct scrape_list *list, int64_t key, size_t *at);

/* Read one. 0, -1: it cannot be put together. Free with scrape_row_free in either case. */
int scrape_read(const struct scrape *s, const struct scrape_cell *c, struct scrape_row *out);
void scrape_row_free(struct scrape_row *r);

#endif
