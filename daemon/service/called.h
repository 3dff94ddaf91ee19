/*
 * A call from a machine's keyboard, answered like any other request: the same functions, the same
 * refusals, the same events. Who asks is the machine, or the person whose badge the call names.
 */
#ifndef CALLED_H
#define CALLED_H

#include "inside.h"

enum called {
	CALLED_NO = 0,  /* the text holds no call */
	CALLED_REFUSED, /* it holds one that cannot be followed; that is recorded */
	CALLED_DONE,    /* followed: something was recorded */
	CALLED_ORDER,   /* followed: an order is queued */
};

/* Read a punched text of n bytes in canonical form, and do what it asks. */
enum called called(struct service *s, struct service_machine *m, const void *text, size_t n);

#endif
