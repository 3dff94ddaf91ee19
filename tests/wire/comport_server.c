#include "comport_server.h"

#include <string.h>

enum { IAC = 255, DONT = 254, DO = 253, WONT = 252, WILL = 251, SB = 250, SE = 240 };

void server_init(struct server *s, unsigned faults)
{
	memset(s, 0, sizeof *s);
	s->faults = faults;
	s->baud = 1200;
	s->size = 8;
	s->parity = 2;
	s->stop = 1;
	s->flow = 2;
}

static void put(struct server *s, const void *bytes, size_t n)
{
	assert_true(s->out_n + n <= sizeof s->out);
	memcpy(s->out + s->out_n, bytes, n);
	s->out_n += n;
}

void server_data(struct server *s, const uint8_t *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		put(s, bytes + i, 1);
		if (bytes[i] == IAC)
			put(s, bytes + i, 1);
	}
}

void server_says(struct server *s, uint8_t command, const void *bytes, size_t n)
{
	put(s, ((uint8_t[]){IAC, SB, 44, (uint8_t)(command + 100)}), 4);
	server_data(s, bytes, n);
	put(s, ((uint8_t[]){IAC, SE}), 2);
}

static void says_baud(struct server *s)
{
	uint8_t b[] = {(uint8_t)(s->baud >> 24), (uint8_t)(s->baud >> 16), (uint8_t)(s->baud >> 8),
	    (uint8_t)s->baud};

	server_says(s, 1, b, 4);
}

static void baud(struct server *s, const uint8_t *b)
{
	uint32_t want =
	    (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | (uint32_t)b[3];

	if (want && s->faults & TELLS_FIRST)
		says_baud(s);
	if (want)
		s->baud = s->faults & OTHER_BAUD ? want / 2 : want;
	says_baud(s);
}

/* SET-CONTROL: RFC 2217 groups its values. */
static uint8_t control(struct server *s, uint8_t v)
{
	if (v >= 1 && v <= 3) {
		s->flow = s->faults & OTHER_FLOW ? 2 : v;
		if (s->faults & SIZE_TAKES_STOP)
			s->stop = 1;
	}
	if (v <= 3)
		return s->flow;
	if (v == 8 || v == 9)
		s->dtr = v;
	if (v == 11 || v == 12)
		s->rts = v;
	return v;
}

static void one_byte(struct server *s, uint8_t command, uint8_t v)
{
	switch (command) {
	case 2:
		s->size = s->faults & OTHER_SIZE ? 8 : v ? v : s->size;
		v = s->size;
		break;
	case 3:
		s->parity = s->faults & OTHER_PARITY ? 1 : v ? v : s->parity;
		v = s->parity;
		break;
	case 4:
		s->stop = s->faults & OTHER_STOP ? 1 : v ? v : s->stop;
		v = s->stop;
		break;
	case 5:
		v = control(s, v);
		break;
	case 10:
		s->line_mask = v;
		break;
	case 11:
		s->modem_mask = v;
		break;
	case 12:
		s->purged |= v;
		break;
	default:
		fail_msg("a command that no client has: %u", command);
	}
	if (!(s->faults & NO_MASKS && (command == 10 || command == 11)))
		server_says(s, command, &v, 1);
}

static void option(struct server *s, uint8_t verb, uint8_t what)
{
	if (verb == WILL && what == 44) {
		s->com_port = !(s->faults & NO_COM_PORT);
		put(s, ((uint8_t[]){IAC, s->com_port ? DO : DONT, 44}), 3);
	} else if (verb == WILL && what == 0) {
		s->binary_in = true;
		put(s, ((uint8_t[]){IAC, DO, 0}), 3);
	} else if (verb == DO && what == 0) {
		s->binary_out = !(s->faults & NO_BINARY);
		put(s, ((uint8_t[]){IAC, s->binary_out ? WILL : WONT, 0}), 3);
	}
}

/* One whole command at the front of in: its length, 0 when it is not whole yet. */
static size_t take(struct server *s)
{
	uint8_t sub[64];
	size_t n = 0, i;

	if (s->in[0] != IAC) {
		s->line[s->line_n++] = s->in[0];
		return 1;
	}
	if (s->in_n < 2)
		return 0;
	if (s->in[1] == IAC) {
		s->line[s->line_n++] = IAC;
		return 2;
	}
	if (s->in[1] != SB) {
		if (s->in_n >= 3)
			option(s, s->in[1], s->in[2]);
		return s->in_n >= 3 ? 3 : 0;
	}
	for (i = 2; i + 1 < s->in_n; i++) {
		if (s->in[i] == IAC && s->in[i + 1] == SE)
			break;
		i += s->in[i] == IAC;
		assert_true(n < sizeof sub);
		sub[n++] = s->in[i];
	}
	if (i + 1 >= s->in_n)
		return 0;
	assert_int_equal(sub[0], 44);
	assert_true(s->com_port && s->binary_in && s->binary_out);
	if (s->faults & MUTE || sub[1] == 0)
		return i + 2;
	if (sub[1] == 1) {
		assert_int_equal(n, 6);
		baud(s, sub + 2);
	} else {
		assert_int_equal(n, 3);
		one_byte(s, sub[1], sub[2]);
	}
	return i + 2;
}

void server_feed(struct server *s, const uint8_t *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		size_t used;

		assert_true(s->in_n < sizeof s->in);
		s->in[s->in_n++] = bytes[i];
		assert_true(s->line_n < sizeof s->line);
		used = take(s);
		s->in_n -= used;
		memmove(s->in, s->in + used, s->in_n);
	}
}
