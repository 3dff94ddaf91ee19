/*
 * Goal: the real carrier against the bench control, which shares no rule with it: each fault of
 * control and line ends in its named outcome, and "done" is said only of a program that the control
 * has to the byte.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "bed.h"
#include "rig.h"

enum { SIZE = 2000, ROUNDS = 6 };

static char text[BED_TEXT];
static uint8_t iso[BED_TEXT];
static struct bed bed;
static struct rig rig;

static int set_up(void **state)
{
	const char *options[] = {"--line", "0", "--speed", "115200", "--drain", "6000", "--buffer",
	    "256", "--reserve", "100", "--pause", "50", NULL};

	bed = (struct bed){0};
	bed_text(text, iso, SIZE);
	bed_start(&bed, options);
	return 0;
}

static int tear_down(void **state)
{
	bed_stop(&bed);
	bed_remove(&bed);
	return 0;
}

/* One program to the upper channel, read back. */
static void carry(uint32_t reserve, enum line_flow flow)
{
	struct line *l;

	rig_open(&rig, CARRY_SEND);
	rig_program(&rig, 0, text);
	rig.order.items = 1;
	l = &rig.order.item[0].line;
	*l = (struct line){.kind = LINE_SERIAL};
	snprintf(l->serial.address, sizeof(l->serial.address), "tcp://127.0.0.1:%u", bed.ports[0]);
	l->serial.baud = 115200;
	l->serial.framing = LINE_7E2;
	l->serial.code = LINE_CODE_ISO;
	l->serial.flow = flow;
	l->serial.wait_dc1 = true;
	l->serial.reserve = reserve;
	l->serial.read_back = LINE_READ_BACK_PUNCH;
	l->serial.open_ms = 2000;
	l->serial.first_ms = 800;
	l->serial.stall_ms = 800;
	l->serial.read_back_ms = 1000;
	l->serial.silence_ms = 300;
	rig_run(&rig);
	assert_true(rig.has_outcome);
}

static const struct trouble {
	const char *command; /* to the bench control */
	enum carry_error end;
	enum carry_held held;
	bool alarms;         /* the control tells its alarms over the line */
	enum line_flow flow; /* ours */
	bool rests;          /* it is not set to read */
	uint32_t reserve;    /* of ours, 0: one that fits */
} troubles[] = {
    {.command = "help", .end = CARRY_ERROR_NONE, .held = CARRY_HELD_NEW},
    {.command = "drop 100", .end = CARRY_ERROR_DIFFERS, .held = CARRY_HELD_OTHER},
    {.command = "double 100", .end = CARRY_ERROR_DIFFERS, .held = CARRY_HELD_OTHER},
    {.command = "noise 100", .end = CARRY_ERROR_STALL, .held = CARRY_HELD_STUMP},
    {.command = "memory 200", .end = CARRY_ERROR_STALL, .held = CARRY_HELD_STUMP},
    {.command = "hold after 100", .end = CARRY_ERROR_STALL, .held = CARRY_HELD_STUMP},
    {.command = "power off after 100", .end = CARRY_ERROR_LOST, .held = CARRY_HELD_STUMP},
    {.command = "help", .end = CARRY_ERROR_NO_START, .held = CARRY_HELD_OLD, .rests = true},
    {.command = "noise 100", .end = CARRY_ERROR_STALL, .held = CARRY_HELD_STUMP, .alarms = true},
    /* We are told not to heed DC3, and the control lets the rest run past it. */
    {.command = "noise 100",
        .end = CARRY_ERROR_ALARM,
        .held = CARRY_HELD_UNKNOWN,
        .alarms = true,
        .flow = LINE_FLOW_NONE},
    /* More below us than the control has room for: characters are lost there, it gives an alarm,
     * and its operator has nothing to punch. */
    {.command = "help", .end = CARRY_ERROR_NOTHING, .held = CARRY_HELD_NEW, .reserve = 4000},
};

static void each_trouble_ends_in_its_outcome(void **state)
{
	for (size_t i = 0; i < sizeof(troubles) / sizeof(*troubles); i++) {
		const struct trouble *t = &troubles[i];

		set_up(NULL);
		assert_true(bed_ask(&bed, t->command));
		assert_true(bed_ask(&bed, "auto punch upper"));
		assert_true(t->rests || bed_ask(&bed, "read upper"));
		assert_true(bed_ask(&bed, t->alarms ? "alarms on" : "alarms off"));
		carry(t->reserve ? t->reserve : 64, t->flow);
		if (rig.outcome.error != t->end || rig.outcome.channel[0].held != t->held)
			fail_msg("trouble %zu, %s: outcome %u, held %u: %s", i, t->command,
			    rig.outcome.error, rig.outcome.channel[0].held, rig.outcome.text);
		if (t->end == CARRY_ERROR_NONE) {
			assert_int_equal(rig.outcome.channel[0].compared, 1);
			assert_true(bed_ask(&bed, "show upper"));
			assert_string_equal(bed.answer, text);
		} else {
			assert_int_equal(rig.outcome.channel[0].compared, 0);
			assert_true(strlen(rig.outcome.text) > 0);
			assert_int_equal(
			    strstr(rig.outcome.text, "ALARM parity") != NULL, t->alarms);
		}
		rig_close(&rig);
		tear_down(NULL);
	}
}

/* Wrong bits by chance, both ways: whatever it ends in, done means that it is there. */
static void wrong_bits(void **state)
{
	unsigned done = 0;

	set_up(NULL);
	assert_true(bed_ask(&bed, "auto punch upper"));
	for (unsigned i = 0; i < ROUNDS; i++) {
		assert_true(bed_ask(&bed, "errors 40000"));
		(void)bed_ask(&bed, "reset upper");
		assert_true(bed_ask(&bed, "read upper"));
		carry(64, LINE_FLOW_XON);
		if (rig.outcome.error == CARRY_ERROR_NONE) {
			assert_true(bed_ask(&bed, "show upper"));
			assert_string_equal(bed.answer, text);
			done++;
		}
		rig_close(&rig);
	}
	print_message("[  bench   ] one bit in 40000 wrong: done %u of %u\n", done, ROUNDS);
	tear_down(NULL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_trouble_ends_in_its_outcome),
	    cmocka_unit_test(wrong_bits),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
