/*
 * Faults of the bench control's lines, as a test asks for them: what happens to single characters
 * on their way in and out, and what the control's port does with those that it finds wrong.
 */
#ifndef BENCH_FAULT_H
#define BENCH_FAULT_H

#include <stdbool.h>
#include <stdint.h>
#include "bench.h"

/* Adds a fault. False when there are too many. */
bool fault_add(struct bench *b, struct fault f);

/* A byte after its way over a line with wrong bits. */
uint8_t fault_spoil(struct bench *b, uint8_t byte);

/* A character of a load. False: it does not get to the reader. The power may be gone afterwards. */
bool fault_in_load(struct channel *c, uint8_t *byte);

enum fault_out { FAULT_OUT_ONCE = 0, FAULT_OUT_LOST, FAULT_OUT_TWICE, FAULT_OUT_ENDS };

/*
 * A character of a punch, before it goes. ENDS: it does not, nor does anything behind it; *how is
 * FAULT_SILENT, FAULT_HANG_UP or FAULT_POWER.
 */
enum fault_out fault_in_punch(struct port *p, uint8_t *byte, enum fault_kind *how);

#endif
