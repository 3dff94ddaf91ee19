/*
 * Goal: each thing that goes wrong between a control that punches and us ends in its named outcome,
 * for every framing and code, and for each way in which a port treats a character that it finds
 * wrong; and where none can be told, only the comparison with what was sent finds it: this table
 * says which.
 */
#include "carriage.h"

#include <stdio.h>
#include <string.h>

/* A_ONE is the digit of N10 on the tape, behind DC2, 20 of leader and two blocks. */
enum { MIDDLE = 120, A_ONE = 44 };

static const char *const port_names[] = {"told", "passed", "dropped", "replaced"};

/* Who finds a single wrong bit. */
static bool port_checks(enum line_framing f)
{
	return f != LINE_8N1 && f != LINE_8N2;
}

/* The reader of ISO and EIA looks at parity where eight bits come. */
static bool code_checks(enum line_framing f, enum line_code c)
{
	return c != LINE_CODE_ASCII && !line_seven(f);
}

/*
 * What a wrong bit ends in. DIFFERS is a comparison's word: a fetch has nothing to compare with,
 * and takes another program.
 */
static enum carry_error of_one_bit(enum line_framing f, enum line_code c, enum line_bed_wrong port)
{
	if (!port_checks(f))
		return code_checks(f, c) ? CARRY_ERROR_DAMAGED : CARRY_ERROR_DIFFERS;
	switch (port) {
	case LINE_BED_TOLD:
		return CARRY_ERROR_DAMAGED;
	case LINE_BED_PASSED:
		return code_checks(f, c) ? CARRY_ERROR_DAMAGED : CARRY_ERROR_DIFFERS;
	case LINE_BED_DROPPED:
		return CARRY_ERROR_DIFFERS;
	case LINE_BED_REPLACED:
		/* ? is no character of EIA, and a good one of ISO. */
		return c == LINE_CODE_EIA ? CARRY_ERROR_DAMAGED : CARRY_ERROR_DIFFERS;
	}
	return CARRY_ERROR_NONE;
}

static enum carry_error of_overrun(enum line_framing f, enum line_code c, enum line_bed_wrong port)
{
	return port == LINE_BED_TOLD ? CARRY_ERROR_DAMAGED : CARRY_ERROR_DIFFERS;
}

static const struct trouble {
	const char *name;
	enum carry_error end;
	enum carry_error (*of)(enum line_framing f, enum line_code c, enum line_bed_wrong port);
	struct line_bed_back back;
} troubles[] = {
    {"nothing", CARRY_ERROR_NONE, NULL, {0}},
    {"a character dropped", CARRY_ERROR_DIFFERS, NULL, {.drop = MIDDLE}},
    {"a character doubled", CARRY_ERROR_DIFFERS, NULL, {.twice = MIDDLE}},
    {"two bits turned over", CARRY_ERROR_DIFFERS, NULL, {.turn = A_ONE}},
    {"one bit turned over", CARRY_ERROR_NONE, of_one_bit, {.flip = A_ONE}},
    {"silence in the middle, or no power", CARRY_ERROR_DAMAGED, NULL, {.cut = MIDDLE}},
    {"the line lost in the middle", CARRY_ERROR_LOST, NULL, {.gone = MIDDLE}},
    {"our end overrun", CARRY_ERROR_NONE, of_overrun, {.blind = MIDDLE, .blind_n = 10}},
    {"nothing at all", CARRY_ERROR_NOTHING, NULL, {.cut = 1}},
};

static void ends_named(const struct trouble *t, enum line_framing framing, enum line_code code,
    enum line_bed_wrong port)
{
	struct line_serial set = carriage_settings(framing, code, LINE_FLOW_XON);
	struct line_bed_control control = line_bed_fitting(&set);
	enum carry_error end, want = t->of ? t->of(framing, code, port) : t->end;
	struct serial_send_outcome o;
	struct line_bed b;

	control.our_port = port;
	control.back = t->back;
	line_bed_init(&b, &set, &control);
	end = carriage_run(&b, &o);
	if (end != want)
		fail_msg("%s, %s, %s, wrong ones are %s: ended in '%s', not in '%s'", t->name,
		    line_bed_framing_names[framing], line_bed_code_names[code], port_names[port],
		    carriage_name(end), carriage_name(want));
	/* Whatever came of the copy: the control has the program. */
	assert_true(carriage_held(&b));
	line_bed_end(&b);
}

static void each_trouble_ends_in_its_outcome(void **state)
{
	unsigned n = 0;

	for (size_t i = 0; i < sizeof(troubles) / sizeof(*troubles); i++)
		for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++)
			for (enum line_code c = LINE_CODE_ASCII; c <= LINE_CODE_EIA; c++)
				for (unsigned p = LINE_BED_TOLD; p <= LINE_BED_REPLACED; p++) {
					if (carriage_impossible(line_bed_framings[f], c))
						continue;
					ends_named(&troubles[i], line_bed_framings[f], c,
					    (enum line_bed_wrong)p);
					n++;
				}
	print_message("[ trouble  ] %zu faults of the way back, %u carriages\n",
	    sizeof(troubles) / sizeof(*troubles), n);
}

/* EIA's shifts carry nothing: with them a copy is the same. */
static void shifts(void **state)
{
	struct line_serial set = carriage_settings(LINE_8N2, LINE_CODE_EIA, LINE_FLOW_XON);
	struct line_bed_control control = line_bed_fitting(&set);
	struct serial_send_outcome o;
	struct line_bed b;

	control.back.shifts = true;
	line_bed_init(&b, &set, &control);
	assert_int_equal(carriage_run(&b, &o), CARRY_ERROR_NONE);
	line_bed_end(&b);
}

/*
 * A control whose port does not give an alarm for wrong parity: it drops the character, takes it as
 * it is, or puts a ? in its place, and stores the program. Only the copy tells.
 */
static void wrong_at_the_control(void **state)
{
	for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++)
		for (enum line_code c = LINE_CODE_ASCII; c <= LINE_CODE_EIA; c++)
			for (unsigned p = LINE_BED_PASSED; p <= LINE_BED_REPLACED; p++) {
				enum line_framing framing = line_bed_framings[f];
				struct line_serial set =
				    carriage_settings(framing, c, LINE_FLOW_XON);
				struct line_bed_control fault = {.flip = CARRIAGE_A_ONE}, control;
				struct serial_send_outcome o;
				struct line_bed b;
				enum carry_error end, want = CARRY_ERROR_DIFFERS;

				if (carriage_impossible(framing, c))
					continue;
				fault.its_port = (enum line_bed_wrong)p;
				control = carriage_fault(&set, &fault);
				line_bed_init(&b, &set, &control);
				end = carriage_run(&b, &o);
				/* Its reader of ISO or EIA still looks at eight bits. */
				if (code_checks(framing, c) &&
				    (!port_checks(framing) || p == LINE_BED_PASSED ||
				        (p == LINE_BED_REPLACED && c == LINE_CODE_EIA)))
					want = CARRY_ERROR_STALL;
				if (end != want)
					fail_msg("%s, %s, %s: ended in '%s', not in '%s'; the "
					         "control: %s",
					    line_bed_framing_names[framing], line_bed_code_names[c],
					    port_names[p], carriage_name(end), carriage_name(want),
					    b.alarm ? b.alarm : "no alarm");
				assert_false(carriage_held(&b));
				line_bed_end(&b);
			}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_trouble_ends_in_its_outcome),
	    cmocka_unit_test(shifts),
	    cmocka_unit_test(wrong_at_the_control),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
