#include "serial_pace.h"

#include <assert.h>

/* Far above any pile that exists; keeps the products in range whatever a caller says. */
static const uint64_t PILE_MAX = (uint64_t)1 << 32;

static uint64_t round_up(uint64_t value, uint64_t unit)
{
	return value / unit + (value % unit != 0);
}

static uint64_t tick_of(const struct serial_pace *p, uint64_t ms)
{
	return (ms < SERIAL_PACE_MS_MAX ? ms : SERIAL_PACE_MS_MAX) * p->baud;
}

static void init(
    struct serial_pace *p, uint32_t baud, enum line_framing framing, unsigned thousandths)
{
	assert(baud > 0 && baud <= SERIAL_PACE_BAUD_MAX);
	p->baud = baud;
	/* bits / baud seconds are bits * 1000 ticks. */
	p->character = line_bits(framing) * (uint64_t)thousandths;
	p->free_at = 0;
}

void serial_pace_init(struct serial_pace *p, uint32_t baud, enum line_framing framing)
{
	init(p, baud, framing, 1000 + SERIAL_PACE_SLOWER);
}

void serial_pace_init_least(struct serial_pace *p, uint32_t baud, enum line_framing framing)
{
	init(p, baud, framing, 1000 - SERIAL_PACE_SLOWER);
}

uint64_t serial_pace_below(const struct serial_pace *p, uint64_t ms)
{
	uint64_t now = tick_of(p, ms);

	return now >= p->free_at ? 0 : round_up(p->free_at - now, p->character);
}

void serial_pace_add(struct serial_pace *p, uint64_t ms, uint64_t n)
{
	uint64_t now = tick_of(p, ms);

	if (p->free_at < now)
		p->free_at = now;
	p->free_at += (n < PILE_MAX ? n : PILE_MAX) * p->character;
}

void serial_pace_at_least(struct serial_pace *p, uint64_t ms, uint64_t n)
{
	uint64_t until = tick_of(p, ms) + (n < PILE_MAX ? n : PILE_MAX) * p->character;

	if (n > 0 && p->free_at < until)
		p->free_at = until;
}

uint64_t serial_pace_when(const struct serial_pace *p, uint64_t n)
{
	uint64_t early = (n < PILE_MAX ? n : PILE_MAX) * p->character;

	return p->free_at <= early ? 0 : round_up(p->free_at - early, p->baud);
}

uint64_t serial_pace_line_ms(uint32_t baud, enum line_framing framing, uint64_t n)
{
	return round_up(n * line_bits(framing) * 1000, baud);
}

uint64_t serial_pace_room_needed(
    uint32_t baud, enum line_framing framing, uint32_t reaction, uint64_t below)
{
	return round_up((uint64_t)baud * reaction, 1000 * (uint64_t)line_bits(framing)) + below + 2;
}
