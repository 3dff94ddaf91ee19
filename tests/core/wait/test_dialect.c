/*
 * Goal: where controls read the same words in different ways, or a code does more than its number
 * says, the check does not choose for them: it never calls such a program agreement.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>
#include "channels.h"

#define SUB "O100\nM201\nN20 M202\nM99\n"

struct row {
	const char *upper, *lower;
	enum verdict verdict;
};

static void walk(const struct row *row, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		struct channels c;
		enum verdict v;

		channels_begin(&c);
		c.profile.number_max = 9999;
		channels_add(&c, row[i].upper);
		channels_add(&c, row[i].lower);
		channels_prove(&c);
		v = c.result.verdict;
		channels_end(&c);
		if (v != row[i].verdict)
			fail_msg("%s: verdict %d", row[i].upper, (int)v);
	}
}

#define WALK(rows) walk(rows, sizeof(rows) / sizeof(*(rows)))

/*
 * M201.5 was read as no wait code at all, and the pair agreed: a control that takes the digits
 * before the point waits there for ever.
 */
static void codes_that_are_no_whole_number(void **state)
{
	static const struct row rows[] = {
	    {"M201.5\nM30\n", "M30\n", VERDICT_CANNOT_TELL},
	    {"M201.5\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL},
	    {"M-201\nM30\n", "M30\n", VERDICT_CANNOT_TELL},
	    {"M201000000000000000000000\nM30\n", "M30\n", VERDICT_CANNOT_TELL},
	    {"M201\nM30.5\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL},
	    /* whole in value, or no code of the flow */
	    {"M201.\nM 2 0 2\nM203.0\nM00000000000000000000204\nM30.\n",
	        "M201\nM202\nM203\nM204\nM30\n", VERDICT_AGREE},
	    {"M19.5\nM201\nM30\n", "M201\nM30\n", VERDICT_AGREE},
	};

	WALK(rows);
}

/* Two wait codes in one block were met from left to right; a control that takes the last M only
 * meets one. */
static void several_codes_in_a_block(void **state)
{
	static const struct row rows[] = {
	    {"M201 M202\nM30\n", "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"M201 M202\nM30\n", "M201 M202\nM30\n", VERDICT_CANNOT_TELL},
	    /* the difference before it counts all the same */
	    {"M203\nM201 M202\nM30\n", "M201\nM202\nM30\n", VERDICT_DISAGREE},
	};

	WALK(rows);
}

/*
 * M98 P100 H20 (or Q20) begins the subprogram at N20 on some controls: its codes were met from the
 * first block on. So was P twice in a block met with the last P.
 */
static void calls_that_say_more(void **state)
{
	static const struct row rows[] = {
	    {"O1\nM98 P100 H20\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nM98 P100 Q20\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nM98 P99 P100\nM30\n" SUB "O99\nM99\n", "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nM98 P100 L2 L1\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nM98 P100\nM30\nO100\nM201\nM202\nM99 Q5\n", "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nM98 P100 L1\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_AGREE},
	    {"O1\nM98 P100 T0101\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_AGREE},
	};

	WALK(rows);
}

/* Calls that are not M98: from another memory (M198), at a signal (M96), before each block
 * (G66.1). They were passed over, whatever the called program waits for. */
static void calls_by_another_name(void **state)
{
	static const struct row rows[] = {
	    {"O1\nM198 P100\nM30\n" SUB, "M30\n", VERDICT_CANNOT_TELL},
	    {"O1\nM96 P100\nM30\n" SUB, "M30\n", VERDICT_CANNOT_TELL},
	    {"O1\nG66.1 P100\nG0 X1.\nG67\nM30\n" SUB, "M30\n", VERDICT_CANNOT_TELL},
	    {"O1\nG65.3 P100\nM30\n" SUB, "M30\n", VERDICT_CANNOT_TELL},
	    {"O1\nG66.1 P100\nG0 X1.\nG67\nM201\nM30\nO100\nM8\nM99\n", "M201\nM30\n",
	        VERDICT_AGREE},
	    {"O1\nM96\nM198\nM201\nM30\n", "M201\nM30\n", VERDICT_AGREE},
	};

	WALK(rows);
}

/* P20100 was a subprogram that is missing; on controls with four-digit numbers it is O100 twice. */
static void repeats_in_front_of_the_number(void **state)
{
	static const struct row rows[] = {
	    {"O1\nM98 P20100\nM30\n" SUB, "M201\nM202\nM201\nM202\nM30\n", VERDICT_AGREE},
	    {"O1\nM98 P00020100\nM30\n" SUB, "M201\nM202\nM201\nM202\nM30\n", VERDICT_AGREE},
	    {"O1\nM98 P20100\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_DISAGREE},
	    {"O1\nM98 P00000100\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_AGREE},
	    {"O1\nM98 P20101\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nM98 P20100 L3\nM30\n" SUB, "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	};
	struct channels c;

	WALK(rows);
	/* where numbers have eight digits, O20100 is a program of its own */
	channels_begin(&c);
	c.profile.number_max = 99999999;
	channels_add(&c, rows[0].upper);
	channels_add(&c, rows[0].lower);
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_CANNOT_TELL);
	assert_int_equal(channels_seen(&c, FINDING_SUB_MISSING), 1);
	channels_end(&c);
}

/* With three channels, M201 P12 is a meeting of two of them on some controls. */
static void codes_with_partners(void **state)
{
	struct channels c;

	channels_begin(&c);
	c.profile.channels = 3;
	for (int i = 0; i < 3; i++)
		channels_add(&c, "M201 P123\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_CANNOT_TELL);
	channels_end(&c);
	assert_int_equal(channels_two(&c, "M201 P12\nM30\n", "M201 P12\nM30\n"), VERDICT_AGREE);
	channels_end(&c);
}

/*
 * The blocks between P and Q of a roughing cycle are its contour: they are cut by the cycle and
 * then passed over (common practice, G70 to G73 on lathes). A wait code among them counted as one
 * meeting.
 */
static void contours(void **state)
{
	static const struct row rows[] = {
	    {"G71 U2. R0.5\nG71 P100 Q200 U0.4 W0.1 F0.2\nN100 G0 X10.\nM201\nN200 Z-5.\nM30\n",
	        "M201\nM30\n", VERDICT_CANNOT_TELL},
	    {"G73 P100 Q200 U0.4\nN100 G0 X10.\nN200 M201\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"G70 P100 Q200\nN100 G0 X10.\nM201\nN200 Z-5.\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nG72 P100 Q200\nN100 G0 X10.\nM98 P100\nN200 Z-5.\nM30\n" SUB, "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"G71 P100 Q200 U0.4\nN100 G0 X10.\nM201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL},
	    {"G71 P#1 Q#2 U0.4\nN100 G0 X10.\nM201\nN200 Z1.\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    /* behind the contour all is as before, with N or without; and the labels may come again
	     */
	    {"G71 P100 Q200 U0.4\nN100 G0 X10.\nN200 Z-5.\nM201\nG70 P100 Q200\nN100 M202\n"
	     "G71 P100 Q200 U0.4\nN100 G0 X10.\nN200 Z-5.\nN210 M203\nM30\n",
	        "M201\nM202\nM203\nM30\n", VERDICT_AGREE},
	    {"O1\nG71 P100 Q200\nN100 G0 X10.\nM98 P8\nN200 Z-5.\nM201\nM30\nO8\nM8\nM99\n",
	        "M201\nM30\n", VERDICT_AGREE},
	    /* a drilling cycle has no contour, inch is no cycle, threads have other P and Q */
	    {"G73 Z-20. R2. P100 Q200\nN100 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE},
	    {"G70\nG71\nN100 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE},
	    {"G76 P010060 Q100\nN10060 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE},
	};

	WALK(rows);
}

/* More contours that are named and never met than are kept: not followed, and not forgotten. */
static void many_contours(void **state)
{
	struct text t = {0};
	struct channels c;

	for (int i = 1; i <= 100; i++)
		text_printf(&t, "G71 P%d Q%d\n", i * 10, i * 10 + 5);
	text_puts(&t, "M201\nM30\n");
	assert_false(t.failed);
	assert_int_equal(channels_two(&c, t.s, "M201\nM30\n"), VERDICT_CANNOT_TELL);
	channels_end(&c);
	text_free(&t);
	t = (struct text){0};
	for (int i = 1; i <= 300; i++)
		text_printf(&t, "G71 P%d Q%d\nN%d X1.\nN%d X2.\nG70 P%d Q%d\n", i * 10, i * 10 + 5,
		    i * 10, i * 10 + 5, i * 10, i * 10 + 5);
	text_puts(&t, "M201\nM30\n");
	assert_false(t.failed);
	assert_int_equal(channels_two(&c, t.s, "M201\nM30\n"), VERDICT_AGREE);
	channels_end(&c);
	text_free(&t);
}

/*
 * M99 at the end of a main program begins it again. With M99 in one channel and M30 in the other
 * the pair agreed; the first channel then stands at its first wait code for ever.
 */
static void one_begins_again(void **state)
{
	static const struct row rows[] = {
	    {"M201\nM202\nM99\n", "M201\nM202\nM30\n", VERDICT_DISAGREE},
	    {"M201\nM202\nM99\n", "M201\nM202\nM99\n", VERDICT_AGREE},
	    {"M201\n/M99\nM30\n", "M201\n/M99\nM30\n", VERDICT_AGREE},
	    {"M201\n/M99\nM30\n", "M201\nM30\n", VERDICT_DISAGREE},
	    {"G0 X1.\nM99\n", "M30\n", VERDICT_AGREE},
	    {"IF [#1 EQ 1] GOTO 5\nM201\nN5\nM99\n", "M30\n", VERDICT_CANNOT_TELL},
	};

	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
		struct channels c;

		channels_begin(&c);
		c.profile.end_m99 = true;
		channels_add(&c, rows[i].upper);
		channels_add(&c, rows[i].lower);
		channels_prove(&c);
		if (c.result.verdict != rows[i].verdict)
			fail_msg("%s: verdict %d", rows[i].upper, (int)c.result.verdict);
		if (rows[i].verdict == VERDICT_DISAGREE) {
			assert_int_equal(c.result.repair, FINDING_END_DIFFERS);
			assert_int_equal(c.result.channel_a, 1);
			assert_int_equal(c.result.code_b, 201);
		}
		channels_end(&c);
	}
}

/* A file with two main programs agreed by its first one, whichever the operator selects. */
static void two_main_programs(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "O1\nM201\nM30\nO2\nM202\nM30\n", "M201\nM30\n"), VERDICT_CANNOT_TELL);
	assert_int_equal(channels_seen(&c, FINDING_FLOW_UNFOLLOWED), 1);
	channels_end(&c);
	/* a subprogram that nobody calls: its wait codes are nobody's */
	assert_int_equal(
	    channels_two(&c, "O1\nM201\nM30\nO2\nM202\nM99\n", "M201\nM30\n"), VERDICT_AGREE);
	assert_int_equal(channels_seen(&c, FINDING_TEXT_AFTER_END), 1);
	channels_end(&c);
	/* without wait codes it does not matter */
	assert_int_equal(
	    channels_two(&c, "O1\nM201\nM30\nO2\nG0 X1.\nM30\nO3\nM8\nM99\n", "M201\nM30\n"),
	    VERDICT_AGREE);
	assert_int_equal(c.findings.n, 0);
	channels_end(&c);
}

/* M99 P goes to a block of the caller (common practice), and is no missing end. */
static void return_to_elsewhere(void **state)
{
	static const struct row rows[] = {
	    {"O1\nM98 P2\nM209\nN5 M30\nO2\nM201\nM99 P5\n", "M201\nM30\n", VERDICT_AGREE},
	    {"O1\nM98 P2\nN5 M30\nO2\nM201\nM99 P#1\n", "M201\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nM98 P2\nN5 M30\nO2\nM201\nM99 P6\n", "M201\nM30\n", VERDICT_CANNOT_TELL},
	    /* the codes behind the label are reached */
	    {"O1\nM98 P2\nM30\nN5 M202\nM30\nO2\nM201\nM99 P5\n", "M201\nM202\nM30\n",
	        VERDICT_AGREE},
	};
	struct channels c;

	WALK(rows);
	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
		channels_two(&c, rows[i].upper, rows[i].lower);
		assert_int_equal(channels_seen(&c, FINDING_END_MISSING), 0);
		assert_int_equal(channels_seen(&c, FINDING_WAIT_AFTER_END), i == 0);
		channels_end(&c);
	}
}

/* Probing and bar feeding are calls of programs in the control. They made every such pair "cannot
 * tell". */
static void programs_of_the_control(void **state)
{
	static const char upper[] = "O1\nG65 P9810 X1.\nM98 P8010\nM201\nM30\n";
	struct channels c;

	assert_int_equal(channels_two(&c, upper, "M201\nM30\n"), VERDICT_CANNOT_TELL);
	channels_end(&c);
	channels_begin(&c);
	c.profile.resident[0] = (struct profile_range){9000, 9999};
	c.profile.resident[1] = (struct profile_range){8010, 8010};
	c.profile.residents = 2;
	channels_add(&c, upper);
	channels_add(&c, "M201\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	assert_int_equal(c.findings.n, 0);
	channels_end(&c);
	/* what is in the file is followed all the same */
	channels_begin(&c);
	c.profile.resident[0] = (struct profile_range){9000, 9999};
	c.profile.residents = 1;
	channels_add(&c, "O1\nM98 P9000\nM30\nO9000\nM201\nM99\n");
	channels_add(&c, "M30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	channels_end(&c);
}

/*
 * IF with GOTO back is how loops are written where there is no WHILE. Around blocks without wait
 * codes it made the whole program one that cannot be told.
 */
static void loops_that_lead_back(void **state)
{
	static const struct row rows[] = {
	    {"M201\n#1=0\nN50 #1=#1+1\nG0 U-1.\nIF [#1 LT 5] GOTO 50\nM202\nM30\n",
	        "M201\nM202\nM30\n", VERDICT_AGREE},
	    /* with a way out, and one loop in another */
	    {"M201\nN50 #1=#1+1\nN55 #2=#2+1\nIF [#2 EQ 3] GOTO 60\nIF [#2 LT 5] GOTO 55\n"
	     "IF [#1 LT 5] GOTO 50\nN60 M202\nM30\n",
	        "M201\nM202\nM30\n", VERDICT_AGREE},
	    {"O1\nM201\nN50 M98 P8\nIF [#1 LT 5] GOTO 50\nM202\nM30\nO8\nM8\nM99\n",
	        "M201\nM202\nM30\n", VERDICT_AGREE},
	    /* a wait code in the loop, or on its label */
	    {"N50 #1=#1+1\nM201\nIF [#1 LT 5] GOTO 50\nM202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"N50 M201\nIF [#1 LT 5] GOTO 50\nM202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nN50 M98 P100\nIF [#1 LT 5] GOTO 50\nM30\n" SUB, "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    /* a way out over a wait code */
	    {"N50 #1=#1+1\nIF [#1 EQ 3] GOTO 60\nIF [#1 LT 5] GOTO 50\nM201\nN60 M202\nM30\n",
	        "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    /* a way back into the loop from behind a wait code */
	    {"N50 #1=#1+1\nN55 #2=1\nIF [#1 LT 5] GOTO 50\nM201\nIF [#1 LT 9] GOTO 55\nM30\n",
	        "M201\nM30\n", VERDICT_CANNOT_TELL},
	    /* the label stands twice, before or behind */
	    {"N50 M201\nN50 #1=#1+1\nIF [#1 LT 5] GOTO 50\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"N50 #1=#1+1\nIF [#1 LT 5] GOTO 50\nM201\nN50 M202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    /* numbers need not ascend, and may be as long as they like */
	    {"N60\nN50 #1=#1+1\nIF [#1 LT 5] GOTO 50\nM201\nM30\n", "M201\nM30\n", VERDICT_AGREE},
	    {"N100001\nN100000 #1=#1+1\nIF [#1 LT 5] GOTO 100000\nM201\nM30\n", "M201\nM30\n",
	        VERDICT_AGREE},
	    /* in another program of the file it is another label */
	    {"O1\nN50 M98 P2\nM201\nM30\nO2\nIF [#1 LT 5] GOTO 50\nG0 X1.\nM99\n", "M201\nM30\n",
	        VERDICT_AGREE},
	    {"O1\nN50 M98 P2\nM30\nO2\nIF [#1 LT 5] GOTO 50\nM201\nM99\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    /* no label at all; and without a condition what stands behind is never reached */
	    {"N50\nN70\nIF [#1 LT 5] GOTO 60\nM201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL},
	    {"N50 G0 X1.\nGOTO 50\nM201\nM30\n", "M201\nM30\n", VERDICT_DISAGREE},
	};

	WALK(rows);
}

/* Bodies and chains of spans of any length. */
static void long_loops(void **state)
{
	struct text t = {0};
	struct channels c;

	for (int i = 1; i <= 3000; i++)
		text_printf(&t, "N%d G1 X1.\n", i);
	text_puts(&t, "IF [#1 LT 5] GOTO 2500\nM201\nM30\n");
	assert_false(t.failed);
	assert_int_equal(channels_two(&c, t.s, "M201\nM30\n"), VERDICT_AGREE);
	channels_end(&c);
	text_free(&t);
	t = (struct text){0};
	text_puts(&t, "M201\n");
	for (int i = 1; i <= 40; i++)
		text_printf(&t, "N%d\nIF [#1 EQ 1] GOTO %d\nN%d\nIF [#1 EQ 2] GOTO %d\n", i * 10,
		    i * 10 + 15, i * 10 + 5, i * 10);
	text_puts(&t, "N415 M202\nIF [#1 EQ 3] GOTO 405\nM30\n");
	assert_false(t.failed);
	assert_int_equal(channels_two(&c, t.s, "M201\nM202\nM30\n"), VERDICT_CANNOT_TELL);
	channels_end(&c);
	text_free(&t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(codes_that_are_no_whole_number),
	    cmocka_unit_test(several_codes_in_a_block),
	    cmocka_unit_test(calls_that_say_more),
	    cmocka_unit_test(calls_by_another_name),
	    cmocka_unit_test(repeats_in_front_of_the_number),
	    cmocka_unit_test(codes_with_partners),
	    cmocka_unit_test(contours),
	    cmocka_unit_test(many_contours),
	    cmocka_unit_test(one_begins_again),
	    cmocka_unit_test(two_main_programs),
	    cmocka_unit_test(return_to_elsewhere),
	    cmocka_unit_test(programs_of_the_control),
	    cmocka_unit_test(loops_that_lead_back),
	    cmocka_unit_test(long_loops),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
