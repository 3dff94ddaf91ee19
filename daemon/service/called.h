/*
 * A call from a machine's keyboard, answered like any other request: the same functions, the same
 * refusals, the same events. Who asks is the machine, or the person whose badge the call names.
 */
#ifndef CALLED_H
#define CALLED_H

#include "inside.h"

enum called {
	CALLED_NO = 0,  /* the text holds no call */
	CALLED_UNREAD,  /* it has the mark and cannot be read as a call: that is recorded, and it may
	                   be a program that somebody wants back */
	CALLED_REFUSED, /* it holds one that cannot be followed; that is recorded */
	CALLED_DONE,    /* followed: something was recorded */
	CALLED_ORDER,   /* followed: an order is queued */
	CALLED_AGAIN,   /* nothing could be recorded, and nothing was done */
};

/*
 * Read a punched text of n bytes in canonical form, and do what it asks. late: it came so long ago that
 * nobody may still wait for it; then a call is refused. *order: with CALLED_ORDER the one that is queued.
 */
enum called called(struct service *s, struct service_machine *m, const void *text, size_t n, bool late,
    uint64_t *order);

#endif
