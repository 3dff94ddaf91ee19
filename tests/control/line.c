/* Pacing, buffer and DC3 of the bench control's line. */
#include "line.h"
#include <assert.h>
#include <stdlib.h>

struct ring {
	uint8_t *bytes;
	size_t size, used, first;
};

struct line {
	struct line_settings set;
	struct line_ears ears;
	struct ring fifo, buffer;
	uint64_t now;        /* the clock of the running line_advance() */
	uint64_t next_in;    /* the next character of the FIFO is whole at this time */
	uint64_t next_drain; /* the control takes the next one at this time */
	bool stopped;        /* DC3 is in force */
	bool held;           /* the control takes nothing */
	bool again;          /* the character at hand comes twice */
	uint64_t since_stop; /* characters after the DC3 in force */
	struct line_counts *counts;
	struct line_counts nowhere;
};

static void ring_put(struct ring *r, uint8_t byte)
{
	assert(r->used < r->size);
	r->bytes[(r->first + r->used++) % r->size] = byte;
}

static uint8_t ring_get(struct ring *r)
{
	uint8_t byte = r->bytes[r->first];

	assert(r->used > 0);
	r->first = (r->first + 1) % r->size;
	r->used--;
	return byte;
}

static uint64_t later(uint64_t a, uint64_t b)
{
	return a > b ? a : b;
}

struct line *line_new(const struct line_settings *settings, const struct line_ears *ears)
{
	struct line *l = calloc(1, sizeof(*l));

	if (!l)
		return NULL;
	l->set = *settings;
	l->ears = *ears;
	l->counts = &l->nowhere;
	l->fifo.size = settings->fifo;
	l->buffer.size = settings->buffer;
	l->fifo.bytes = malloc(settings->fifo);
	l->buffer.bytes = malloc(settings->buffer);
	if (!l->fifo.bytes || !l->buffer.bytes) {
		line_free(l);
		return NULL;
	}
	return l;
}

void line_free(struct line *l)
{
	if (!l)
		return;
	free(l->fifo.bytes);
	free(l->buffer.bytes);
	free(l);
}

void line_count_load(struct line *l, struct line_counts *counts)
{
	l->counts = counts ? counts : &l->nowhere;
	l->counts->first_at = l->counts->last_at = l->counts->in_load = 0;
}

size_t line_room(const struct line *l)
{
	if (l->set.brake && l->stopped)
		return 0;
	return l->fifo.size - l->fifo.used;
}

void line_feed(struct line *l, uint64_t now, const uint8_t *bytes, size_t n, bool waited)
{
	if (n && !l->fifo.used && !waited)
		l->next_in = later(l->next_in, now + l->set.char_ns);
	for (size_t i = 0; i < n; i++)
		ring_put(&l->fifo, bytes[i]);
}

static void stop_sender(struct line *l)
{
	if (l->stopped)
		return;
	l->stopped = true;
	l->since_stop = 0;
	/* The sender cannot know before now: our own lag must not look like characters sent after
	 * DC3. */
	l->next_in = later(l->next_in, l->now + l->set.char_ns);
	l->ears.flow(l->ears.ctx, true);
}

static void start_sender(struct line *l, uint64_t at)
{
	if (!l->stopped || l->held || l->buffer.used > l->set.resume)
		return;
	l->stopped = false;
	if (!l->fifo.used)
		l->next_in = later(l->next_in, at + l->set.char_ns);
	l->ears.flow(l->ears.ctx, false);
}

static void count(struct line *l, uint64_t at, bool stopped)
{
	struct line_counts *c = l->counts;

	c->received++;
	if (!c->in_load++)
		c->first_at = at;
	c->last_at = at;
	if (!stopped)
		return;
	c->after_dc3++;
	if (++l->since_stop > c->after_most)
		c->after_most = l->since_stop;
}

/* A character off the wire gets to the buffer, or is lost there. */
static void enter(struct line *l, uint64_t at, uint8_t byte, bool stopped)
{
	count(l, at, stopped);
	if (l->buffer.used == l->buffer.size) {
		l->counts->overrun++;
		l->ears.overrun(l->ears.ctx);
		return;
	}
	if (!l->buffer.used)
		l->next_drain = later(l->next_drain, at + l->set.drain_ns);
	ring_put(&l->buffer, byte);
	if (l->buffer.size - l->buffer.used <= l->set.reserve && !l->stopped) {
		l->counts->stops++;
		stop_sender(l);
	}
}

static void arrive(struct line *l, uint64_t at)
{
	uint8_t byte = ring_get(&l->fifo);
	bool stopped = l->stopped;

	l->next_in = at + l->set.char_ns;
	l->again = false;
	if (!l->ears.heard(l->ears.ctx, at, &byte))
		return;
	enter(l, at, byte, stopped);
	if (l->again)
		enter(l, at, byte, stopped);
}

static void drain(struct line *l, uint64_t at)
{
	uint8_t byte = ring_get(&l->buffer);

	l->next_drain = at + l->set.drain_ns;
	l->ears.taken(l->ears.ctx, byte);
	start_sender(l, at);
}

void line_advance(struct line *l, uint64_t now)
{
	l->now = now;
	for (;;) {
		uint64_t in = l->fifo.used ? l->next_in : LINE_NEVER;
		uint64_t out = l->buffer.used && !l->held ? l->next_drain : LINE_NEVER;

		if (in > now && out > now)
			break;
		if (out <= in)
			drain(l, out);
		else
			arrive(l, in);
	}
}

uint64_t line_next(const struct line *l)
{
	uint64_t in = l->fifo.used ? l->next_in : LINE_NEVER;
	uint64_t out = l->buffer.used && !l->held ? l->next_drain : LINE_NEVER;

	return in < out ? in : out;
}

bool line_quiet(const struct line *l)
{
	return !l->fifo.used;
}

bool line_settled(const struct line *l)
{
	return line_next(l) == LINE_NEVER;
}

void line_again(struct line *l)
{
	l->again = true;
}

void line_hold(struct line *l, bool hold, uint64_t now)
{
	l->now = now;
	if (hold) {
		l->held = true;
		stop_sender(l);
	} else if (l->held) {
		l->held = false;
		l->next_drain = later(l->next_drain, now + l->set.drain_ns);
		start_sender(l, now);
	}
}

void line_clear(struct line *l)
{
	l->buffer.used = 0;
	l->stopped = false;
	l->held = false;
	l->counts = &l->nowhere;
}

void line_cut(struct line *l)
{
	line_clear(l);
	l->fifo.used = 0;
}
