/* A scratch folder, a loop and an intake on it, with everything noted that the intake says. */
#ifndef YARD_H
#define YARD_H

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "intake.h"

struct yard_arrival {
	char path[1100];
	struct intake_state state;
	uint64_t bytes_read;
	uint32_t uid;
	uint32_t sum; /* of the bytes, to tell contents apart */
	bool complete;
	enum intake_reason reason;
};

struct yard_refusal {
	char path[1100];
	enum intake_refusal why;
	char text[1024];
};

struct yard {
	char base[256]; /* scratch folder, removed at the end */
	char root[300]; /* base/programs */
	uv_loop_t loop;
	struct intake_settings settings;
	struct intake *intake;
	struct yard_arrival *arrivals;
	size_t arrival_count, arrival_room;
	struct yard_refusal refusals[64];
	size_t refusal_count;
	size_t overflows, offlines, onlines, notices, scans;
	char text[1024]; /* of the last offline or notice */
	/* Called in the middle of an arrival, before it is noted; may be NULL. */
	void (*during)(struct yard *y, const struct intake_file *file);
};

/* Makes folder and loop; quick settings: poll 20 ms, settle 60 ms, incomplete 1500 ms. */
struct yard *yard_open(void);

/* Makes the intake and starts it, and runs the loop until the first scan has ended. */
void yard_start(struct yard *y);
void yard_make(struct yard *y); /* makes it only */

/* Ends intake and loop and removes the folder. */
void yard_close(struct yard *y);

/* Runs the loop for ms, or until *counter is at least value (false: it was not within 10 s). */
void yard_run(struct yard *y, unsigned ms);
bool yard_until(struct yard *y, const size_t *counter, size_t value);

/* Files below the root: whole text at once; text appended (and closed); folder. All fail the test
 * on error. */
void yard_write(struct yard *y, const char *path, const void *text, size_t size);
void yard_append(struct yard *y, const char *path, const void *text, size_t size);
void yard_folder(struct yard *y, const char *path);
void yard_rename(struct yard *y, const char *from, const char *to);
const char *yard_path(struct yard *y, const char *path); /* one of four static buffers */

/* A complete program of exactly size bytes (at least 40): `%`, blocks, M30, `%`. */
const char *yard_program(size_t size);

/* The only arrival of path, failing the test if there is none or more; number of arrivals of path.
 */
const struct yard_arrival *yard_only(struct yard *y, const char *path);
size_t yard_count(struct yard *y, const char *path);
size_t yard_refused(struct yard *y, const char *path, enum intake_refusal why);

#endif
