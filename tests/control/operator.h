/*
 * The operator's command interface: a stream socket that takes one command a line.
 *
 * Answer: a line `ok TEXT` or `error TEXT`, any number of lines that begin with a blank, an empty
 * line. Commands and their words: operator_commands in commands.c, listed by `help`.
 */
#ifndef BENCH_OPERATOR_H
#define BENCH_OPERATOR_H

#include <poll.h>
#include <stdbool.h>
#include <stdint.h>

struct bench;
struct operator_desk;

enum { OPERATOR_CLIENTS = 16, OPERATOR_POLLS = OPERATOR_CLIENTS + 1 };

/*
 * Listens at `where`: a path for a Unix socket (one left over is replaced), or a TCP port on
 * 127.0.0.1, 0 for any free. NULL with errno. The caller ends it with operator_free(), which
 * removes the path.
 */
struct operator_desk *operator_new(const char *where, struct bench *b);
void operator_free(struct operator_desk *o);

/* The address to tell, valid as long as o. */
const char *operator_address(const struct operator_desk *o);

/* Fills f[OPERATOR_POLLS] with what to poll for; unused ones have fd -1. */
void operator_polls(const struct operator_desk *o, struct pollfd *f);

/* Does what poll found, and answers the waits that are fulfilled or too old at `now` (ns). */
void operator_step(struct operator_desk *o, uint64_t now, const struct pollfd *f);

/* When a wait gets too old, ns; LINE_NEVER. */
uint64_t operator_next(const struct operator_desk *o);

/* True after the command `quit`. */
bool operator_quits(const struct operator_desk *o);

#endif
