/*
 * Sending one program over a serial line, without I/O: the caller owns descriptor and clock, this
 * owns the rules.
 *
 * Use: take() what may go now and write it; feed() whatever the control sends; between the two wait
 * until the line has something to read, or can be written while ready() is not 0, or deadline() is
 * reached, and then tick(). All times are milliseconds of one clock of the caller's that never runs
 * backwards.
 *
 *   WAITING --DC1--> SENDING <--DC1-- HELD        end: DONE, or FAILED from every other state
 *                     |    `----DC3--->'            the control's ready line, where the flow is by
 *                     |                             line, holds as DC3 and releases as DC1 does
 *                     `--last character--> DRAINING --last bit left--> DONE
 *
 * DONE means that every character had time to leave. Whether the control took it, only a read-back
 * tells.
 *
 * A patient sender feeds a control that executes while it reads: no hold, no line that takes
 * nothing and no total ends it. What ends it all the same: DC1 that does not come, a lost line, a
 * person.
 */
#ifndef SERIAL_SEND_H
#define SERIAL_SEND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "serial_text.h"
#include "yoke/line.h"

struct serial_send;

#define SERIAL_SEND_NEVER UINT64_MAX

/*
 * After the closing %, a hold longer than this is the reader's stop at the end, not a full buffer:
 * many controls send DC3 there and no DC1 after it. ms, common practice.
 */
enum { SERIAL_SEND_END_HOLD_MS = 2000 };

enum serial_send_state {
	SERIAL_SEND_WAITING = 0, /* for the control's first DC1 */
	SERIAL_SEND_SENDING,
	SERIAL_SEND_HELD,     /* by DC3, or by the ready line */
	SERIAL_SEND_DRAINING, /* all handed out, not all on the line yet */
	SERIAL_SEND_DONE,
	SERIAL_SEND_FAILED,
};

enum serial_send_reason {
	SERIAL_SEND_OK = 0,
	SERIAL_SEND_STALL,  /* held, or nothing taken by the line, for stall_ms; not when patient */
	SERIAL_SEND_NO_DC1, /* no DC1 within first_ms */
	SERIAL_SEND_LOST,   /* the caller lost the line */
	SERIAL_SEND_CANCELLED, /* by the caller */
	SERIAL_SEND_TOTAL,     /* total_ms is over; not when patient */
	SERIAL_SEND_UNPLUGGED, /* the port itself is gone */
	SERIAL_SEND_DROPPED,   /* the watched modem line dropped */
	SERIAL_SEND_BREAK,     /* a break came */
};

struct serial_send_outcome {
	enum serial_send_state state;
	enum serial_send_reason reason; /* OK unless FAILED */
	uint64_t bytes, total;          /* of the program: handed to the line, and in all */
	uint64_t block, blocks;         /* ends of block handed to the line, and in all */
	uint64_t characters; /* handed to the line: leader, ends of block and so on included */
	uint64_t held_ms;    /* time under DC3, or with the ready line off */
	uint64_t holds;      /* times that they stopped us */
	uint64_t after_dc3;  /* most characters that could still leave after a DC3 reached us */
	uint64_t other;      /* bytes from the control that were neither DC1 nor DC3 */
	bool held;           /* DC3 was the last word of the control */
	bool cut_tail;       /* held after the closing %: line ends, trailer or DC4 left out */
};

struct serial_send_progress {
	enum serial_send_state state;
	uint64_t bytes, total;
	uint64_t block, blocks;
	uint64_t left_ms; /* estimate: by the line rate, or by the pace so far when that is slower;
	                     pauses included */
};

/*
 * Begin. settings is copied; the program (size bytes, mapped by the caller) is not, must not
 * change, and must live as long as the machine. NULs at the program's ends are left out, since
 * leader and trailer replace them. Throw away what the port received earlier: an old DC1 would
 * start us. Returns the machine, freed by serial_send_free, or NULL with *refusal filled: then
 * nothing may be sent.
 */
struct serial_send *serial_send_new(const struct line_serial *settings, const void *program,
    size_t size, uint64_t now, struct serial_text_refusal *refusal);

/* Free; NULL is allowed. */
void serial_send_free(struct serial_send *s);

/*
 * What the control sent, in order, in chunks of any size. DC1 and DC3 count with and without bit 8:
 * a control that sends 7 bits with parity is read through 8-bit ports too. Checks no deadline: a
 * late DC1 is still a DC1.
 */
void serial_send_feed(struct serial_send *s, uint64_t now, const void *bytes, size_t n);

/*
 * The control's ready line, for flow by RTS/CTS or DTR/DSR: call when it was looked at. Off holds
 * as DC3 does; without wait_dc1, off before the first character means waiting for it. Without such
 * flow, no effect.
 */
void serial_send_line(struct serial_send *s, uint64_t now, bool ready);

/* The watched modem line. Off for a moment once the transfer began, it is the end. */
void serial_send_watched(struct serial_send *s, uint64_t now, bool on);

/* Let time pass: the only verb that ends the transfer, well or by a deadline. */
void serial_send_tick(struct serial_send *s, uint64_t now);

/* Characters that take() would give now. While it is not 0, wait for the line to be writable. */
size_t serial_send_ready(struct serial_send *s, uint64_t now);

/*
 * Take up to cap characters to put on the line now; they count as handed to the line, so write them
 * all, in order, or call serial_send_lost. Never gives more than the settings' reserve beyond what
 * the line has had time to send, so take only when the line can be written. Returns their number, 0
 * when there is nothing now.
 */
size_t serial_send_take(struct serial_send *s, void *out, size_t cap, uint64_t now);

/*
 * When tick() and take() want to be called next (the caller's clock), or SERIAL_SEND_NEVER. Asks to
 * be woken when half of the reserve is free, so that a caller who is late by less than the other
 * half keeps the line busy: 99 % of the line needs a reserve of at least twice the caller's
 * lateness, in characters.
 */
uint64_t serial_send_deadline(const struct serial_send *s);

/*
 * Optional: n characters were counted below us now (kernel queue, socket queue, the caller's own
 * rest). Corrects the count upwards, tells a stuck line from a slow one, and puts off DONE until 0
 * is reported. Whoever reports once reports before every tick and take, 0 included.
 */
void serial_send_queued(struct serial_send *s, uint64_t now, uint64_t n);

/*
 * The same over a network: n characters were not acknowledged yet. Acknowledgements come late, so
 * some of them may have left the line long ago; to take each for one that lies below would leave
 * the line idle. From the first call on a quarter of the reserve is kept free, for what the network
 * itself holds, and the count corrects only by what that quarter does not cover.
 */
void serial_send_unacknowledged(struct serial_send *s, uint64_t now, uint64_t n);

/*
 * Optional: the last n characters counted below us came only now to what sends them, which may not
 * have sent one of them yet: what was on its way through a network that stood still meanwhile.
 */
void serial_send_arrived(struct serial_send *s, uint64_t now, uint64_t n);

/* Optional: whoever sends for us says that nothing is left there, not in its FIFO either. */
void serial_send_left(struct serial_send *s, uint64_t now);

/* Give up, by order of a person or because the line is gone. No effect after DONE or FAILED. */
void serial_send_cancel(struct serial_send *s, uint64_t now);
void serial_send_lost(struct serial_send *s, uint64_t now);
void serial_send_unplugged(struct serial_send *s, uint64_t now);

/* A break came. Counts from the beginning of the transfer on. */
void serial_send_break(struct serial_send *s, uint64_t now);

/* Where we stood at the last call; final in DONE and FAILED. */
void serial_send_outcome(const struct serial_send *s, struct serial_send_outcome *outcome);

/* How far we are at time now, for people who wait. */
void serial_send_progress(
    struct serial_send *s, uint64_t now, struct serial_send_progress *progress);

/* For a person: what happened, and for a control that stores what it reads what to do. A constant
 * string, never NULL. */
const char *serial_send_says(enum serial_send_reason reason);

/* The first part of it: what happened. */
const char *serial_send_happened(enum serial_send_reason reason);

#endif
