/*
 * Carry over a serial line: one program after the other, each when the control asks for it (DC1),
 * and where the control can punch, read back and compared.
 *
 * Channels with the same address share one line and go over one connection, in the order of the
 * items. CARRY_DRIP is one of them to a control that executes while it reads: no time limit once it
 * began, no read-back, and nothing that it holds is another afterwards. CARRY_INSPECT cannot ask a control anything: every channel is unknown, and no line is
 * opened.
 */
#ifndef SERIAL_H
#define SERIAL_H

#include "job.h"
#include "stream.h"

/* Open the lines and do the order. The job's channels and fault are filled. */
void serial_run(struct job *j);

/* The same over streams that are open already, one per item, the same pointer for one line. They
 * stay open. */
void serial_run_over(struct job *j, struct stream *const stream[YOKE_CHANNELS_MAX]);

#endif
