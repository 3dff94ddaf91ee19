/*
 * The carrier's side of the talk with its parent: heartbeats, steps that wait for their grant,
 * contents, the outcome; and the wish to stop, which comes as CARRY_CANCEL, as SIGTERM or SIGINT,
 * or because the parent is gone.
 *
 * By hand in the foreground there is no parent: every step is granted, and the calls of struct
 * parent_hand show what goes on.
 */
#ifndef PARENT_H
#define PARENT_H

#include <poll.h>
#include <stdbool.h>
#include <stdint.h>
#include "yoke/carry.h"

struct parent;

/* In the foreground, in place of messages. content owns fd. */
struct parent_hand {
	void (*progress)(void *ctx, const struct carry_progress *p);
	void (*step)(void *ctx, const struct carry_step *s);
	/* 0, or a negative errno: what came is not kept, and nothing may be put in its place. */
	int (*content)(void *ctx, const struct carry_content *c, int fd);
	void (*outcome)(void *ctx, const struct carry_outcome *o);
};

struct message;

/*
 * sock: the socket to the parent, or -1 with hand and ctx. stop_fd: a signalfd of the signals that
 * mean "stop", -1 for none. Neither is closed. NULL without memory.
 */
struct parent *parent_new(int sock, int stop_fd, const struct parent_hand *hand, void *ctx);
void parent_free(struct parent *p);

/* Milliseconds of the monotonic clock. */
uint64_t parent_now(void);

/* Wait up to ms for the order. 0 with *m holding CARRY_ORDER and its descriptors; -EBADMSG; -EPIPE;
 * -ETIMEDOUT. */
int parent_order(struct parent *p, struct message *m, uint64_t ms);

/* Ask for a step and wait for the grant. False: do not, or stop was asked meanwhile. */
bool parent_step(struct parent *p, enum carry_step_kind step, uint32_t item);

/*
 * Ask for a step that brings the machine back to a state that can be told: asked also when
 * stopping, and taken as granted when nobody is there any more to grant it.
 */
bool parent_step_back(struct parent *p, enum carry_step_kind step, uint32_t item);

/* Where things stand. Sent at once when item or phase change, else at most five times a second. */
void parent_progress(struct parent *p, const struct carry_progress *at);

/* Call often in long work: sends the heartbeat when it is due. True when the work should stop. */
bool parent_tick(struct parent *p);

/* True when nobody is at the other end any more: what is handed over is lost. */
bool parent_gone(const struct parent *p);

/* True when stop was asked; looks at the socket and the signals, unless parent_wait() just did, and
 * does not wait. */
bool parent_stopping(struct parent *p);

/*
 * Wait up to ms for events (as poll's) on fd, with heartbeats. The events that came; 0 when the
 * time is over or when stop was asked, now or before: ask parent_stopping(). fd -1: only wait.
 * -errno when poll fails.
 */
int parent_wait(struct parent *p, int fd, short events, uint64_t ms);

/*
 * The same for n descriptors, at most PARENT_WAIT_MAX: how many have revents, or -errno. ms
 * UINT64_MAX: for ever. When stop was asked before, it waits once, up to ms.
 */
enum { PARENT_WAIT_MAX = YOKE_CHANNELS_MAX };
int parent_wait_any(struct parent *p, struct pollfd *own, unsigned n, uint64_t ms);

/* From now on a heartbeat is due as for CARRY_LISTEN, until stop is asked. */
void parent_beat_slowly(struct parent *p);

/* Hand over size bytes in sealed memory fd. fd stays the caller's. 0, or a negative errno. */
int parent_content(struct parent *p, uint32_t item, enum carry_role role, int fd, uint64_t size,
    const struct sha *sha);

/* The same with a word about it. */
int parent_content_note(struct parent *p, uint32_t item, enum carry_role role, int fd,
    uint64_t size, const struct sha *sha, const char *note);

/* The last message: nothing is sent after it. 0, or a negative errno. */
int parent_outcome(struct parent *p, const struct carry_outcome *o);

#endif
