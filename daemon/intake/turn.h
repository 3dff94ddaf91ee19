/* The work of an intake, done in bounded turns of the loop. */
#ifndef YOKE_INTAKE_TURN_H
#define YOKE_INTAKE_TURN_H

#include <uv.h>

struct intake;

/* There is, or may be, work: turns follow, unless the intake is paused or ending. */
void turn_wake(struct intake *in);

/* Every poll_ms: looks at the root, begins a poll where folders are polled. handle->data is the
 * intake. */
void turn_on_beat(uv_timer_t *handle);

#endif
