/*
 * What a port tells beside bytes, here or at a device server with RFC 2217: the control's modem
 * lines, breaks, and line errors. Where nobody tells (raw TCP), nothing here has an effect.
 */
#ifndef SERIAL_LINES_H
#define SERIAL_LINES_H

#include "serial_receive.h"
#include "serial_send.h"
#include "stream.h"

struct serial_work;

/* One load's look-out. Plain data. */
struct serial_lines {
	enum line_flow flow;
	enum line_watch watch;
	bool counts;         /* somebody tells */
	bool wants, signals; /* the modem lines matter; somebody tells them, so far */
	bool start;          /* the ready line starts the load */
	uint32_t breaks;     /* when the load began */
	uint64_t looked_at;  /* parent_now() clock */
};

/* Begin to look. */
void serial_lines_begin(
    struct serial_lines *l, const struct line_serial *line, const struct stream *s);

/* Look now, by the clock of parent_now(), if it is time, and tell the sender what was seen. */
void serial_lines_look(
    struct serial_lines *l, const struct stream *s, struct serial_send *m, uint64_t now);

/* When to look again, on the clock of parent_now(); UINT64_MAX when there is nothing to see. */
uint64_t serial_lines_next(const struct serial_lines *l, enum serial_send_state state);

/* Add the line errors that were counted to a fault's sentence. */
void serial_lines_tell(const struct stream *s, struct fault *f);

/*
 * What was counted while the text of item i was received, since its w->before: 0 for nothing, or -1
 * with the fault set: UNPLUGGED, BREAK, FRAMING, DAMAGED.
 */
int serial_lines_heard(struct serial_work *w, uint32_t i, const struct serial_receive_outcome *o);

#endif
