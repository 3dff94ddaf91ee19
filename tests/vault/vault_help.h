/* A scratch vault and short ways to say what happens in an invented shop. */
#ifndef VAULT_HELP_H
#define VAULT_HELP_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <sqlite3.h>
#include <string.h>
#include "db.h"
#include "vault_seal.h"

struct bench {
	char dir[256];
	char path[300];
	struct vault *v;
	int64_t now_us; /* the tests' clock: each record is one second later */
};

/* cmocka set-up and tear-down: *state is a struct bench with an open, empty vault. */
int help_setup(void **state);
int help_teardown(void **state);

/* The same without cmocka, for a child process. */
void help_open(struct bench *b);
void help_reopen(struct bench *b);

/* SHA-256 of n bytes, by libcrypto's one-shot function rather than by the vault's own. */
struct sha help_sha(const void *bytes, size_t n);

/* Put a program into the vault; its SHA-256. */
struct sha help_keep(struct bench *b, const void *bytes, size_t n);

/* "now", said by who. */
struct vault_by help_by(struct bench *b, const char *who);

/* A part that shall hold, or holds, the program text; NULL: nothing. */
struct event_part help_part(const char *channel, const char *after);

/* A pair of two programs made of one word, in the vault: upper "WORD upper", lower "WORD lower". */
void help_pair(struct bench *b, const char *word, struct event_part part[2]);

/* From arrival to release, for machine "lathe"; the pair's parts in part. */
void help_released(
    struct bench *b, const char *job, const char *revision, struct event_part part[2]);

/* Queue an order of that kind for "lathe" and begin to carry it: its id. */
uint64_t help_order(struct bench *b, const char *act, const char *job, const char *revision,
    const struct event_part part[2]);

/* Released, queued, carried and read back. */
void help_loaded(struct bench *b, const char *job, const char *revision, struct event_part part[2]);

/* A day with every kind of event in it; the number of events. */
uint64_t help_day(struct bench *b);

/* A private key, for each number another one. */
struct ed25519 *help_private(int i);

/* Give the trail key i, signed by the key before (0: it is lost, or there is none). */
void help_key(struct bench *b, int i, int before);

/* Sign the trail as it is with key i: vault_seal's answer. */
int help_seal(struct bench *b, int i);

/* What is known of "lathe". */
struct vault_machine help_machine(struct bench *b);
struct vault_order help_find_order(struct bench *b, uint64_t id);

/* The vault fits its trail, programs included, and has that many events; 0: any number. */
void help_assert_good(struct bench *b, uint64_t events);

/* A teardown after which every file of the bench is gone. */
int help_wipe(void **state);

/* The closed vault's file as bytes, which the caller frees, and as a file again, unsynced. */
unsigned char *help_read_file(const char *path, size_t *n);
void help_write_file(const char *path, const unsigned char *bytes, size_t n);

/* Run SQL on the closed file through a connection of its own, as a tamperer would; he removes the note of the
 * trail's end too, so that what the vault itself shows is what is tested. */
void help_sql(const char *path, const char *sql);

/* The schema stops this SQL, and says why. */
void help_assert_stopped(sqlite3 *db, const char *sql, const char *why);

/* The single number that SQL gives. */
int64_t help_number(sqlite3 *db, const char *sql);

#define assert_recorded(b, call)                                                                   \
	do {                                                                                       \
		if ((call) == 0)                                                                   \
			fail_msg("%s", vault_error((b)->v));                                       \
	} while (0)

#endif
