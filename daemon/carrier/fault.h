/* The first thing that went wrong in an order: what, where, why, what to do. Later ones do not
 * replace it. */
#ifndef FAULT_H
#define FAULT_H

#include "yoke/carry.h"

/* Zero-initialise. */
struct fault {
	enum carry_error error; /* CARRY_ERROR_NONE: nothing yet */
	uint32_t item;          /* where; the order's items for the whole of it */
	char text[CARRY_TEXT_MAX + 1];
};

/* Note a fault unless there is one. Always -1, so that callers can return it. */
int fault_set(struct fault *f, enum carry_error error, uint32_t item, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* As fault_set, for a system call: kind from errno e (ENOSPC: SPACE, ...), its text behind the
 * sentence. */
int fault_errno(struct fault *f, int e, uint32_t item, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* Add to the sentence of a fault, as far as there is room. */
void fault_add(struct fault *f, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
