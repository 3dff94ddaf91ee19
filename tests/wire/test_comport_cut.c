/*
 * Goal: what a device server's bytes do does not depend on how they are cut, whatever it says and
 * whenever; and a port never counts as open with values that its server does not have.
 */
#include "wire_test.h"

#include <string.h>
#include "comport_asked.h"
#include "comport_server.h"

/* What a schedule does to one machine: the same bytes at the same times, cut differently. */
struct twin {
	struct comport *whole, *bytes;
};

static void same(const struct twin *w)
{
	struct comport_outcome a, b;
	const uint8_t *pa, *pb;
	size_t na, nb;

	comport_outcome(w->whole, &a);
	comport_outcome(w->bytes, &b);
	assert_int_equal(a.state, b.state);
	assert_int_equal(a.reason, b.reason);
	assert_int_equal(a.command, b.command);
	assert_int_equal(a.answered, b.answered);
	assert_int_equal(
	    a.overrun + a.parity + a.framing + a.brk, b.overrun + b.parity + b.framing + b.brk);
	assert_int_equal(a.suspended, b.suspended);
	assert_string_equal(a.said, b.said);
	pa = comport_pending(w->whole, &na);
	pb = comport_pending(w->bytes, &nb);
	assert_int_equal(na, nb);
	assert_memory_equal(pa, pb, na);
	assert_true(comport_deadline(w->whole) == comport_deadline(w->bytes));
}

static void twin_feed(const struct twin *w, uint64_t now, const uint8_t *in, size_t n)
{
	uint8_t a[SERVER_BYTES], b[SERVER_BYTES];
	size_t na = comport_feed(w->whole, now, in, n, a), nb = 0;

	for (size_t i = 0; i < n; i++)
		nb += comport_feed(w->bytes, now, in + i, 1, b + nb);
	assert_int_equal(na, nb);
	assert_memory_equal(a, b, na);
}

/* Noise between the server's words: commands in part, notices, wishes, data. */
static void noise(struct server *s, uint32_t *seed)
{
	uint8_t b[4] = {0, 0, 255, 3};
	size_t n;

	b[0] = (uint8_t)chance(seed);
	b[1] = (uint8_t)chance(seed);
	switch (chance(seed) % 6) {
	case 0:
		server_data(s, b, 1 + chance(seed) % 4);
		break;
	case 1:
		n = chance(seed) % 5;
		server_says(s, (uint8_t)(chance(seed) % 14), b, n);
		break;
	case 2:
		server_says(s, 8 + chance(seed) % 2, b, 0);
		break;
	case 3:
		memcpy(s->out + s->out_n, b, 4);
		s->out_n += 4;
		break;
	case 4:
		server_says(s, 6 + chance(seed) % 2, b, 1);
		break;
	case 5:
		break;
	}
}

/*
 * 100,000 schedules: a server with faults, noise, bytes late, times at random. The two
 * machines agree all the time; a port is never open with values that the server does not have; and
 * left alone each ends.
 */
static void however_it_is_cut(void **state)
{
	static const unsigned faults[] = {0, 0, 0, NO_COM_PORT, NO_BINARY, OTHER_BAUD, OTHER_SIZE,
	    OTHER_PARITY, OTHER_STOP, OTHER_FLOW, SIZE_TAKES_STOP, NO_MASKS, MUTE, TELLS_FIRST};
	static struct server s;
	unsigned open = 0, failed = 0;
	uint32_t seed = 2217;

	for (int round = 0; round < 100000; round++) {
		bool noisy = chance(&seed) % 2;
		uint64_t now = chance(&seed);
		struct twin w = {comport_new(&settings, now), comport_new(&settings, now)};
		struct comport_outcome o = {0};

		server_init(&s, faults[chance(&seed) % (sizeof faults / sizeof *faults)]);
		for (int turn = 0; turn < 150 && o.state != COMPORT_FAILED; turn++) {
			size_t n, some;
			const uint8_t *out = comport_pending(w.whole, &n);

			some = n ? 1 + chance(&seed) % n : 0;
			if (chance(&seed) % 256 == 0)
				s.faults |= MUTE;
			server_feed(&s, out, some);
			comport_gone(w.whole, some);
			comport_gone(w.bytes, some);
			if (noisy && chance(&seed) % 8 == 0)
				noise(&s, &seed);
			some = s.out_n ? 1 + chance(&seed) % s.out_n : 0;
			twin_feed(&w, now, s.out, some);
			s.out_n -= some;
			memmove(s.out, s.out + some, s.out_n);
			if (chance(&seed) % 16 == 0)
				now += chance(&seed) % 2000;
			comport_tick(w.whole, now);
			comport_tick(w.bytes, now);
			same(&w);
			comport_outcome(w.whole, &o);
			if (o.state == COMPORT_OPEN && !noisy)
				assert_true(s.baud == 9600 && s.size == 7 && s.parity == 3 &&
				            s.stop == 2 && s.flow == 1 && s.purged == 3);
			if (o.state == COMPORT_OPEN && chance(&seed) % 4 == 0)
				assert_int_equal(comport_write(w.whole,
				                     "\xFF"
				                     "X",
				                     2),
				    comport_write(w.bytes,
				        "\xFF"
				        "X",
				        2));
		}
		open += o.state == COMPORT_OPEN;
		failed += o.state == COMPORT_FAILED;
		for (int i = 0; i < 100 && o.state != COMPORT_FAILED; i++) {
			now = comport_deadline(w.whole);
			assert_true(now != COMPORT_NEVER);
			comport_tick(w.whole, now);
			comport_outcome(w.whole, &o);
		}
		assert_int_equal(o.state, COMPORT_FAILED);
		comport_free(w.whole);
		comport_free(w.bytes);
	}
	assert_true(open > 10000);
	assert_true(failed > 10000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(however_it_is_cut)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
