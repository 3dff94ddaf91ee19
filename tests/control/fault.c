/* Faults of the bench control's lines. */
#include "fault.h"
#include <string.h>

bool fault_add(struct bench *b, struct fault f)
{
	if (b->fault_count == BENCH_FAULTS)
		return false;
	b->faults[b->fault_count++] = f;
	return true;
}

uint8_t fault_spoil(struct bench *b, uint8_t byte)
{
	for (unsigned bit = 0; b->wrong_bits && bit < 8; bit++) {
		b->seed = b->seed ? b->seed : 1;
		b->seed ^= b->seed << 13;
		b->seed ^= b->seed >> 17;
		b->seed ^= b->seed << 5;
		if (b->seed % b->wrong_bits == 0)
			byte ^= (uint8_t)(1 << bit);
	}
	return byte;
}

static void remove_at(struct bench *b, size_t i)
{
	memmove(&b->faults[i], &b->faults[i + 1], (--b->fault_count - i) * sizeof(*b->faults));
}

/* True when the fault is not yet due for this character. */
static bool waits(struct fault *f, const struct channel *c, bool punching)
{
	bool counts_down =
	    f->kind == FAULT_DROP || f->kind == FAULT_NOISE || f->kind == FAULT_TWICE;

	if (f->punching != punching || (f->channel && f->channel != c))
		return true;
	if (counts_down)
		return --f->n > 0;
	return punching ? c->port->tape_at <= f->n : c->heard_in_load < f->n;
}

/* What its port makes of a character that belongs to no code. False: it does not come. */
static bool port_takes(const struct bench_settings *set, uint8_t *byte)
{
	uint8_t c;

	if (code_take(set->code, *byte, &c))
		return true;
	if (set->wrong == BENCH_PASS)
		*byte = code_send(set->code, c);
	if (set->wrong == BENCH_REPLACE)
		*byte = code_send(set->code, '?');
	return set->wrong != BENCH_DROP;
}

bool fault_in_load(struct channel *c, uint8_t *byte)
{
	struct bench *b = c->port->bench;
	bool arrives = true;

	for (size_t i = 0; i < b->fault_count;) {
		enum fault_kind kind = b->faults[i].kind;

		if (waits(&b->faults[i], c, false)) {
			i++;
			continue;
		}
		remove_at(b, i);
		if (kind == FAULT_DROP) {
			c->dropped++;
			arrives = false;
		} else if (kind == FAULT_TWICE) {
			c->twice++;
			line_again(c->port->line);
		} else if (kind == FAULT_NOISE) {
			c->damaged++;
			*byte ^= 1;
		} else if (kind == FAULT_HOLD) {
			(void)bench_hold(c);
		} else {
			bench_power_off(b);
			return false;
		}
	}
	return arrives && port_takes(&b->set, byte);
}

enum fault_out fault_in_punch(struct port *p, uint8_t *byte, enum fault_kind *how)
{
	enum fault_out out = FAULT_OUT_ONCE;
	struct channel *c = p->punching;
	struct bench *b = p->bench;

	for (size_t i = 0; i < b->fault_count;) {
		enum fault_kind kind = b->faults[i].kind;

		if (waits(&b->faults[i], c, true)) {
			i++;
			continue;
		}
		remove_at(b, i);
		if (kind == FAULT_DROP) {
			c->dropped++;
			out = FAULT_OUT_LOST;
		} else if (kind == FAULT_TWICE) {
			c->twice++;
			out = FAULT_OUT_TWICE;
		} else if (kind == FAULT_NOISE) {
			c->damaged++;
			*byte ^= 1;
		} else {
			*how = kind;
			return FAULT_OUT_ENDS;
		}
	}
	return out;
}
