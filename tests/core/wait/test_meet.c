/*
 * Goal: who waits for whom is what the codes say: all channels, those that a code names, or one
 * that sends a signal; and programs that begin again do so with each other or are told.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "channels.h"
#include "meet.h"

static void begin(struct channels *c, uint32_t channels)
{
	channels_begin(c);
	c->profile.channels = channels;
	c->profile.partners = PROFILE_PARTNERS_DIGITS;
	c->profile.partners_letter = 'P';
	c->profile.send[0] = (struct profile_range){400, 409};
	c->profile.receive[0] = (struct profile_range){500, 509};
	c->profile.sends = c->profile.receives = 1;
}

static enum verdict three(struct channels *c, const char *a, const char *b, const char *d)
{
	begin(c, 3);
	channels_add(c, a);
	channels_add(c, b);
	channels_add(c, d);
	channels_prove(c);
	return c->result.verdict;
}

static enum verdict two(struct channels *c, const char *a, const char *b)
{
	begin(c, 2);
	channels_add(c, a);
	channels_add(c, b);
	channels_prove(c);
	return c->result.verdict;
}

/*
 * The alarm text of a control with partner lists gives this example, there of channels 3, 5 and 7:
 * two wait at 99 with each other, the third at 99 with one of them, and the lists are not mutual.
 * Right is that all list all three.
 */
static void lists_that_are_not_mutual(void **state)
{
	struct channels c;

	assert_int_equal(three(&c, "M299 P12\nM30\n", "G0 X1.\nM299 P12\nM30\n",
	                     "G0 X1.\nG1 X2.\nM299 P23\nM30\n"),
	    VERDICT_DISAGREE);
	assert_int_equal(c.result.repair, FINDING_WAIT_PARTNERS);
	assert_int_equal(c.result.channel_a, 2);
	assert_int_equal(c.result.place_a.line, 3);
	assert_int_equal(c.result.channel_b, 1);
	assert_int_equal(c.result.place_b.line, 2);
	channels_end(&c);
	assert_int_equal(
	    three(&c, "M299 P123\nM30\n", "M299 P123\nM30\n", "M299 P321\nM30\n"), VERDICT_AGREE);
	channels_end(&c);
	/* and without a meeting before */
	assert_int_equal(
	    three(&c, "M299 P12\nM30\n", "M299 P23\nM30\n", "M30\n"), VERDICT_DISAGREE);
	assert_int_equal(c.result.repair, FINDING_WAIT_PARTNERS);
	channels_end(&c);
}

/* Two meet while the third waits for one of them, or is not asked at all. */
static void some_of_them(void **state)
{
	struct channels c;

	assert_int_equal(three(&c, "M201 P12\nM203\nM30\n", "M201 P12\nM202 P23\nM203\nM30\n",
	                     "M202 P23\nM203\nM30\n"),
	    VERDICT_AGREE);
	assert_string_equal(channels_rungs(&c), "201/201/202 203/202/202 203/203/203 ././.");
	assert_false(c.result.rung[0].channel[2].takes_part);
	assert_true(c.result.rung[1].channel[2].takes_part);
	assert_int_equal(c.result.rung[2].channel[0].step, 1);
	assert_int_equal(c.result.rung[2].channel[1].step, 2);
	channels_end(&c);
	/* a ring: each waits for the next */
	assert_int_equal(three(&c, "M201 P12\nM203 P13\nM30\n", "M202 P23\nM201 P12\nM30\n",
	                     "M203 P13\nM202 P23\nM30\n"),
	    VERDICT_DISAGREE);
	assert_int_equal(c.result.meetings, 0);
	channels_end(&c);
	/* two pairs of four that know nothing of each other */
	begin(&c, 4);
	channels_add(&c, "M201 P12\nM30\n");
	channels_add(&c, "M201 P12\nM30\n");
	channels_add(&c, "M202 P34\nM30\n");
	channels_add(&c, "M203 P34\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "201/201/202/203 ././202/203!");
	assert_int_equal(c.result.channel_a + c.result.channel_b, 5);
	channels_end(&c);
}

/* Two go on for ever, and the third is never met. */
static void starving(void **state)
{
	struct channels c;

	assert_int_equal(
	    three(&c, "N10 M201 P12\nGOTO 10\n", "N10 M201 P12\nGOTO 10\n", "M202 P13\nM30\n"),
	    VERDICT_DISAGREE);
	assert_int_equal(c.result.repair, FINDING_WAIT_MISSING);
	assert_int_equal(c.result.channel_b, 2);
	assert_int_equal(c.result.code_b, 202);
	channels_end(&c);
	assert_int_equal(three(&c, "N10 M201 P12\nIF [#500 EQ 1] GOTO 10\nGOTO 10\n",
	                     "N10 M201 P12\nGOTO 10\n", "M202 P13\nM30\n"),
	    VERDICT_DISAGREE);
	channels_end(&c);
	/* it is met when the data says so, and may never be */
	assert_int_equal(three(&c, "N10 M201 P12\nIF [#500 EQ 1] GOTO 10\nM202 P13\nGOTO 10\n",
	                     "N10 M201 P12\nGOTO 10\n", "N10 M202 P13\nGOTO 10\n"),
	    VERDICT_AGREE);
	channels_end(&c);
}

/* A known channel that waits for an unknown one may be met; one that waits for another known one
 * that cannot come stands for ever. */
static void unknown_mates(void **state)
{
	struct channels c;

	assert_int_equal(
	    three(&c, "M201\nM30\n", "M201\nM30\n", "GOTO #500\nM201\nM30\n"), VERDICT_CANNOT_TELL);
	channels_end(&c);
	assert_int_equal(
	    three(&c, "M201\nM30\n", "M202\nM30\n", "GOTO #500\nM201\nM30\n"), VERDICT_DISAGREE);
	channels_end(&c);
	/* it waits for one that may be released */
	assert_int_equal(
	    three(&c, "M201 P12\nM30\n", "M202 P23\nM201 P12\nM30\n", "GOTO #500\nM202 P23\nM30\n"),
	    VERDICT_CANNOT_TELL);
	channels_end(&c);
	assert_int_equal(
	    three(&c, "M201 P12\nM30\n", "M30\n", "GOTO #500\nM202 P23\nM30\n"), VERDICT_DISAGREE);
	channels_end(&c);
}

/* Counted signals: sending never waits, and each wait uses up one (common practice). */
static void signals(void **state)
{
	struct channels c;

	assert_int_equal(two(&c, "M400\nM401\nM30\n", "M500\nM501\nM30\n"), VERDICT_AGREE);
	assert_int_equal(c.result.meetings, 4);
	assert_int_equal(c.result.left, 0);
	channels_end(&c);
	/* order among different signals does not matter to who sends */
	assert_int_equal(two(&c, "M401\nM400\nM30\n", "M500\nM501\nM30\n"), VERDICT_AGREE);
	channels_end(&c);
	/* but each waits for what the other sends afterwards */
	assert_int_equal(two(&c, "M500\nM401\nM30\n", "M501\nM400\nM30\n"), VERDICT_DISAGREE);
	assert_int_equal(c.result.repair, FINDING_WAIT_MISSING);
	channels_end(&c);
	/* one too few: the code that sends it is missing */
	assert_int_equal(two(&c, "M400\nM30\n", "M500\nM500\nM30\n"), VERDICT_DISAGREE);
	assert_int_equal(c.result.repair, FINDING_WAIT_MISSING);
	assert_int_equal(c.result.channel_a, 0);
	assert_int_equal(c.result.code_b, 400);
	assert_int_equal(c.result.place_b.line, 2);
	channels_end(&c);
	/* one too many */
	assert_int_equal(two(&c, "M400\nM400\nM30\n", "M500\nM30\n"), VERDICT_AGREE);
	assert_int_equal(c.result.left, 1);
	channels_end(&c);
	/* to one channel of two; each has signals of its own */
	assert_int_equal(three(&c, "M400 P3\nM30\n", "M500\nM30\n", "M30\n"), VERDICT_DISAGREE);
	channels_end(&c);
	assert_int_equal(three(&c, "M400\nM30\n", "M500\nM30\n", "M500\nM30\n"), VERDICT_AGREE);
	channels_end(&c);
}

/* More signals than can be counted are a run that is not followed, not one that is good. */
static void floods(void **state)
{
	struct channels c;

	assert_int_equal(two(&c, "N10 M400\nGOTO 10\n", "M201\nM30\n"), VERDICT_CANNOT_TELL);
	assert_int_equal(c.result.repair, FINDING_RUN_LONG);
	channels_end(&c);
	/* in step it is no flood */
	assert_int_equal(two(&c, "N10 M400\nGOTO 10\n", "N10 M500\nGOTO 10\n"), VERDICT_AGREE);
	channels_end(&c);
}

/* M99 in the main program, where the profile says that it ends programs. */
static void begin_again(void **state)
{
	static const struct {
		const char *upper, *lower;
		enum verdict verdict;
		bool rounds;
		enum finding_id repair;
		int channel_a;
		uint64_t line_a, line_b;
	} rows[] = {
	    {"M201\nM202\nM99\n", "M201\nM202\nM99\n", VERDICT_AGREE, false, FINDING_COUNT, 0, 0,
	        0},
	    /* one makes two rounds while the other makes one */
	    {"M201\nM201\nM99\n", "M201\nM99\n", VERDICT_AGREE, true, FINDING_COUNT, 0, 0, 0},
	    {"M201\nM201\nM99\n", "M201\nM201\nM201\nM99\n", VERDICT_AGREE, true, FINDING_COUNT, 0,
	        0, 0},
	    /* the first round that differs is the mistake, not where the run stands later */
	    {"M201\nM202\nM99\n", "M201\nM202\nM203\nM99\n", VERDICT_DISAGREE, false,
	        FINDING_WAIT_MISSING, 0, 3, 3},
	    {"M201\nM202\nM201\nM99\n", "M201\nM202\nM99\n", VERDICT_DISAGREE, false,
	        FINDING_WAIT_MISSING, 1, 3, 3},
	    {"M201\nM202\nM99\n", "M201\nM202\nM30\n", VERDICT_DISAGREE, false, FINDING_END_DIFFERS,
	        1, 3, 1},
	};

	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
		struct channels c;

		begin(&c, 2);
		c.profile.end_m99 = true;
		channels_add(&c, rows[i].upper);
		channels_add(&c, rows[i].lower);
		channels_prove(&c);
		print_message("row %zu\n", i);
		assert_int_equal(c.result.verdict, rows[i].verdict);
		assert_int_equal(c.result.rounds, rows[i].rounds);
		assert_int_equal(c.result.repair, rows[i].repair);
		if (rows[i].repair != FINDING_COUNT) {
			assert_int_equal(c.result.channel_a, rows[i].channel_a);
			assert_int_equal(c.result.place_a.line, rows[i].line_a);
			assert_int_equal(c.result.place_b.line, rows[i].line_b);
		}
		channels_end(&c);
	}
}

/* Of three channels one has come to its M99 and is waited for only in its next round. */
static void begins_for_others(void **state)
{
	struct channels c;

	begin(&c, 3);
	c.profile.end_m99 = true;
	channels_add(&c, "N10 M201 P12\nGOTO 10\n");
	channels_add(&c, "N10 M201 P12\nGOTO 10\n");
	channels_add(&c, "IF [#500 EQ 1] GOTO 10\nN10 M99\nM210\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	channels_end(&c);
}

/* One begins again for ever, whatever the unknown data is, and never comes to where the other
 * stands. */
static void rounds_past_a_mate(void **state)
{
	struct channels c;

	begin(&c, 2);
	c.profile.end_m99 = true;
	channels_add(&c, "N10 IF[#500 EQ 1]GOTO 10\n/M201\nM99\n");
	channels_add(&c, "M201\nM99\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_int_equal(c.result.run[0].on, 1u << 1);
	channels_end(&c);
}

/* One begins again for ever and comes to no code: shown as it is, not run to the bound of steps. */
static void silent_rounds(void **state)
{
	struct channels c;
	const struct wait_rung *last;

	begin(&c, 2);
	c.profile.end_m99 = true;
	channels_add(&c, "M201\nM99\n");
	channels_add(&c, "#1=1\nWHILE[#1 LT 3]DO1\n#1=#1+1\nEND1\n/M201\nM99\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	last = &c.result.rung[c.result.rungs - 1];
	assert_false(last->meets);
	assert_non_null(last->channel[0].code);
	assert_true(last->channel[1].at_round);
	channels_end(&c);
}

/* The meeting itself, asked directly. */
static void asked_directly(void **state)
{
	struct channels c;
	static struct wait_signals s;
	struct wait_code send = {.code = 401, .kind = WAIT_CODE_SEND},
	                 receive = {.code = 501, .kind = WAIT_CODE_RECEIVE},
	                 meet = {.code = 201, .kind = WAIT_CODE_MEET},
	                 pair = {
	                     .code = 201, .kind = WAIT_CODE_MEET, .partners = 1u << 1 | 1u << 3};
	const int number[] = {1, 3};
	const struct wait_code *code[2] = {&send, &receive};

	begin(&c, 4);
	assert_int_equal(wait_meet(&c.profile, code, 2, number, &s), 1);
	assert_int_equal(s.n, 1);
	assert_int_equal(s.v[0].code, 501);
	assert_int_equal(s.v[0].channel, 3);
	/* using up goes before sending */
	assert_int_equal(wait_meet(&c.profile, code, 2, number, &s), 2);
	assert_int_equal(s.n, 0);
	code[0] = code[1] = &pair;
	assert_int_equal(wait_meet(&c.profile, code, 2, number, &s), 3);
	code[1] = &meet;
	assert_int_equal(wait_meet(&c.profile, code, 2, number, &s), 0);
	code[1] = NULL;
	assert_int_equal(wait_meet(&c.profile, code, 2, number, &s), 0);
	assert_int_equal(wait_meet_partners(&c.profile, &meet, 1), 15);
	assert_int_equal(wait_meet_partners(&c.profile, &pair, 1), 10);
	assert_int_equal(wait_meet_sender(&c.profile, 505), 405);
	assert_int_equal(wait_meet_sender(&c.profile, 512), 0);
	channels_end(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(lists_that_are_not_mutual),
	    cmocka_unit_test(some_of_them),
	    cmocka_unit_test(starving),
	    cmocka_unit_test(unknown_mates),
	    cmocka_unit_test(silent_rounds),
	    cmocka_unit_test(rounds_past_a_mate),
	    cmocka_unit_test(signals),
	    cmocka_unit_test(floods),
	    cmocka_unit_test(begin_again),
	    cmocka_unit_test(begins_for_others),
	    cmocka_unit_test(asked_directly),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
