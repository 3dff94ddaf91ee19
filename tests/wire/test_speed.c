/*
 * Goal: a control at another speed than ours, in either direction and with every framing and code:
 * what it punches is never taken for a program, its words are not heard as DC1, and what we send is
 * no program to it.
 */
#include "wire_test.h"

#include <string.h>
#include "code.h"
#include "line_bed.h"
#include "reader.h"
#include "store.h"
#include "wave.h"

enum { TAPE = 600, HEARD = 4 * TAPE, LEADER = 20 };

static const char TEXT[] =
    "%\nO4417(BUSH 4417-C)\nN10 G0 G40 G80 X62.5 Z2.75 M8\nN20 G1 Z-48.2 F0.18\n"
    "N30 X64.1 Z-49. S1800 M3\nN40 M30\n%\n";

static const uint32_t speeds[] = {300, 1200, 2400, 4800, 7200, 9600, 19200, 38400, 115200};
enum { SPEEDS = sizeof(speeds) / sizeof(*speeds) };

/* A side's code as its reader or punch has it: with 7 bits its port makes and checks the parity. */
static enum code code_of(enum line_framing framing, enum line_code code)
{
	static const enum code codes[] = {CODE_ASCII, CODE_ISO, CODE_EIA};

	return line_seven(framing) ? CODE_ASCII : codes[code];
}

static size_t punched(uint8_t *tape, enum code code)
{
	size_t n = 0;

	tape[n++] = code_send(code, CODE_DC2);
	memset(tape + n, 0, LEADER);
	n += LEADER;
	for (const char *c = TEXT; *c; c++)
		tape[n++] = code_send(code, (uint8_t)*c);
	memset(tape + n, 0, LEADER);
	n += LEADER;
	tape[n++] = code_send(code, CODE_DC4);
	return n;
}

/* At one speed the wave is what frames are. */
static void the_same_speed(void **state)
{
	for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++) {
		struct wave_side side = {line_bed_framings[f], 9600};
		struct wave_character heard[HEARD];
		uint8_t tape[TAPE];
		size_t n = punched(tape, code_of(side.framing, LINE_CODE_ISO));

		assert_int_equal(wave_hear(&side, tape, n, &side, heard, HEARD), n);
		for (size_t i = 0; i < n; i++) {
			assert_int_equal(heard[i].fault, FRAME_OK);
			assert_int_equal(heard[i].byte, tape[i]);
		}
	}
}

/* A speed that is 3 % off is the same, and one that is 8 % off is not: half a bit in ten is 5 %. */
static void nearly_the_same_speed(void **state)
{
	struct wave_side ours = {LINE_8N1, 9600}, theirs = ours;
	struct wave_character heard[HEARD];
	uint8_t tape[TAPE];
	size_t n = punched(tape, CODE_ISO), wrong = 0;

	theirs.baud = 9312;
	assert_int_equal(wave_hear(&theirs, tape, n, &ours, heard, HEARD), n);
	for (size_t i = 0; i < n; i++)
		assert_true(heard[i].fault == FRAME_OK && heard[i].byte == tape[i]);
	theirs.baud = 8832;
	n = wave_hear(&theirs, tape, n, &ours, heard, HEARD);
	for (size_t i = 0; i < n; i++)
		wrong += heard[i].fault != FRAME_OK;
	assert_true(wrong > n / 8);
}

enum named { TAKEN, FRAMING, DAMAGED, NOTHING, NAMES };

/*
 * What a fetch makes of the characters. counts: the port says which were wrong; else they come as
 * they are, as over raw TCP from a server that passes them, or not at all, where it drops them.
 */
static enum named fetched(const struct line_serial *s, const struct wave_character *heard, size_t n,
    bool counts, bool drops)
{
	struct serial_receive *r = serial_receive_new(s, 1 << 20, 0);
	struct serial_receive_outcome o;
	size_t wrong = 0;
	enum named end = TAKEN;

	assert_non_null(r);
	for (size_t i = 0; i < n; i++) {
		wrong += heard[i].fault != FRAME_OK;
		if (heard[i].fault == FRAME_OK || !drops)
			serial_receive_feed(r, 0, &heard[i].byte, 1);
	}
	serial_receive_tick(r, UINT64_MAX);
	serial_receive_outcome(r, &o);
	if (o.state == SERIAL_RECEIVE_FAILED)
		end = NOTHING;
	else if (o.findings & SERIAL_CAPTURE_FRAMING || (counts && wrong > o.raw_size / 4))
		end = FRAMING;
	else if (serial_capture_worst(o.findings) || (counts && wrong))
		end = DAMAGED;
	serial_receive_free(r);
	return end;
}

static void wrong_speed_fetched(void **state)
{
	static const char *const ways[] = {"counted", "passed", "dropped"};

	for (unsigned way = 0; way < 3; way++) {
		unsigned tally[NAMES] = {0};

		for (unsigned i = 0; i < SPEEDS * SPEEDS * LINE_BED_FRAMINGS * LINE_BED_CODES;
		     i++) {
			enum line_framing framing = line_bed_framings[i % LINE_BED_FRAMINGS];
			struct line_serial s = {.framing = framing,
			    .code = (enum line_code)(i / LINE_BED_FRAMINGS % LINE_BED_CODES),
			    .read_back_ms = 1000,
			    .silence_ms = 1000};
			unsigned pair = i / LINE_BED_FRAMINGS / LINE_BED_CODES;
			struct wave_side theirs = {framing, speeds[pair % SPEEDS]},
			                 ours = {framing, speeds[pair / SPEEDS]};
			static struct wave_character heard[HEARD];
			uint8_t tape[TAPE];
			enum named end;
			size_t n;

			if (theirs.baud == ours.baud ||
			    (s.code == LINE_CODE_EIA && line_seven(framing)))
				continue;
			n = punched(tape, code_of(framing, s.code));
			n = wave_hear(&theirs, tape, n, &ours, heard, HEARD);
			end = fetched(&s, heard, n, way == 0, way == 2);
			if (end == TAKEN)
				fail_msg("%s, %s, the control %u, we %u: taken for a program",
				    line_bed_framing_names[framing], line_bed_code_names[s.code],
				    theirs.baud, ours.baud);
			tally[end]++;
		}
		print_message(
		    "[  speed   ] wrong characters are %s: framing %u, damaged %u, nothing %u\n",
		    ways[way], tally[FRAMING], tally[DAMAGED], tally[NOTHING]);
	}
}

/* Its DC1 at another speed starts nothing. */
static void wrong_speed_asked(void **state)
{
	for (unsigned i = 0; i < SPEEDS * SPEEDS * LINE_BED_FRAMINGS; i++) {
		unsigned pair = i / LINE_BED_FRAMINGS;
		enum line_framing framing = line_bed_framings[i % LINE_BED_FRAMINGS];
		struct wave_side theirs = {framing, speeds[pair % SPEEDS]},
		                 ours = {framing, speeds[pair / SPEEDS]};
		struct wave_character heard[HEARD];
		uint8_t dc1 = code_send(code_of(framing, LINE_CODE_ISO), CODE_DC1);
		size_t n = wave_hear(&theirs, &dc1, 1, &ours, heard, HEARD);

		for (size_t k = 0; theirs.baud != ours.baud && k < n; k++)
			if ((heard[k].byte & 0x7F) == CODE_DC1)
				fail_msg("%s, the control %u, we %u: a DC1 is heard",
				    line_bed_framing_names[framing], theirs.baud, ours.baud);
	}
}

/* What we send is stored by no control as a whole program: it gives an alarm, or waits for its
 * beginning. */
static void wrong_speed_sent(void **state)
{
	unsigned alarms = 0, waits = 0;

	for (unsigned i = 0; i < SPEEDS * SPEEDS * LINE_BED_FRAMINGS * LINE_BED_CODES; i++) {
		enum line_framing framing = line_bed_framings[i % LINE_BED_FRAMINGS];
		enum line_code code = (enum line_code)(i / LINE_BED_FRAMINGS % LINE_BED_CODES);
		unsigned pair = i / LINE_BED_FRAMINGS / LINE_BED_CODES;
		struct wave_side ours = {framing, speeds[pair % SPEEDS]},
		                 theirs = {framing, speeds[pair / SPEEDS]};
		static struct wave_character heard[HEARD];
		struct store *store;
		enum reader_answer answer = READER_MORE;
		struct reader reader;
		uint8_t tape[TAPE];
		size_t n = punched(tape, code_of(framing, code));

		if (code == LINE_CODE_EIA && line_seven(framing))
			continue;
		store = store_new("speed", NULL, 10000, false);
		assert_non_null(store);
		reader_init(&reader, store, code_of(framing, code), false);
		reader_start(&reader);
		n = wave_hear(&ours, tape, n, &theirs, heard, HEARD);
		for (size_t k = 0; k < n && answer == READER_MORE; k++)
			answer = heard[k].fault != FRAME_OK ? READER_PARITY
			                                    : reader_take(&reader, heard[k].byte);
		if (ours.baud == theirs.baud) {
			assert_int_equal(answer, READER_END);
		} else if (answer == READER_END) {
			fail_msg("%s, %s, we %u, the control %u: it has a whole program",
			    line_bed_framing_names[framing], line_bed_code_names[code], ours.baud,
			    theirs.baud);
		} else {
			alarms += answer != READER_MORE;
			waits += answer == READER_MORE;
		}
		store_free(store);
	}
	print_message("[  speed   ] sent at a wrong one: %u alarms, %u wait for the beginning\n",
	    alarms, waits);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_same_speed),
	    cmocka_unit_test(nearly_the_same_speed),
	    cmocka_unit_test(wrong_speed_fetched),
	    cmocka_unit_test(wrong_speed_asked),
	    cmocka_unit_test(wrong_speed_sent),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
