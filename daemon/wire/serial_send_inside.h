/* What the sender's own files share: serial_send.c its states, serial_send_figures.c what there is
 * to tell of it. */
#ifndef SERIAL_SEND_INSIDE_H
#define SERIAL_SEND_INSIDE_H

#include "serial_brake.h"
#include "serial_pace.h"
#include "serial_send.h"

struct serial_send {
	struct serial_text text;
	struct serial_pace pace;  /* what is below at most */
	struct serial_pace least; /* and at least */
	enum serial_send_state state;
	enum serial_send_reason reason;
	uint32_t baud;
	enum line_framing framing;
	uint32_t reserve;     /* characters */
	uint32_t slack;       /* of these: kept free for what may be below beside the pace's count */
	uint32_t char_pause;  /* ms */
	uint32_t block_pause; /* ms; not less than char_pause */
	uint32_t first_ms;
	uint32_t stall_ms;
	uint64_t total_ms;
	bool patient; /* neither of the two ends anything */

	uint64_t
	    origin; /* the caller's clock at the beginning; all times below are ms since then */
	uint64_t now;
	uint64_t started;
	uint64_t idle_at;     /* when the line should be done with what it has: from here a stall is
	                         counted */
	uint64_t pause_until; /* nothing may be handed out before */
	uint64_t held_since;
	uint64_t held_ms;
	uint64_t holds;
	uint64_t after_dc3;
	uint64_t queued;      /* last count from below */
	uint64_t queued_most; /* highest */
	uint64_t kept;        /* stays below while the ready line is off: at most, and at least */
	uint64_t kept_least;
	uint64_t other;
	uint64_t tail; /* characters handed out behind the closing % */
	struct serial_brake brake;
	bool wait_dc1;
	bool cut;
};

static inline uint64_t max_of(uint64_t a, uint64_t b)
{
	return a > b ? a : b;
}

static inline uint64_t min_of(uint64_t a, uint64_t b)
{
	return a < b ? a : b;
}

static inline bool is_final(const struct serial_send *s)
{
	return s->state == SERIAL_SEND_DONE || s->state == SERIAL_SEND_FAILED;
}

/* It is now so late on the caller's clock. */
void serial_send_clock(struct serial_send *s, uint64_t now);

/* Nominal time of the characters and pauses that are left, ms. */
uint64_t serial_send_nominal(const struct serial_send *s);

#endif
