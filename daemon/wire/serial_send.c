/*
 * States (see the picture in the header) and the function for each transition:
 *
 *   WAITING   nothing was handed out                   DC1, or the ready line: start()
 *   SENDING   characters are left                      brake on: hold()  last character: drain()
 *   HELD      the brake is on, characters are left     brake off: resume()
 *                                                      after the closing %: cut_tail()
 *   DRAINING  no characters are left                   the line had its time: finish()
 *   DONE, FAILED  final; fail() leads to FAILED from each of the four above
 *
 * Invariants, asserted by check_state():
 *   1. not more than the reserve is below us, unless somebody counted more there;
 *   2. in WAITING nothing was handed out; from DRAINING on nothing more will be;
 *   3. a reason is set in FAILED and in no other state.
 */
#include "serial_send.h"

#include <assert.h>
#include <stdlib.h>
#include "iso.h"
#include "serial_send_inside.h"

/* How often a caller that counts below us is asked again while we wait for its 0, ms. */
enum { QUEUE_AGAIN_MS = 20 };

static void check_state(const struct serial_send *s)
{
	assert(serial_pace_below(&s->pace, s->now) <= max_of(s->reserve, s->queued_most));
	assert(s->slack < s->reserve);
	assert(s->text.at >= s->text.begin && s->text.at <= s->text.end);
	assert(s->text.character <= s->text.characters);
	assert((s->reason != SERIAL_SEND_OK) == (s->state == SERIAL_SEND_FAILED));
	switch (s->state) {
	case SERIAL_SEND_WAITING:
		assert(s->text.character == 0 && s->holds == 0);
		break;
	case SERIAL_SEND_SENDING:
		assert(s->text.character < s->text.characters && !s->brake.on);
		break;
	case SERIAL_SEND_HELD:
		assert(s->text.character < s->text.characters && s->brake.on && s->holds > 0);
		break;
	case SERIAL_SEND_DRAINING:
	case SERIAL_SEND_DONE:
		assert(s->text.character == s->text.characters || s->cut);
		break;
	case SERIAL_SEND_FAILED:
		break;
	}
}

static void start(struct serial_send *s)
{
	s->state = SERIAL_SEND_SENDING;
	s->started = s->now;
	s->idle_at = s->now;
}

static void hold(struct serial_send *s)
{
	s->state = SERIAL_SEND_HELD;
	s->held_since = s->now;
	s->holds++;
}

static void end_hold(struct serial_send *s)
{
	if (s->state == SERIAL_SEND_HELD)
		s->held_ms += s->now - s->held_since;
}

static void resume(struct serial_send *s)
{
	end_hold(s);
	s->state = SERIAL_SEND_SENDING;
	s->idle_at = max_of(s->idle_at, s->now);
}

static void drain(struct serial_send *s)
{
	s->state = SERIAL_SEND_DRAINING;
}

static void cut_tail(struct serial_send *s)
{
	end_hold(s);
	s->cut = true;
	drain(s);
}

static void finish(struct serial_send *s)
{
	s->state = SERIAL_SEND_DONE;
}

static void cut_below(struct serial_send *s)
{
	s->cut = true;
	finish(s);
}

static void fail(struct serial_send *s, enum serial_send_reason reason)
{
	end_hold(s);
	s->state = SERIAL_SEND_FAILED;
	s->reason = reason;
}

static bool settings_usable(const struct line_serial *settings)
{
	return settings->baud > 0 && settings->baud <= SERIAL_PACE_BAUD_MAX &&
	       settings->reserve > 0 && settings->stall_ms > 0;
}

struct serial_send *serial_send_new(const struct line_serial *settings, const void *program,
    size_t size, uint64_t now, struct serial_text_refusal *refusal)
{
	struct serial_send *s = calloc(1, sizeof(*s));

	if (!s) {
		*refusal = (struct serial_text_refusal){.fault = SERIAL_TEXT_MEMORY};
		return NULL;
	}
	if (!settings_usable(settings)) {
		*refusal = (struct serial_text_refusal){.fault = SERIAL_TEXT_SETTINGS};
		goto err;
	}
	if (serial_text_init(&s->text, settings, program, size, refusal) < 0)
		goto err;
	serial_pace_init(&s->pace, settings->baud, settings->framing);
	serial_pace_init_least(&s->least, settings->baud, settings->framing);
	s->baud = settings->baud;
	s->framing = settings->framing;
	s->reserve = settings->reserve;
	s->char_pause = settings->char_pause;
	s->block_pause = (uint32_t)max_of(settings->block_pause, settings->char_pause);
	s->first_ms = settings->first_ms;
	s->stall_ms = settings->stall_ms;
	s->patient = settings->patient;
	s->origin = now;
	s->total_ms =
	    settings->total_ms ? settings->total_ms : 4 * serial_send_nominal(s) + s->stall_ms;
	serial_brake_init(&s->brake, settings);
	s->wait_dc1 = settings->wait_dc1;
	if (!s->wait_dc1)
		start(s);
	check_state(s);
	return s;

err:
	free(s);
	return NULL;
}

void serial_send_free(struct serial_send *s)
{
	free(s);
}

/* The brake came on or off. */
static void obey(struct serial_send *s, bool was_on)
{
	/* What obeys the line by itself does not leave after it went off. */
	bool leaves = s->brake.dc3 || !s->brake.obeyed;

	if (s->brake.on && !was_on && leaves)
		s->after_dc3 = max_of(s->after_dc3,
		    max_of(serial_pace_below(&s->pace, s->now), s->slack ? s->queued : 0));
	if (s->brake.on && s->state == SERIAL_SEND_SENDING)
		hold(s);
	else if (!s->brake.on && s->state == SERIAL_SEND_HELD)
		resume(s);
}

/* Without DC1 the ready line starts us: off before the first character, we wait for it. A control
 * that has used its words already is there: then the line is a brake as any other. */
static bool starts_by_line(struct serial_send *s)
{
	if (s->wait_dc1 || s->text.character > 0 || s->holds > 0)
		return false;
	if (s->state == SERIAL_SEND_WAITING && !s->brake.off) {
		start(s);
		obey(s, false);
	} else if (s->state == SERIAL_SEND_SENDING && s->brake.off) {
		s->state = SERIAL_SEND_WAITING;
	}
	return s->state == SERIAL_SEND_WAITING;
}

static void heard_dc1(struct serial_send *s)
{
	bool was_on = s->brake.on, brakes = serial_brake_word(&s->brake, false);

	if (s->state == SERIAL_SEND_WAITING && s->wait_dc1) {
		start(s);
		was_on = false;
	} else if (!brakes) {
		s->other++;
	}
	obey(s, was_on);
}

static void heard_dc3(struct serial_send *s)
{
	bool was_on = s->brake.on;

	/* Before its first DC1 the control has nothing to stop. */
	if (s->state == SERIAL_SEND_WAITING && s->wait_dc1)
		return;
	if (!serial_brake_word(&s->brake, true))
		s->other++;
	obey(s, was_on);
}

void serial_send_feed(struct serial_send *s, uint64_t now, const void *bytes, size_t n)
{
	const uint8_t *b = bytes;

	serial_send_clock(s, now);
	check_state(s);
	for (size_t i = 0; i < n && !is_final(s); i++) {
		switch (iso_decode(b[i])) {
		case ISO_DC1:
			heard_dc1(s);
			break;
		case ISO_DC3:
			heard_dc3(s);
			break;
		default:
			s->other++;
			break;
		}
	}
	check_state(s);
}

/*
 * The ready line went off, and whoever sends for us obeys it: what is below stays there, in an
 * adapter or a device server also uncounted. When it is on again, all that may need its time once
 * more.
 */
static void keep_below(struct serial_send *s)
{
	if (s->brake.off) {
		s->kept = serial_pace_below(&s->pace, s->now);
		s->kept_least = serial_pace_below(&s->least, s->now);
		return;
	}
	serial_pace_at_least(&s->pace, s->now, s->kept);
	s->idle_at = max_of(s->idle_at, serial_pace_when(&s->pace, 0));
	s->kept = s->kept_least = 0;
}

void serial_send_line(struct serial_send *s, uint64_t now, bool ready)
{
	bool was_on = s->brake.on, was_off = s->brake.off;

	serial_send_clock(s, now);
	if (is_final(s))
		return;
	serial_brake_line(&s->brake, s->now, ready);
	if (s->brake.obeyed && s->brake.off != was_off)
		keep_below(s);
	if (s->brake.line && !starts_by_line(s))
		obey(s, was_on);
	check_state(s);
}

void serial_send_watched(struct serial_send *s, uint64_t now, bool on)
{
	serial_send_clock(s, now);
	serial_brake_watched(&s->brake, s->now, on);
}

/* When the line has been without progress for long. */
static uint64_t still_at(const struct serial_send *s)
{
	return max_of(s->idle_at, s->pause_until) + s->stall_ms;
}

/* When that is too long. */
static uint64_t stall_at(const struct serial_send *s)
{
	return s->patient ? SERIAL_SEND_NEVER : still_at(s);
}

static uint64_t total_at(const struct serial_send *s)
{
	return s->patient ? SERIAL_SEND_NEVER : s->started + s->total_ms;
}

/* When a hold ends by itself. In the tail that is no failure. */
static uint64_t hold_over_at(const struct serial_send *s)
{
	if (serial_text_in_tail(&s->text))
		return s->held_since + min_of(s->stall_ms, SERIAL_SEND_END_HOLD_MS);
	return s->patient ? SERIAL_SEND_NEVER : s->held_since + s->stall_ms;
}

/* Characters below us that cannot have left, however long we wait. What may have left by then has:
 * else each control that lets its line go at the closing % would be a fault. */
static uint64_t stuck(const struct serial_send *s)
{
	return max_of(s->queued, s->kept_least);
}

/* The ready line may stay off, or the line take nothing more, when the control has the whole
 * program: what is still below us then is tail alone. */
static uint64_t tail_over_at(const struct serial_send *s)
{
	if (stuck(s) == 0 || stuck(s) > s->tail)
		return SERIAL_SEND_NEVER;
	if (s->brake.off && s->brake.obeyed)
		return s->brake.off_since + SERIAL_SEND_END_HOLD_MS;
	return s->patient ? still_at(s) : SERIAL_SEND_NEVER;
}

static void tick_draining(struct serial_send *s)
{
	if (stuck(s) == 0 && s->now >= serial_pace_when(&s->pace, 0))
		finish(s);
	else if (s->now >= tail_over_at(s))
		cut_below(s);
	else if (s->now >= stall_at(s))
		fail(s, SERIAL_SEND_STALL);
}

static void tick_held(struct serial_send *s)
{
	if (s->now < hold_over_at(s))
		return;
	if (!serial_text_in_tail(&s->text)) {
		fail(s, SERIAL_SEND_STALL);
		return;
	}
	cut_tail(s);
	tick_draining(s);
}

void serial_send_tick(struct serial_send *s, uint64_t now)
{
	serial_send_clock(s, now);
	check_state(s);
	switch (s->state) {
	case SERIAL_SEND_WAITING:
		if (s->first_ms > 0 && s->now >= s->first_ms)
			fail(s, SERIAL_SEND_NO_DC1);
		return;
	case SERIAL_SEND_HELD:
		tick_held(s);
		break;
	case SERIAL_SEND_DRAINING:
		tick_draining(s);
		break;
	case SERIAL_SEND_SENDING:
		if (s->now >= stall_at(s))
			fail(s, SERIAL_SEND_STALL);
		break;
	case SERIAL_SEND_DONE:
	case SERIAL_SEND_FAILED:
		return;
	}
	if (!is_final(s) && s->now >= serial_brake_drops_at(&s->brake))
		fail(s, SERIAL_SEND_DROPPED);
	if (!is_final(s) && s->now >= total_at(s))
		fail(s, SERIAL_SEND_TOTAL);
	check_state(s);
}

static size_t room(const struct serial_send *s)
{
	uint64_t below = serial_pace_below(&s->pace, s->now), most = s->reserve - s->slack;

	if (s->state != SERIAL_SEND_SENDING || s->now < s->pause_until || below >= most)
		return 0;
	return (size_t)min_of(most - below, s->text.characters - s->text.character);
}

size_t serial_send_ready(struct serial_send *s, uint64_t now)
{
	serial_send_clock(s, now);
	return room(s);
}

size_t serial_send_take(struct serial_send *s, void *out, size_t cap, uint64_t now)
{
	uint8_t *o = out;
	size_t n = 0;
	uint32_t pause = 0;

	serial_send_clock(s, now);
	check_state(s);
	for (size_t most = min_of(room(s), cap); n < most && pause == 0; n++) {
		s->tail += serial_text_in_tail(&s->text);
		o[n] = (uint8_t)serial_text_next(&s->text);
		pause = s->text.block_ended ? s->block_pause : s->char_pause;
	}
	if (n == 0)
		return 0;
	serial_pace_add(&s->pace, s->now, n);
	serial_pace_add(&s->least, s->now, n);
	s->idle_at = serial_pace_when(&s->pace, 0);
	if (pause > 0)
		s->pause_until = s->idle_at + pause;
	if (s->text.character == s->text.characters)
		drain(s);
	check_state(s);
	return n;
}

/* When enough room for a good handful will be there, or NEVER when it is there already. */
static uint64_t wake_at(const struct serial_send *s)
{
	uint64_t half = (s->reserve - s->slack) / 2;
	uint64_t at = max_of(serial_pace_when(&s->pace, half), s->pause_until);

	return at > s->now ? at : SERIAL_SEND_NEVER;
}

uint64_t serial_send_deadline(const struct serial_send *s)
{
	uint64_t at = SERIAL_SEND_NEVER;

	switch (s->state) {
	case SERIAL_SEND_WAITING:
		if (s->first_ms > 0)
			at = s->first_ms;
		break;
	case SERIAL_SEND_SENDING:
		at = min_of(wake_at(s), stall_at(s));
		break;
	case SERIAL_SEND_HELD:
		at = hold_over_at(s);
		break;
	case SERIAL_SEND_DRAINING:
		at = s->kept_least > 0 ? SERIAL_SEND_NEVER : serial_pace_when(&s->pace, 0);
		if (s->queued > 0)
			at = max_of(serial_pace_when(&s->pace, 0), s->now + QUEUE_AGAIN_MS);
		at = min_of(at, min_of(stall_at(s), tail_over_at(s)));
		break;
	case SERIAL_SEND_DONE:
	case SERIAL_SEND_FAILED:
		return SERIAL_SEND_NEVER;
	}
	if (s->state != SERIAL_SEND_WAITING)
		at = min_of(at, min_of(total_at(s), serial_brake_drops_at(&s->brake)));
	return at < SERIAL_SEND_NEVER - s->origin ? s->origin + at : SERIAL_SEND_NEVER;
}

/* n were counted below us; at least so many lie there for certain. */
static void count_below(struct serial_send *s, uint64_t n, uint64_t certain)
{
	serial_pace_at_least(&s->pace, s->now, certain);
	/* Fewer than before: the line moves, and may need its time for the rest. */
	if (n < s->queued)
		s->idle_at =
		    max_of(s->idle_at, s->now + serial_pace_line_ms(s->baud, s->framing, n));
	s->queued = n;
	s->queued_most = max_of(s->queued_most, n);
	check_state(s);
}

void serial_send_queued(struct serial_send *s, uint64_t now, uint64_t n)
{
	serial_send_clock(s, now);
	if (!is_final(s))
		count_below(s, n, n);
}

void serial_send_unacknowledged(struct serial_send *s, uint64_t now, uint64_t n)
{
	serial_send_clock(s, now);
	s->slack = s->reserve / 4;
	if (!is_final(s))
		count_below(s, n, n > s->slack ? n - s->slack : 0);
}

void serial_send_arrived(struct serial_send *s, uint64_t now, uint64_t n)
{
	serial_send_clock(s, now);
	if (is_final(s))
		return;
	serial_pace_at_least(&s->pace, s->now, min_of(n, max_of(s->reserve, s->queued_most)));
	s->idle_at = max_of(s->idle_at, serial_pace_when(&s->pace, 0));
	check_state(s);
}

void serial_send_left(struct serial_send *s, uint64_t now)
{
	serial_send_clock(s, now);
	s->kept = s->kept_least = 0;
}

/* Something from outside ends it. */
static void end_by(struct serial_send *s, uint64_t now, enum serial_send_reason reason)
{
	serial_send_clock(s, now);
	if (!is_final(s))
		fail(s, reason);
	check_state(s);
}

void serial_send_cancel(struct serial_send *s, uint64_t now)
{
	end_by(s, now, SERIAL_SEND_CANCELLED);
}

void serial_send_lost(struct serial_send *s, uint64_t now)
{
	end_by(s, now, SERIAL_SEND_LOST);
}

void serial_send_unplugged(struct serial_send *s, uint64_t now)
{
	end_by(s, now, SERIAL_SEND_UNPLUGGED);
}

void serial_send_break(struct serial_send *s, uint64_t now)
{
	/* A control that is switched on gives one too. */
	if (s->state != SERIAL_SEND_WAITING)
		end_by(s, now, SERIAL_SEND_BREAK);
}
