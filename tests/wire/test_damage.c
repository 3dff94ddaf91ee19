/*
 * Goal: a fetch has nothing to compare with, so each single thing that can happen to a character on
 * its way is tried, in every character of a program: what can be seen makes no program of it, and
 * what cannot is counted and named here.
 */
#include "wire_test.h"

#include <string.h>
#include "canonical.h"
#include "code.h"
#include "serial_receive.h"

static const char TEXT[] =
    "%\nO4417(BUSH 4417-C)\nN10 G0 X62.5 Z-3. S1800 M3\nN20 G1 Z-48.29 F0.16\nN30 M30\n%\n";

enum { LEADER = 3, TAPE = 200, CODES = 3 };

static const char *const names[CODES] = {"ASCII", "ISO", "EIA"};

/* The program as the bench control punches it, in its own table. */
static size_t punched(uint8_t *tape, enum code code)
{
	size_t n = 0;

	tape[n++] = code_send(code, CODE_DC2);
	for (int i = 0; i < LEADER; i++)
		tape[n++] = 0;
	for (const char *c = TEXT; *c; c++)
		tape[n++] = code_send(code, (uint8_t)*c);
	for (int i = 0; i < LEADER; i++)
		tape[n++] = 0;
	tape[n++] = code_send(code, CODE_DC4);
	return n;
}

enum end { SAME, REFUSED, ANOTHER };

/* Canonical form up to the closing %: what follows is no part of a program (serial_back.c). */
static size_t up_to_the_end(const uint8_t *text, size_t n)
{
	const uint8_t *at = memmem(text, n, "\n%\n", 3);

	return at ? (size_t)(at - text) + 3 : n;
}

/* What becomes of a tape. */
static enum end fetched(enum code code, const uint8_t *tape, size_t n)
{
	const struct line_serial s = {
	    .baud = 9600, .code = (enum line_code)code, .read_back_ms = 60000, .silence_ms = 2000};
	struct serial_receive *r = serial_receive_new(&s, 1 << 20, 0);
	struct serial_receive_outcome o;
	struct canonical sent;
	enum end end = REFUSED;

	assert_non_null(r);
	serial_receive_feed(r, 0, tape, n);
	serial_receive_tick(r, UINT64_MAX);
	serial_receive_outcome(r, &o);
	assert_int_equal(canonical_make(&sent, TEXT, strlen(TEXT)), 0);
	/* The carrier takes no text that has a finding of this kind (serial_back.c). */
	if (o.usable && serial_capture_worst(o.findings) == 0)
		end = up_to_the_end(o.text, o.text_size) == sent.size &&
		              !memcmp(o.text, sent.bytes, sent.size)
		          ? SAME
		          : ANOTHER;
	canonical_free(&sent);
	serial_receive_free(r);
	return end;
}

static void without_damage(void **state)
{
	uint8_t tape[TAPE];

	for (enum code code = CODE_ASCII; code <= CODE_EIA; code++)
		assert_int_equal(fetched(code, tape, punched(tape, code)), SAME);
}

/*
 * Every bit turned over: with parity none makes another program of it. It once did: the digits 1 to
 * 4 became device controls, which were left out, and X412 was fetched as X42. Without parity
 * nothing shows a character that became another one.
 */
static void one_bit(void **state)
{
	for (enum code code = CODE_ASCII; code <= CODE_EIA; code++) {
		unsigned ends[3] = {0};
		uint8_t tape[TAPE];
		size_t n = punched(tape, code);

		for (size_t bit = 0; bit < 8 * n; bit++) {
			enum end end;

			tape[bit / 8] ^= (uint8_t)(1 << bit % 8);
			end = fetched(code, tape, n);
			if (end == ANOTHER && code != CODE_ASCII)
				fail_msg("%s, byte %zu, bit %zu: another program is taken",
				    names[code], bit / 8, bit % 8);
			ends[end]++;
			tape[bit / 8] ^= (uint8_t)(1 << bit % 8);
		}
		print_message("[  damage  ] %s, one bit wrong: %u without effect, %u refused, %u "
		              "another program\n",
		    names[code], ends[SAME], ends[REFUSED], ends[ANOTHER]);
		assert_true(code != CODE_ASCII || ends[ANOTHER] > 0);
	}
}

/* A character that is not there, or there twice, leaves no trace in itself: only what follows from
 * it, as when it was the closing %. Where it matters the control is asked to punch again. */
static void one_character(void **state)
{
	for (enum code code = CODE_ASCII; code <= CODE_EIA; code++)
		for (int twice = 0; twice <= 1; twice++) {
			unsigned ends[3] = {0};
			uint8_t tape[TAPE], worse[TAPE];
			size_t n = punched(tape, code);

			for (size_t i = 0; i < n; i++) {
				memcpy(worse, tape, i + 1);
				memcpy(worse + i + twice, tape + i + !twice, n - i - !twice);
				ends[fetched(code, worse, twice ? n + 1 : n - 1)]++;
			}
			print_message("[  damage  ] %s, one character %s: %u without effect, %u "
			              "refused, %u another program\n",
			    names[code], twice ? "twice" : "lost", ends[SAME], ends[REFUSED],
			    ends[ANOTHER]);
			assert_int_equal(ends[SAME] + ends[REFUSED] + ends[ANOTHER], n);
			assert_true(ends[ANOTHER] > 0);
		}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(without_damage),
	    cmocka_unit_test(one_bit),
	    cmocka_unit_test(one_character),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
