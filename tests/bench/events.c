/*
 * Durable events a second: a machine is locked and unlocked in turn, each an event with its change
 * of state in a transaction of its own; against a bare write and fdatasync of as many bytes as such
 * an event has, appended to a file in the same folder. The two take turns, so that a disk that
 * slows down slows both.
 *
 *     bench-events DIR COUNT     prints: events/s, bare records/s
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "vault.h"

enum {
	TURN = 50,    /* of each before the other's turn */
	RECORD = 256, /* texts of the event, its numbers, and two hashes of 32 bytes */
};

struct bench {
	struct vault *vault;
	int bare;
	int64_t utc_us; /* made up: one event a millisecond */
};

static double now(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static int some_events(struct bench *b)
{
	static const struct vault_about about = {
	    .machine = "LATHE1", .text = "the setter measures the tools of both channels"};

	for (int i = 0; i < TURN; i++) {
		struct vault_by by = {b->utc_us += 1000, "shop (uid 1000)", "socket"};
		uint64_t seq = i % 2 ? vault_record_unlocked(b->vault, &by, &about)
		                     : vault_record_locked(b->vault, &by, &about);

		if (!seq) {
			fprintf(stderr, "bench-events: %s\n", vault_error(b->vault));
			return -1;
		}
	}
	return 0;
}

static int some_bare(struct bench *b)
{
	static const char record[RECORD];

	for (int i = 0; i < TURN; i++)
		if (write(b->bare, record, sizeof(record)) != (ssize_t)sizeof(record) ||
		    fdatasync(b->bare)) {
			fprintf(stderr, "bench-events: %s\n", strerror(errno));
			return -1;
		}
	return 0;
}

static int measure(struct bench *b, long count)
{
	double events = 0, bare = 0, start;
	long done = 0;

	for (; done < count; done += TURN) {
		start = now();
		if (some_events(b))
			return -1;
		events += now() - start;
		start = now();
		if (some_bare(b))
			return -1;
		bare += now() - start;
	}
	printf("%.0f %.0f\n", (double)done / events, (double)done / bare);
	return 0;
}

int main(int argc, char **argv)
{
	struct bench b = {.bare = -1, .utc_us = 1750000000000000};
	char why[512];
	int failed = 1;

	if (argc != 3 || strtol(argv[2], NULL, 10) <= 0) {
		fprintf(stderr, "usage: bench-events DIR COUNT\n");
		return 2;
	}
	if (chdir(argv[1])) {
		fprintf(stderr, "bench-events: %s: %s\n", argv[1], strerror(errno));
		return 1;
	}
	b.vault = vault_open("bench.db", why, sizeof(why));
	if (!b.vault) {
		fprintf(stderr, "bench-events: %s\n", why);
		return 1;
	}
	b.bare = open("bare", O_WRONLY | O_CREAT | O_EXCL | O_APPEND | O_CLOEXEC, 0600);
	if (b.bare < 0)
		fprintf(stderr, "bench-events: bare: %s\n", strerror(errno));
	else
		failed = measure(&b, strtol(argv[2], NULL, 10)) ? 1 : 0;
	if (b.bare >= 0)
		close(b.bare);
	vault_close(b.vault);
	return failed;
}
