/*
 * States (see the picture in the header) and the function for each transition:
 *
 *   WAITING   nothing came                      any filler: hear_filler()   text: hear_text()
 *   LEADER    filler only                       text: hear_text()
 *   BODY      text                              % at the beginning of a block: hear_percent()
 *   CLOSING   text and a closing %; another program may follow within the silence, and goes on
 *   DONE, FAILED  final; BODY and CLOSING end in finish(), by DC4 or silence; fail() leads to
 * FAILED from all four
 *
 * Invariants, asserted by check_state():
 *   1. in WAITING nothing was kept, in the other states something was;
 *   2. a reason is set in FAILED and in no other state;
 *   3. a text exists in DONE only; never more than max bytes are kept.
 *
 * While bytes come in, bit 8 is ignored where only the position in the text matters: whether it
 * carries parity is not known before the end. EIA has its own codes, and its digit 3 is no DC3.
 */
#include "serial_receive.h"

#include <assert.h>
#include <stdlib.h>

/* Later times are cut to this (34 years), so that sums of times fit. */
static const uint64_t MS_MAX = (uint64_t)1 << 40;

struct serial_receive {
	enum serial_receive_state state;
	enum serial_receive_reason reason;
	struct serial_code code;
	uint64_t read_back_ms;
	uint64_t silence_ms;

	uint64_t
	    origin; /* the caller's clock at the beginning; all times below are ms since then */
	uint64_t now;
	uint64_t last; /* when the last byte came */

	uint8_t *raw;
	size_t size, allocated, max;
	uint64_t after;    /* characters after the end */
	bool opened;       /* the first % came */
	size_t opened_at;  /* where in raw */
	bool block_begins; /* the next character is a block's first */
	struct iso_parity parity;

	struct serial_capture capture; /* filled at the end */
};

static uint64_t later(uint64_t a, uint64_t b)
{
	return a > b ? a : b;
}

static bool is_final(const struct serial_receive *r)
{
	return r->state == SERIAL_RECEIVE_DONE || r->state == SERIAL_RECEIVE_FAILED;
}

static void check_state(const struct serial_receive *r)
{
	assert(r->size <= r->allocated && r->allocated <= r->max);
	assert((r->reason != SERIAL_RECEIVE_OK) == (r->state == SERIAL_RECEIVE_FAILED));
	assert(r->state == SERIAL_RECEIVE_DONE || r->capture.text.size == 0);
	assert(r->last <= r->now);
	switch (r->state) {
	case SERIAL_RECEIVE_WAITING:
		assert(r->size == 0);
		break;
	case SERIAL_RECEIVE_LEADER:
		assert(r->size > 0 && !r->opened);
		break;
	case SERIAL_RECEIVE_CLOSING:
		assert(r->opened);
		break;
	case SERIAL_RECEIVE_BODY:
	case SERIAL_RECEIVE_DONE:
		assert(r->size > 0);
		break;
	case SERIAL_RECEIVE_FAILED:
		break;
	}
}

static void set_clock(struct serial_receive *r, uint64_t now)
{
	uint64_t since = now > r->origin ? now - r->origin : 0;

	r->now = later(r->now, since < MS_MAX ? since : MS_MAX);
}

static void fail(struct serial_receive *r, enum serial_receive_reason reason)
{
	r->state = SERIAL_RECEIVE_FAILED;
	r->reason = reason;
}

struct serial_receive *serial_receive_new(
    const struct line_serial *settings, size_t max, uint64_t now)
{
	struct serial_receive *r;

	if (max == 0)
		return NULL;
	r = calloc(1, sizeof(*r));
	if (!r)
		return NULL;
	if (serial_code_init(&r->code, settings) < 0) {
		free(r);
		return NULL;
	}
	r->read_back_ms = settings->read_back_ms;
	r->silence_ms = settings->silence_ms;
	r->origin = now;
	r->max = max;
	r->block_begins = true;
	return r;
}

void serial_receive_free(struct serial_receive *r)
{
	if (!r)
		return;
	serial_capture_free(&r->capture);
	free(r->raw);
	free(r);
}

/* Keep one byte. False when that failed. */
static bool keep(struct serial_receive *r, uint8_t byte)
{
	if (r->size == r->max) {
		fail(r, SERIAL_RECEIVE_TOO_BIG);
		return false;
	}
	if (r->size == r->allocated) {
		size_t want = r->allocated < 4096 ? 4096 : r->allocated;
		uint8_t *grown;

		want = want > r->max - r->allocated ? r->max : r->allocated + want;
		grown = realloc(r->raw, want);
		if (!grown) {
			fail(r, SERIAL_RECEIVE_MEMORY);
			return false;
		}
		r->raw = grown;
		r->allocated = want;
	}
	r->raw[r->size++] = byte;
	iso_count(&r->parity, &byte, 1);
	return true;
}

static bool is_line_end(uint8_t c)
{
	return c == ISO_LF || c == ISO_CR;
}

static void finish(struct serial_receive *r)
{
	bool closed = r->state == SERIAL_RECEIVE_CLOSING;

	if (serial_capture_read(&r->capture, r->raw, r->size, &r->parity, &r->code, r->opened,
	        r->opened_at, closed) < 0)
		fail(r, SERIAL_RECEIVE_MEMORY);
	else
		r->state = SERIAL_RECEIVE_DONE;
}

static void hear_filler(struct serial_receive *r)
{
	if (r->state == SERIAL_RECEIVE_WAITING)
		r->state = SERIAL_RECEIVE_LEADER;
}

static void hear_text(struct serial_receive *r)
{
	if (r->state == SERIAL_RECEIVE_WAITING || r->state == SERIAL_RECEIVE_LEADER)
		r->state = SERIAL_RECEIVE_BODY;
	r->block_begins = false;
}

static void hear_percent(struct serial_receive *r)
{
	bool begins = r->block_begins;

	hear_text(r);
	if (!r->opened) {
		r->opened = true;
		r->opened_at = r->size - 1;
	} else if (begins) {
		r->state = SERIAL_RECEIVE_CLOSING;
	}
}

static void hear(struct serial_receive *r, uint8_t byte)
{
	uint8_t c = serial_code_character(&r->code, byte);

	/* With odd parity DC4 is 0x94, which may also be text: such a text ends by silence. */
	if (byte == ISO_DC4 &&
	    (r->state == SERIAL_RECEIVE_BODY || r->state == SERIAL_RECEIVE_CLOSING)) {
		finish(r);
	} else if (iso_is_filler(c)) {
		hear_filler(r);
	} else if (is_line_end(c)) {
		hear_filler(r);
		r->block_begins = true;
	} else if (c == '%') {
		hear_percent(r);
	} else {
		hear_text(r);
	}
}

void serial_receive_feed(struct serial_receive *r, uint64_t now, const void *bytes, size_t n)
{
	const uint8_t *b = bytes;

	set_clock(r, now);
	check_state(r);
	for (size_t i = 0; i < n; i++) {
		if (is_final(r)) {
			r->after += serial_code_is_text(&r->code, b[i]);
			continue;
		}
		r->last = r->now;
		if (keep(r, b[i]))
			hear(r, b[i]);
	}
	check_state(r);
}

static uint64_t sooner(uint64_t a, uint64_t b)
{
	return a < b ? a : b;
}

/* When patience with the present state ends, ms since the beginning. */
static uint64_t over_at(const struct serial_receive *r)
{
	uint64_t silent = r->last + r->silence_ms;

	switch (r->state) {
	case SERIAL_RECEIVE_WAITING:
		return r->read_back_ms;
	case SERIAL_RECEIVE_LEADER:
		return later(
		    r->read_back_ms, sooner(silent, r->read_back_ms + SERIAL_RECEIVE_LEADER_MS));
	case SERIAL_RECEIVE_BODY:
	case SERIAL_RECEIVE_CLOSING:
		return silent;
	case SERIAL_RECEIVE_DONE:
	case SERIAL_RECEIVE_FAILED:
		break;
	}
	return SERIAL_RECEIVE_NEVER;
}

void serial_receive_tick(struct serial_receive *r, uint64_t now)
{
	set_clock(r, now);
	check_state(r);
	if (is_final(r) || r->now < over_at(r))
		return;
	if (r->state == SERIAL_RECEIVE_WAITING || r->state == SERIAL_RECEIVE_LEADER)
		fail(r, SERIAL_RECEIVE_NOTHING);
	else
		finish(r);
	check_state(r);
}

uint64_t serial_receive_deadline(const struct serial_receive *r)
{
	uint64_t at = over_at(r);

	return at < SERIAL_RECEIVE_NEVER - r->origin ? r->origin + at : SERIAL_RECEIVE_NEVER;
}

void serial_receive_cancel(struct serial_receive *r, uint64_t now)
{
	set_clock(r, now);
	if (!is_final(r))
		fail(r, SERIAL_RECEIVE_CANCELLED);
	check_state(r);
}

bool serial_receive_anew(struct serial_receive *r, uint64_t now)
{
	set_clock(r, now);
	if (is_final(r) || r->opened)
		return false;
	r->state = SERIAL_RECEIVE_WAITING;
	r->size = 0;
	r->parity = (struct iso_parity){0};
	r->block_begins = true;
	check_state(r);
	return true;
}

void serial_receive_lost(struct serial_receive *r, uint64_t now)
{
	set_clock(r, now);
	if (!is_final(r))
		fail(r, SERIAL_RECEIVE_LOST);
	check_state(r);
}

void serial_receive_outcome(const struct serial_receive *r, struct serial_receive_outcome *outcome)
{
	*outcome = (struct serial_receive_outcome){
	    .state = r->state,
	    .reason = r->reason,
	    .findings = r->capture.findings,
	    .usable =
	        r->state == SERIAL_RECEIVE_DONE && !(r->capture.findings & SERIAL_CAPTURE_UNUSABLE),
	    .parity = r->parity,
	    .framing = iso_framing(&r->parity),
	    .before = r->capture.before,
	    .after = r->after,
	    .damage_line = r->capture.text.damage_line,
	    .raw = r->raw,
	    .raw_size = r->size,
	    .text = r->capture.text.bytes,
	    .text_size = r->capture.text.size,
	};
}

const char *serial_receive_says(enum serial_receive_reason reason)
{
	switch (reason) {
	case SERIAL_RECEIVE_OK:
		return "";
	case SERIAL_RECEIVE_NOTHING:
		return "no program came; start the output at the control, check cable and settings";
	case SERIAL_RECEIVE_TOO_BIG:
		return "more came than a program may have; the control repeats itself, or the "
		       "limit is too low";
	case SERIAL_RECEIVE_MEMORY:
		return "no memory for what came; try again";
	case SERIAL_RECEIVE_LOST:
		return "the connection was lost; punch the program again";
	case SERIAL_RECEIVE_CANCELLED:
		return "cancelled";
	}
	return "";
}
