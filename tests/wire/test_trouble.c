/*
 * Goal: each thing that goes wrong on a line, or is set wrong on either side, ends in its named
 * outcome, for every framing and code; and "done" is never said of a program that the control does
 * not hold to the byte.
 */
#include "carriage.h"

#include <stdio.h>
#include <string.h>

enum { MIDDLE = 150, MEMORY = 120, ROUNDS = 200 };

/* One fault in the middle of the program, unless said otherwise. */
struct trouble {
	const char *name;
	enum carry_error end;
	enum carry_error unseen; /* where nothing checks parity; NONE: the same */
	enum line_flow flow;
	enum line_watch watch;
	uint32_t total_ms;
	struct line_bed_control fault; /* added to a control that fits */
};

static const struct trouble troubles[] = {
    {"a character dropped", CARRY_ERROR_DIFFERS, .fault = {.drop = MIDDLE}},
    {"a character doubled", CARRY_ERROR_DIFFERS, .fault = {.twice = MIDDLE}},
    {"two bits turned over", CARRY_ERROR_DIFFERS, .fault = {.turn = CARRIAGE_A_ONE}},
    {"one bit turned over", CARRY_ERROR_STALL, CARRY_ERROR_DIFFERS, .fault = {.flip = MIDDLE}},
    {"one bit turned over, nobody brakes", CARRY_ERROR_DIFFERS, CARRY_ERROR_DIFFERS, LINE_FLOW_NONE,
        .fault = {.flip = MIDDLE}},
    {"memory full, DC3 for ever", CARRY_ERROR_STALL, .fault = {.memory = MEMORY}},
    {"memory full, ready line off", CARRY_ERROR_STALL, .flow = LINE_FLOW_RTSCTS,
        .fault = {.memory = MEMORY}},
    {"memory full, nobody brakes", CARRY_ERROR_DIFFERS, .flow = LINE_FLOW_NONE,
        .fault = {.memory = MEMORY}},
    {"DC3 for ever", CARRY_ERROR_STALL, .fault = {.hold = MIDDLE}},
    {"DC3 for ever and ready line off", CARRY_ERROR_STALL, .flow = LINE_FLOW_BOTH,
        .fault = {.hold = MIDDLE}},
    {"DSR off for ever", CARRY_ERROR_STALL, .flow = LINE_FLOW_DTRDSR, .fault = {.hold = MIDDLE}},
    {"DC3 that does not arrive", CARRY_ERROR_DIFFERS, .fault = {.mute = true}},
    {"power loss that nobody tells", CARRY_ERROR_NOTHING, .fault = {.power = MIDDLE}},
    {"power loss, DSR watched", CARRY_ERROR_DROPPED, .watch = LINE_WATCH_DSR,
        .fault = {.power = MIDDLE}},
    {"power loss, DCD watched", CARRY_ERROR_DROPPED, .flow = LINE_FLOW_DTRDSR,
        .watch = LINE_WATCH_DCD, .fault = {.power = MIDDLE}},
    {"power loss, ready line off", CARRY_ERROR_STALL, .flow = LINE_FLOW_RTSCTS,
        .fault = {.power = MIDDLE}},
    {"never set to read", CARRY_ERROR_NO_START, .fault = {.deaf = true}},
    {"never set to read, ready line off", CARRY_ERROR_NO_START, .flow = LINE_FLOW_DTRDSR,
        .fault = {.deaf = true}},
    {"never set to read, nobody brakes", CARRY_ERROR_NOTHING, .flow = LINE_FLOW_NONE,
        .fault = {.deaf = true}},
    {"connection lost", CARRY_ERROR_LOST, .fault = {.cut_at = MIDDLE, .cut = serial_send_lost}},
    {"adapter unplugged", CARRY_ERROR_UNPLUGGED,
        .fault = {.cut_at = MIDDLE, .cut = serial_send_unplugged}},
    {"break", CARRY_ERROR_BREAK, .fault = {.cut_at = MIDDLE, .cut = serial_send_break}},
    {"cancelled", CARRY_ERROR_CANCELLED, .fault = {.cut_at = MIDDLE, .cut = serial_send_cancel}},
    {"slower than it may be", CARRY_ERROR_TIME, .total_ms = 300},
};

static void ends_named(const struct trouble *t, enum line_framing framing, enum line_code code)
{
	bool unseen =
	    code == LINE_CODE_ASCII && (framing == LINE_8N1 || framing == LINE_8N2) && t->unseen;
	struct line_serial set = carriage_settings(framing, code, t->flow);
	struct line_bed_control control;
	struct serial_send_outcome o;
	struct line_bed b;
	enum carry_error end, want = unseen ? t->unseen : t->end;

	set.watch = t->watch;
	set.total_ms = t->total_ms;
	control = carriage_fault(&set, &t->fault);
	line_bed_init(&b, &set, &control);
	end = carriage_run(&b, &o);
	if (end != want)
		fail_msg("%s, %s, %s: ended in '%s', not in '%s'; the control: %s", t->name,
		    line_bed_framing_names[framing], line_bed_code_names[code], carriage_name(end),
		    carriage_name(want), b.alarm ? b.alarm : "no alarm");
	assert_int_not_equal(end, CARRY_ERROR_NONE);
	if (end == CARRY_ERROR_NO_START)
		assert_int_equal(o.characters, 0);
	else if (o.state == SERIAL_SEND_FAILED) /* the place is told */
		assert_true(o.bytes > 0 && o.bytes < o.total && o.block < o.blocks);
	assert_false(carriage_held(&b));
	line_bed_end(&b);
}

static void each_trouble_ends_in_its_outcome(void **state)
{
	unsigned n = 0;

	for (size_t i = 0; i < sizeof(troubles) / sizeof(*troubles); i++)
		for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++)
			for (enum line_code code = LINE_CODE_ASCII; code <= LINE_CODE_EIA; code++) {
				if (carriage_impossible(line_bed_framings[f], code))
					continue;
				ends_named(&troubles[i], line_bed_framings[f], code);
				n++;
			}
	print_message("[ trouble  ] %zu faults, %u carriages, none ended in done\n",
	    sizeof(troubles) / sizeof(*troubles), n);
}

/* Without any fault the same carriage is done: else the table above would prove nothing. */
static void without_trouble_it_is_done(void **state)
{
	for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++)
		for (enum line_flow flow = LINE_FLOW_XON; flow <= LINE_FLOW_NONE; flow++)
			for (enum line_code code = LINE_CODE_ASCII; code <= LINE_CODE_EIA; code++) {
				struct line_serial set =
				    carriage_settings(line_bed_framings[f], code, flow);
				struct line_bed_control control = line_bed_fitting(&set);
				struct serial_send_outcome o;
				struct line_bed b;

				if (carriage_impossible(line_bed_framings[f], code))
					continue;
				line_bed_init(&b, &set, &control);
				assert_int_equal(carriage_run(&b, &o), CARRY_ERROR_NONE);
				assert_true(carriage_held(&b));
				line_bed_end(&b);
			}
}

static void tell_tally(const char *what, const unsigned *tally)
{
	print_message("[ trouble  ] %s:", what);
	for (unsigned i = 0; i < CARRY_ERROR_COUNT; i++)
		if (tally[i])
			print_message(" %s %u", i ? carriage_name(i) : "done", tally[i]);
	print_message("\n");
}

/* Noise both ways, in every bit alike: done is said only when the control has the program. */
static void noise(void **state)
{
	static const uint64_t one_in[] = {100, 1000, 10000, 100000};

	for (size_t i = 0; i < sizeof(one_in) / sizeof(*one_in); i++) {
		unsigned tally[CARRY_ERROR_COUNT] = {0};
		char what[40];

		for (uint32_t round = 0; round < ROUNDS * LINE_BED_FRAMINGS * LINE_BED_CODES;
		     round++) {
			enum line_code code = round / LINE_BED_FRAMINGS % LINE_BED_CODES;
			struct line_serial set =
			    carriage_settings(line_bed_framings[round % LINE_BED_FRAMINGS], code,
			        round / LINE_BED_FRAMINGS / LINE_BED_CODES % (LINE_FLOW_NONE + 1));
			struct line_bed_control control = line_bed_fitting(&set);
			struct serial_send_outcome o;
			struct line_bed b;
			enum carry_error end;

			if (carriage_impossible(set.framing, code))
				continue;
			control.noise = one_in[i];
			line_bed_init(&b, &set, &control);
			b.seed = 1 + round;
			end = carriage_run(&b, &o);
			if (end == CARRY_ERROR_NONE)
				assert_true(carriage_held(&b));
			tally[end]++;
			line_bed_end(&b);
		}
		snprintf(what, sizeof(what), "one bit in %u wrong", (unsigned)one_in[i]);
		tell_tally(what, tally);
		assert_true(i > 0 || tally[CARRY_ERROR_NONE] == 0);
	}
}

/* Two framings whose characters are the same but for the number of stop bits. */
static bool alike(enum line_framing a, enum line_framing b)
{
	static const int kind[] = {[LINE_7E1] = 1,
	    [LINE_7E2] = 1,
	    [LINE_7O1] = 2,
	    [LINE_8N1] = 3,
	    [LINE_8N2] = 3,
	    [LINE_8E1] = 4};

	return kind[a] == kind[b];
}

/* Our framing and the control's, each with each: sending. */
static void wrong_framing_sent(void **state)
{
	unsigned tally[CARRY_ERROR_COUNT] = {0};

	for (unsigned i = 0; i < LINE_BED_FRAMINGS * LINE_BED_FRAMINGS * (LINE_FLOW_NONE + 1);
	     i++) {
		struct line_serial set = carriage_settings(line_bed_framings[i % LINE_BED_FRAMINGS],
		    LINE_CODE_ASCII, i / LINE_BED_FRAMINGS / LINE_BED_FRAMINGS);
		struct line_bed_control control = line_bed_fitting(&set);
		struct serial_send_outcome o;
		struct line_bed b;
		enum carry_error end;

		control.framing = line_bed_framings[i / LINE_BED_FRAMINGS % LINE_BED_FRAMINGS];
		line_bed_init(&b, &set, &control);
		end = carriage_run(&b, &o);
		if ((end == CARRY_ERROR_NONE) != alike(set.framing, control.framing) ||
		    (end == CARRY_ERROR_NONE && !carriage_held(&b)))
			fail_msg("we %s, the control %s: %s", line_bed_framing_names[set.framing],
			    line_bed_framing_names[control.framing], carriage_name(end));
		tally[end]++;
		line_bed_end(&b);
	}
	tell_tally("each framing to each", tally);
}

/* A control that has the program punches it with other settings than ours: named, never taken. */
static enum carry_error fetched(const struct line_serial *set, const struct line_bed_control *now)
{
	struct line_bed_control control = line_bed_fitting(set);
	struct serial_send_outcome o;
	struct line_bed b;
	enum carry_error end;

	line_bed_init(&b, set, &control);
	assert_int_equal(carriage_run(&b, &o), CARRY_ERROR_NONE);
	b.control = *now;
	end = carriage_punched(&b);
	line_bed_end(&b);
	return end;
}

static void wrong_framing_fetched(void **state)
{
	for (unsigned i = 0; i < LINE_BED_FRAMINGS * LINE_BED_FRAMINGS; i++) {
		struct line_serial set = carriage_settings(
		    line_bed_framings[i % LINE_BED_FRAMINGS], LINE_CODE_ASCII, LINE_FLOW_XON);
		struct line_bed_control control = line_bed_fitting(&set);
		enum carry_error end;

		control.framing = line_bed_framings[i / LINE_BED_FRAMINGS];
		end = fetched(&set, &control);
		if (end !=
		    (alike(set.framing, control.framing) ? CARRY_ERROR_NONE : CARRY_ERROR_FRAMING))
			fail_msg("we %s, the control %s: %s", line_bed_framing_names[set.framing],
			    line_bed_framing_names[control.framing], carriage_name(end));
	}
}

/*
 * The same from a device server that does not say which characters it found wrong, as over raw TCP.
 * Parity that is read as an eighth bit is named all the same. Seven bits read as eight, or the
 * other way round, are the same characters; dropped or replaced ones show in the comparison alone.
 */
static void wrong_framing_untold(void **state)
{
	unsigned tally[CARRY_ERROR_COUNT] = {0};

	for (unsigned i = 0; i < 3 * LINE_BED_FRAMINGS * LINE_BED_FRAMINGS; i++) {
		unsigned pair = i / 3;
		struct line_serial set = carriage_settings(
		    line_bed_framings[pair % LINE_BED_FRAMINGS], LINE_CODE_ASCII, LINE_FLOW_XON);
		struct line_bed_control control = line_bed_fitting(&set);
		bool eight = set.framing == LINE_8N1 || set.framing == LINE_8N2;
		enum carry_error end;

		control.framing = line_bed_framings[pair / LINE_BED_FRAMINGS];
		control.our_port = LINE_BED_PASSED + i % 3;
		end = fetched(&set, &control);
		if ((eight && line_seven(control.framing) && end != CARRY_ERROR_FRAMING) ||
		    (alike(set.framing, control.framing) && end != CARRY_ERROR_NONE))
			fail_msg("we %s, the control %s: %s", line_bed_framing_names[set.framing],
			    line_bed_framing_names[control.framing], carriage_name(end));
		tally[end]++;
	}
	tell_tally("each framing from each, nobody tells", tally);
}

/* The code: ISO set and ASCII punched can be read, unchecked; every other pair is named. */
static void wrong_code_fetched(void **state)
{
	for (unsigned i = 0; i < LINE_BED_CODES * LINE_BED_CODES; i++) {
		enum line_code ours = i % LINE_BED_CODES, its = i / LINE_BED_CODES;
		struct line_serial set = carriage_settings(LINE_8N2, ours, LINE_FLOW_XON);
		struct line_serial other = carriage_settings(LINE_8N2, its, LINE_FLOW_XON);
		struct line_bed_control control = line_bed_fitting(&other);
		bool readable = ours == its || (ours == LINE_CODE_ISO && its == LINE_CODE_ASCII);
		enum carry_error end = fetched(&set, &control);

		if (end != (readable ? CARRY_ERROR_NONE : CARRY_ERROR_FRAMING))
			fail_msg("we %s, the control %s: %s", line_bed_code_names[ours],
			    line_bed_code_names[its], carriage_name(end));
	}
}

/* The code, sending: what the control cannot read is never done. */
static void wrong_code_sent(void **state)
{
	unsigned tally[CARRY_ERROR_COUNT] = {0};

	for (unsigned i = 0; i < LINE_BED_CODES * LINE_BED_CODES * (LINE_FLOW_NONE + 1); i++) {
		enum line_code ours = i % LINE_BED_CODES, its = i / LINE_BED_CODES % LINE_BED_CODES;
		enum line_flow flow = i / LINE_BED_CODES / LINE_BED_CODES;
		struct line_serial set = carriage_settings(LINE_8N2, ours, flow);
		struct line_serial other = carriage_settings(LINE_8N2, its, flow);
		struct line_bed_control control = line_bed_fitting(&other);
		struct serial_send_outcome o;
		struct line_bed b;
		enum carry_error end;

		line_bed_init(&b, &set, &control);
		end = carriage_run(&b, &o);
		if ((end == CARRY_ERROR_NONE) != (ours == its) ||
		    carriage_held(&b) != (ours == its))
			fail_msg("we %s, the control %s: %s", line_bed_code_names[ours],
			    line_bed_code_names[its], carriage_name(end));
		tally[end]++;
		line_bed_end(&b);
	}
	tell_tally("each code to each", tally);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(without_trouble_it_is_done),
	    cmocka_unit_test(each_trouble_ends_in_its_outcome),
	    cmocka_unit_test(noise),
	    cmocka_unit_test(wrong_framing_sent),
	    cmocka_unit_test(wrong_framing_fetched),
	    cmocka_unit_test(wrong_framing_untold),
	    cmocka_unit_test(wrong_code_sent),
	    cmocka_unit_test(wrong_code_fetched),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
