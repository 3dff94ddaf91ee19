/*
 * For tests in C: a bench control of one's own, its operator's answers, and a bare TCP sender.
 * Every failure is a failed assertion of the running test.
 */
#ifndef BENCH_BED_H
#define BENCH_BED_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

enum { BED_TEXT = 6000 };

struct bed {
	pid_t pid;
	char dir[256];     /* a scratch folder of this bed's own, removed at the end */
	char desk[300];    /* the operator's socket */
	unsigned ports[2]; /* of the one line, or of the upper and the lower one */
	char answer[8192]; /* the newest answer of bed_ask() */
	int from_child;    /* the bench control's stdout */
};

/* Makes the scratch folder, unless it is there. */
void bed_folder(struct bed *b);

/* Starts a bench control with these words after `--operator`; NULL ends them. The folder is made
 * once. */
void bed_start(struct bed *b, const char *const options[]);

/* Tells it to quit and waits for its end, which must be status 0. The folder stays. */
void bed_stop(struct bed *b);

/* Removes the folder. */
void bed_remove(struct bed *b);

/* Reads a file below the folder into `to`, which has `size` bytes, and ends it with a NUL. */
void bed_file(const struct bed *b, const char *name, char *to, size_t size);

/* Sends a command through `bench-control --ask`. The answer, ok or error, is in b->answer; true for
 * ok. */
bool bed_ask(struct bed *b, const char *command);

/* A whole number out of `figures`, by name. */
long bed_figure(struct bed *b, const char *name);

/* Connects to the i-th line. */
int bed_connect(const struct bed *b, size_t i);

/* Connects to the operator's socket. */
int bed_desk(const struct bed *b);

/* The next byte from the line, or -1 at its end, or -2 after `ms` milliseconds without one. */
int bed_byte(int fd, int ms);

/* Waits up to five seconds for this byte, passing over others. */
void bed_expect(int fd, uint8_t byte);

/* Sends at `cps` characters a second, 0: at once. `honours`: stops at DC3 (13 or 93 hex) until DC1.
 * False: closed. */
bool bed_send(int fd, const void *bytes, size_t n, double cps, bool honours);

/*
 * A program O4417 of about `size` bytes (below BED_TEXT) in text, and the same with even parity in
 * iso, both of BED_TEXT bytes. Returns its length.
 */
size_t bed_text(char *text, uint8_t *iso, size_t size);

/* The same bytes with even parity in bit 8. */
void bed_parity(uint8_t *bytes, size_t n);

#endif
