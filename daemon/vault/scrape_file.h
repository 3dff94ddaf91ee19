/* The two files of a vault as pages. Inside scrape*.c only. */
#ifndef VAULT_SCRAPE_FILE_H
#define VAULT_SCRAPE_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/*
 * Three ways to see the pages: what SQLite would see, that is the file with the transactions that its log
 * holds whole; the file with every frame of the log, whatever is wrong with it; the file alone.
 */
enum { SCRAPE_VIEWS = 3 };

struct scrape_file {
	const unsigned char *db, *wal; /* mapped; NULL: empty or not there */
	size_t db_n, wal_n;
	size_t size;     /* of a page */
	uint32_t pages;  /* page numbers are 1 to pages */
	size_t *frame[2]; /* for the first two views: where in the log a page lies, 0: not there */
};

/* Map both. 0; -1 with errno. End with scrape_file_close in either case. */
int scrape_file_open(struct scrape_file *f, const char *path);
void scrape_file_close(struct scrape_file *f);

/* A page in a view; NULL when it is not there. */
const unsigned char *scrape_page(const struct scrape_file *f, unsigned view, uint32_t number);

static inline uint32_t scrape_u32(const unsigned char *p)
{
	return (uint32_t)p[0] << 24 | (uint32_t)p[1] << 16 | (uint32_t)p[2] << 8 | p[3];
}

#endif
