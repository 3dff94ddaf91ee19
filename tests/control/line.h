/*
 * The line into the control: what stands below the sender (FIFO of the device server or adapter),
 * the wire with its character time, and the control's input buffer with DC3 at a reserve and DC1
 * further down.
 *
 *     sender -> FIFO -> wire, one character per char_ns -> buffer -> control, one per drain_ns
 *
 * No sockets and no clock: times are arguments, nanoseconds of one monotonic clock. The rules are
 * common practice of serial readers; a character takes start + data + parity + stop bits at the
 * line's speed.
 */
#ifndef BENCH_LINE_H
#define BENCH_LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define LINE_NEVER UINT64_MAX

struct line_settings {
	uint64_t char_ns; /* time of one character on the wire, above 0 */
	uint64_t
	    drain_ns; /* time in which the control takes one character; 0: as soon as it is there */
	size_t fifo;  /* characters below the sender that nothing can call back, 1 or more */
	size_t buffer;  /* characters in the control's input buffer, 1 or more */
	size_t reserve; /* DC3 when no more than this is free */
	size_t resume;  /* DC1 when no more than this waits in the buffer */
	bool brake;     /* what feeds the FIFO stops by itself at DC3; the FIFO still empties */
};

struct line_counts {
	uint64_t received;   /* characters off the wire while the reader was on */
	uint64_t after_dc3;  /* of these: while DC3 was in force */
	uint64_t after_most; /* the most of them after one DC3 */
	uint64_t overrun;    /* characters lost because the buffer was full */
	uint64_t stops;      /* DC3 sent because of the reserve */
	uint64_t first_at;   /* ns: first and last character of the newest load */
	uint64_t last_at;
	uint64_t in_load; /* characters of the newest load */
};

/* What the line calls; all are called from line_advance() and may call line_clear() and
 * line_hold(). */
struct line_ears {
	/* A character came off the wire at time `at`; it may be changed. False: it never gets to
	 * the buffer. */
	bool (*heard)(void *ctx, uint64_t at, uint8_t *byte);
	/* The control takes a character out of its buffer. */
	void (*taken)(void *ctx, uint8_t byte);
	/* The buffer was full, a character is lost. */
	void (*overrun)(void *ctx);
	/* The control asks for a stop (DC3) or to go on (DC1). */
	void (*flow)(void *ctx, bool stop);
	void *ctx;
};

struct line;

/* A line at rest; NULL without memory. The caller frees it with line_free(). */
struct line *line_new(const struct line_settings *settings, const struct line_ears *ears);
void line_free(struct line *l);

/* Where to count from now on; kept by the caller. NULL: nowhere. A new load's counts begin at zero.
 */
void line_count_load(struct line *l, struct line_counts *counts);

/* How many more characters the FIFO takes now. */
size_t line_room(const struct line *l);

/*
 * The sender hands n characters (at most line_room()) to the FIFO. `waited`: they were ready
 * before, and only the FIFO's lack of room kept them back, so that the wire has lost no time.
 */
void line_feed(struct line *l, uint64_t now, const uint8_t *bytes, size_t n, bool waited);

/* Everything that happens up to now. */
void line_advance(struct line *l, uint64_t now);

/* When something happens next; LINE_NEVER when only the sender can change that. */
uint64_t line_next(const struct line *l);

/* True when no character is in the FIFO. */
bool line_quiet(const struct line *l);

/* True when nothing more happens without the sender or the operator: FIFO empty, buffer empty or
 * held. */
bool line_settled(const struct line *l);

/* Called from heard(): this character arrives a second time right behind itself. */
void line_again(struct line *l);

/* The control takes nothing more out of its buffer and sends DC3; or goes on, with DC1 when there
 * is room. */
void line_hold(struct line *l, bool hold, uint64_t now);

/* The reader starts or stops: the buffer is emptied, no DC3 is in force, no hold. */
void line_clear(struct line *l);

/* As line_clear(), and the FIFO is emptied as well: the power is gone. */
void line_cut(struct line *l);

#endif
