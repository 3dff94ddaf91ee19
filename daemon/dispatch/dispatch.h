/*
 * The parent's side of carriers: one process per order, one order per machine at a time.
 *
 * A carrier that is silent for longer than its phase allows is told to end (SIGTERM), then killed (SIGKILL), then
 * abandoned: its machine takes no new order until the process is gone. Every order that was started gives exactly one
 * outcome, also when the carrier dies without a word (CARRY_ERROR_CARRIER, channels as far as they are known) or is
 * abandoned (CARRY_ERROR_ABANDONED). Nothing here blocks.
 */
#ifndef DISPATCH_H
#define DISPATCH_H

#include <uv.h>
#include "yoke/carry.h"

struct dispatch;

struct dispatch_calls {
	/* The carrier asks for a step: record it, and return true when it is durable and allowed. */
	bool (*step)(void *ctx, const struct carry_order *order, const struct carry_step *step);
	void (*progress)(void *ctx, const struct carry_order *order, const struct carry_progress *p);
	/* fd is sealed memory of content->size bytes; the callee owns and closes it. */
	void (*content)(void *ctx, const struct carry_order *order, const struct carry_content *c, int fd);
	void (*outcome)(void *ctx, const struct carry_order *order, const struct carry_outcome *o);
	/* An abandoned carrier of this machine is gone at last. */
	void (*freed)(void *ctx, const char *machine);
};

struct dispatch_times { /* milliseconds */
	uint64_t silence; /* no message at all: 5000 by default; for CARRY_LISTEN the heartbeat more, until it
	                     is cancelled */
	uint64_t term;    /* from SIGTERM to SIGKILL: 2000 */
	uint64_t kill;    /* from SIGKILL to abandoned: 3000 */
};

/* carrier: path of yoke-carrier. calls and ctx must outlive it. times NULL: the defaults. NULL without memory. */
struct dispatch *dispatch_new(uv_loop_t *loop, const char *carrier, const struct dispatch_calls *calls, void *ctx,
    const struct dispatch_times *times);

/*
 * Start an order. fd[i] holds item i's program, sealed, when carry_brings(); dispatch duplicates what it needs, the caller
 * keeps its own. 0; -EBUSY when the machine has a carrier; another negative errno when it cannot be started (no outcome
 * is called then).
 */
int dispatch_start(struct dispatch *d, const struct carry_order *order, const int *fd);

/* Ask the machine's carrier to cancel. 0, or -ENOENT when there is none. The outcome comes by its callback. */
int dispatch_cancel(struct dispatch *d, const char *machine);

/* True while the machine has a carrier, abandoned or not. */
bool dispatch_busy(const struct dispatch *d, const char *machine);

/* Make sealed memory: fd of a memfd with size bytes written by fill, or a negative errno. */
int dispatch_seal(const char *name, int (*fill)(void *ctx, int fd), void *ctx);

/* Stop: TERM to all carriers, KILL to those that stay; handles are closed in the loop. Outcomes are not called. */
void dispatch_stop(struct dispatch *d);

/* Free after the loop has run its closing handles. */
void dispatch_free(struct dispatch *d);

#endif
