/*
 * The messages of yoke/carry.h on a SOCK_SEQPACKET socket, for both sides. Whatever comes in is
 * checked before anybody looks at it: magic, version, type, side, length, number of descriptors,
 * every enum and bool; every string is made to end. A message that fails is -EBADMSG, its
 * descriptors are closed.
 */
#ifndef MESSAGE_H
#define MESSAGE_H

#include <stddef.h>
#include "yoke/carry.h"

/* Who may have sent what is received: a parent sends ORDER, GO, CANCEL; a carrier the rest. */
enum message_from { MESSAGE_FROM_PARENT, MESSAGE_FROM_CARRIER };

struct message {
	enum carry_type type;
	union {
		struct carry_order order;
		struct carry_go go;
		struct carry_progress progress;
		struct carry_step step;
		struct carry_content content;
		struct carry_outcome outcome;
	};
	int fd[YOKE_CHANNELS_MAX]; /* close-on-exec; belong to the holder of the message */
	unsigned fds;
};

/*
 * Send one message. body: as type says, NULL for CARRY_CANCEL. fd: fds descriptors to attach, which
 * stay the caller's. flags: 0 or MSG_DONTWAIT. 0, or a negative errno: -EAGAIN when it would block,
 * -EPIPE when the other side is gone, -EBADMSG when the body is one that the other side would
 * refuse.
 */
int message_send(
    int sock, enum carry_type type, const void *body, const int *fd, unsigned fds, int flags);

/*
 * Receive one message from the given side. flags: 0 or MSG_DONTWAIT. 1 with *m filled; 0 when the
 * other side is gone; -EAGAIN when nothing is there; -EBADMSG for a message that is not allowed,
 * which is dropped; another negative errno.
 */
int message_receive(int sock, enum message_from from, struct message *m, int flags);

/* Close the descriptors that m still holds. */
void message_close(struct message *m);

/* Check a body as the receiver does, and make its strings end. 0, or -EBADMSG. body may be NULL for
 * CARRY_CANCEL. */
int message_check(enum carry_type type, void *body);

#endif
