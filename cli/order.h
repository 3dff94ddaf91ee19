/* An order: queued, followed to its end, and listed. */
#ifndef ORDER_H
#define ORDER_H

#include <jansson.h>
#include <stdbool.h>

struct order_run {
	bool json;    /* every line as it came, between the order and the machine */
	bool no_wait; /* leave it to the service once it is queued */
	/* Filled by order_run: */
	json_int_t id; /* 0 when there is none */
	bool drift;    /* a fetch brought something else than was carried there */
};

/*
 * POST about machine (format holds one %s for it), then follow the order that it answers: progress
 * on a terminal, plain lines otherwise, both on stderr. Ctrl-C asks the service to cancel and waits
 * for the outcome; the second one leaves the order to the service. Prints the outcome and what the
 * machine holds. The exit status: EXIT_REFUSED when the order was refused, EXIT_SERVICE when it
 * ended without its aim or its end is not known.
 */
int order_run(struct order_run *run, const char *format, const char *machine, const json_t *body);

/*
 * The body that names a pair, JOB or JOB@REV as a person wrote it: {job, revision?}. The caller's;
 * NULL, said under the verb's name, when it is none.
 */
json_t *order_pair(const char *verb, const char *pair);

/* The orders of an array as a table. */
void order_table(const json_t *orders, const char *empty);

#endif
