/*
 * The control's program memory for one channel: programs by number, a limit in bytes, and, when
 * asked, a copy of each program as the file DIR/CHANNEL/Onnnn.nc, for whoever looks from outside.
 *
 * A program's text is kept in seven-bit characters with LF as end of block, without the `%` lines.
 */
#ifndef BENCH_STORE_H
#define BENCH_STORE_H

#include <stdbool.h>
#include <stddef.h>

enum {
	STORE_NUMBER_MAX = 99999999, /* eight digits, as the longest form in common practice */
	STORE_ALL = -1,
	STORE_NEWEST = -2, /* what came with the newest load */
};

struct program {
	long number;
	char *text; /* owned by the store, `len` bytes and a NUL */
	size_t len, size;
	bool whole;    /* false: a stump, its load never came to its end */
	unsigned load; /* the load that brought it */
};

struct store;

/*
 * An empty memory of `memory` bytes for the channel (a name without a slash). dir: where the copies
 * go, or NULL. `recall`: the copies that are there already are read in (a memory with battery);
 * otherwise they are removed. NULL with errno set. The caller frees it with store_free(); the
 * copies stay.
 */
struct store *store_new(const char *channel, const char *dir, size_t memory, bool recall);
void store_free(struct store *s);

/* Changes the limit, in bytes. Programs that are there stay. */
void store_limit(struct store *s, size_t memory);
size_t store_used(const struct store *s);

/* A load begins: programs opened from here on belong together. */
void store_begin_load(struct store *s);

/* The program with this number, or NULL. Valid until the store changes. */
const struct program *store_find(const struct store *s, long number);

/* The i-th program in the order in which they came, or NULL. Valid until the store changes. */
const struct program *store_at(const struct store *s, size_t i);

/* True when the program came with the newest load that brought any. */
bool store_is_newest(const struct store *s, const struct program *p);

/* True when the load under way, or the last one, has brought a program. */
bool store_brought(const struct store *s);

/* Opens a program for storing; one of the same number is gone from now on. False without memory of
 * our own. */
bool store_open(struct store *s, long number);

/* Adds a character to the open program. False: the memory is full, nothing was added. */
bool store_add(struct store *s, char c);

/* Closes the open program, if any, as whole or as a stump. False: the copy could not be written
 * (errno). */
bool store_close(struct store *s, bool whole);

/*
 * The operator replaces the first `was` by `is`, in the newest program that holds it. Returns the
 * number of the program, or -1 when there is none, -2 when the memory is full, -3 when the copy
 * could not be written.
 */
long store_edit(struct store *s, const char *was, const char *is);

/* Deletes one program, or STORE_ALL. Returns how many are gone. */
size_t store_delete(struct store *s, long number);

#endif
