/* An order's outcome while it is turned into events. Private to finish.c and fetched.c. */
#ifndef ENDING_H
#define ENDING_H

#include "finish.h"

struct ending {
	struct service *s;
	struct service_machine *m;
	const struct vault_order *o;
	const struct carry_order *order;
	const struct carry_outcome *out;
	struct vault_about about;
	struct event_part part[YOKE_CHANNELS_MAX];
	const char *error; /* for the stream */
	char text[CARRY_TEXT_MAX + 1024];
};

/* What came beside the programs of the order is told behind everything else. */
void ending_more(struct ending *e);

/* The end of a fetch. 0; -1: not recorded. */
int ending_fetch(struct ending *e);

/* What stopped the order may be otherwise another time. */
bool ending_may_pass(const struct ending *e);

#endif
