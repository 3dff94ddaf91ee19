/*
 * A text that a control punched to its end and that may be taken for programs: which of it is what
 * was sent, and what else came. An operator may punch all programs of the control in one stream.
 */
#ifndef SERIAL_CAME_H
#define SERIAL_CAME_H

#include "job.h"
#include "serial_receive.h"

/*
 * Where channels have words (wire/channel_word.h), those blocks are no part of what came. A text of
 * another channel than the one that was asked is none of its programs: it is kept as it came, and
 * told by that channel's name (CARRY_ERROR_CHANNEL).
 */

/*
 * Compare with the program of item i: as a whole, or when that differs, by the numbers of its
 * programs, in whatever order and among whatever others they came. The channel is filled, and what
 * else came is handed over. 0 when it is equal; -1 with the fault set, and what came handed over in
 * its place.
 */
int serial_came_compare(struct job *j, uint32_t i, const struct serial_receive_outcome *o);

/* Hand everything over for item i: as a whole, and when there are several programs each by itself
 * too. The channel is filled. 0, or -1 with the fault set. */
int serial_came_fetched(struct job *j, uint32_t i, const struct serial_receive_outcome *o);

/* Hand over what came unasked on the line of item i, for the channel whose word it brought. 0, or
 * -1 with the fault set. */
int serial_came_unasked(struct job *j, uint32_t i, const struct serial_receive_outcome *o);

/* Which of the items that wait for a copy it is: the one whose word it brought, else the first. The
 * order's items when none waits. */
uint32_t serial_came_of(const struct job *j, const struct serial_receive_outcome *o,
    const bool waits[YOKE_CHANNELS_MAX]);

/* Of a text that is damaged and holds several programs: " of all that came, in O4417"; else "". */
enum { SERIAL_CAME_WHERE = 60 };
void serial_came_where(const struct serial_receive_outcome *o, char out[SERIAL_CAME_WHERE]);

#endif
