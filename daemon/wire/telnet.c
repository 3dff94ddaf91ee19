/*
 *   DATA --IAC--> AFTER_IAC --IAC--> DATA (255)
 *    |             |--WILL..DONT--> NAME --option--> DATA
 *    |             `--SB--> IN_SUB --IAC--> SUB_IAC --SE--> DATA
 *    `--CR, not BINARY--> CR --NUL dropped--> DATA
 */
#include "telnet.h"

#include <string.h>

void telnet_init(struct telnet *t)
{
	memset(t, 0, sizeof *t);
}

void telnet_may(struct telnet *t, uint8_t option, bool ours, bool his)
{
	t->may_us[option] = ours;
	t->may_him[option] = his;
}

static void put_verb(struct telnet *t, uint8_t verb, uint8_t option)
{
	if (t->out_n + 3 > sizeof t->out) {
		t->broken = true;
		return;
	}
	t->out[t->out_n++] = TELNET_IAC;
	t->out[t->out_n++] = verb;
	t->out[t->out_n++] = option;
}

void telnet_ask(struct telnet *t, uint8_t option, bool ours)
{
	uint8_t *side = ours ? &t->us[option] : &t->him[option];

	if (*side == TELNET_ON || *side == TELNET_ASKED_ON)
		return;
	*side = TELNET_ASKED_ON;
	put_verb(t, ours ? TELNET_WILL : TELNET_DO, option);
}

static void answer(struct telnet *t, uint8_t verb, uint8_t option)
{
	if (t->answers++ >= TELNET_ANSWERS)
		t->broken = true;
	else
		put_verb(t, verb, option);
}

/*
 * WILL and WONT speak of the peer's side, DO and DONT of ours. Only a change is answered, and an
 * answer to our own wish never (RFC 1143): two sides cannot answer each other for ever.
 */
static enum telnet_event negotiate(struct telnet *t, uint8_t verb, uint8_t option)
{
	bool ours = verb == TELNET_DO || verb == TELNET_DONT;
	bool on = verb == TELNET_DO || verb == TELNET_WILL;
	uint8_t *side = ours ? &t->us[option] : &t->him[option], was = *side;
	bool may = ours ? t->may_us[option] : t->may_him[option];

	t->option = option;
	t->ours = ours;
	if (on && was == TELNET_ON)
		return TELNET_NOTHING;
	if (!on && was == TELNET_OFF)
		return TELNET_NOTHING;
	if (on && was == TELNET_OFF && !may) {
		answer(t, ours ? TELNET_WONT : TELNET_DONT, option);
		return TELNET_NOTHING;
	}
	if (on && was == TELNET_OFF)
		answer(t, ours ? TELNET_WILL : TELNET_DO, option);
	if (!on && was == TELNET_ON)
		answer(t, ours ? TELNET_WONT : TELNET_DONT, option);
	*side = on ? TELNET_ON : TELNET_OFF;
	return on ? TELNET_AGREED : TELNET_REFUSED;
}

static void keep_sub(struct telnet *t, uint8_t c)
{
	if (t->sub_n < sizeof t->sub)
		t->sub[t->sub_n++] = c;
	else
		t->sub_long = true;
}

/* After IAC in data, or in a subnegotiation that was never closed: its rest is worth nothing. */
static enum telnet_event command(struct telnet *t, uint8_t c)
{
	t->state = TELNET_DATA;
	if (c >= TELNET_WILL && c <= TELNET_DONT) {
		t->verb = c;
		t->state = TELNET_NAME;
		return TELNET_NOTHING;
	}
	if (c == TELNET_SB) {
		t->sub_n = 0;
		t->sub_long = false;
		t->state = TELNET_IN_SUB;
		return TELNET_NOTHING;
	}
	t->command = c;
	return c == TELNET_NOP || c < TELNET_SE ? TELNET_NOTHING : TELNET_COMMANDED;
}

static enum telnet_event sub_iac(struct telnet *t, uint8_t c)
{
	if (c == TELNET_IAC) {
		keep_sub(t, c);
		t->state = TELNET_IN_SUB;
		return TELNET_NOTHING;
	}
	if (c != TELNET_SE)
		return command(t, c);
	t->state = TELNET_DATA;
	return t->sub_long || t->sub_n == 0 ? TELNET_NOTHING : TELNET_SUBOPTION;
}

/* One byte. data: where its character goes, if it is one. */
static enum telnet_event byte_in(struct telnet *t, uint8_t c, uint8_t *data, size_t *data_n)
{
	switch (t->state) {
	case TELNET_CR:
		t->state = TELNET_DATA;
		if (c == 0)
			break;
		/* fall through */
	case TELNET_DATA:
		if (c == TELNET_IAC) {
			t->state = TELNET_AFTER_IAC;
			break;
		}
		data[(*data_n)++] = c;
		if (c == '\r' && t->him[TELNET_BINARY] != TELNET_ON)
			t->state = TELNET_CR;
		break;
	case TELNET_AFTER_IAC:
		if (c != TELNET_IAC)
			return command(t, c);
		data[(*data_n)++] = c;
		t->state = TELNET_DATA;
		break;
	case TELNET_NAME:
		t->state = TELNET_DATA;
		return negotiate(t, t->verb, c);
	case TELNET_IN_SUB:
		if (c == TELNET_IAC)
			t->state = TELNET_SUB_IAC;
		else
			keep_sub(t, c);
		break;
	case TELNET_SUB_IAC:
		return sub_iac(t, c);
	}
	return TELNET_NOTHING;
}

size_t telnet_feed(struct telnet *t, const uint8_t *in, size_t n, uint8_t *data, size_t *data_n,
    enum telnet_event *event)
{
	size_t used = 0;

	*event = TELNET_NOTHING;
	while (used < n && *event == TELNET_NOTHING)
		*event = byte_in(t, in[used++], data, data_n);
	return used;
}

size_t telnet_put(struct telnet *t, const void *bytes, size_t n, size_t room)
{
	const uint8_t *from = bytes;
	size_t used = 0;

	if (room > sizeof t->out)
		room = sizeof t->out;
	for (; used < n; used++) {
		uint8_t c = from[used];
		bool nul = c == '\r' && t->us[TELNET_BINARY] != TELNET_ON;

		if (t->out_n + 1 + (c == TELNET_IAC || nul) > room)
			break;
		t->out[t->out_n++] = c;
		if (c == TELNET_IAC || nul)
			t->out[t->out_n++] = nul ? 0 : c;
	}
	return used;
}

bool telnet_put_sub(struct telnet *t, const void *bytes, size_t n)
{
	const uint8_t *from = bytes;
	size_t need = n + 4;

	for (size_t i = 0; i < n; i++)
		need += from[i] == TELNET_IAC;
	if (need > sizeof t->out - t->out_n)
		return false;
	t->out[t->out_n++] = TELNET_IAC;
	t->out[t->out_n++] = TELNET_SB;
	for (size_t i = 0; i < n; i++) {
		t->out[t->out_n++] = from[i];
		if (from[i] == TELNET_IAC)
			t->out[t->out_n++] = TELNET_IAC;
	}
	t->out[t->out_n++] = TELNET_IAC;
	t->out[t->out_n++] = TELNET_SE;
	return true;
}

void telnet_gone(struct telnet *t, size_t n)
{
	if (n > t->out_n)
		n = t->out_n;
	t->out_n -= n;
	memmove(t->out, t->out + n, t->out_n);
}
