/*
 * Goal: where one control goes on and the next one stops with an alarm, or takes another way, the
 * pair is not said to agree, nor to disagree; and where all of them do the same, it is told.
 * Common practice where no source is named.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"

struct row {
	const char *upper, *lower;
	enum verdict verdict;
};

static void walk(const struct channels *like, const struct row *row, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		struct channels c;

		channels_begin(&c);
		c.profile = like->profile;
		channels_add(&c, row[i].upper);
		channels_add(&c, row[i].lower);
		channels_prove(&c);
		if (c.result.verdict != row[i].verdict)
			fail_msg("%s|\n%s: verdict %d, rungs %s", row[i].upper, row[i].lower,
			    (int)c.result.verdict, channels_rungs(&c));
		channels_end(&c);
	}
}

#define WALK(like, rows) walk(like, rows, sizeof(rows) / sizeof(*(rows)))

/* M201 P1 in channel 1 and M201 P2 in channel 2: each met itself, and the pair agreed. */
static void a_channel_that_meets_itself(void **state)
{
	static const struct row rows[] = {
	    {"M201 P1\nM30\n", "M201 P2\nM30\n", VERDICT_CANNOT_TELL},
	    {"M201 P1\nM202\nM30\n", "M202\nM30\n", VERDICT_CANNOT_TELL},
	    {"M400 P1\nM30\n", "M410\nM30\n", VERDICT_CANNOT_TELL},
	    /* whoever names the other one means both */
	    {"M201 P2\nM30\n", "M201 P1\nM30\n", VERDICT_AGREE},
	    {"M201 P12\nM30\n", "M201 P1\nM30\n", VERDICT_AGREE},
	    /* it is never come to */
	    {"M202\nGOTO 5\nM201 P1\nN5 M30\n", "M202\nM30\n", VERDICT_AGREE},
	    /* a condition that is not known leads to it */
	    {"IF [#100 EQ 1] GOTO 5\nM201 P1\nN5 M30\n", "M30\n", VERDICT_CANNOT_TELL},
	};
	struct channels like;

	channels_begin(&like);
	like.profile.partners = PROFILE_PARTNERS_DIGITS;
	like.profile.send[0] = (struct profile_range){400, 409};
	like.profile.receive[0] = (struct profile_range){410, 419};
	like.profile.sends = like.profile.receives = 1;
	WALK(&like, rows);
}

#define SUB "M202\nM30\nO5\nM201\nM99\n"

/*
 * Under G66 a turn of C or a full circle by I alone called nothing, and a dwell G4 X or a clamp G50
 * X did call.
 */
static void what_moves_under_a_modal_call(void **state)
{
	static const struct row rows[] = {
	    {"O1\nG66 P5\nX1.\nG67\n" SUB, "M201\nM202\nM30\n", VERDICT_AGREE},
	    {"O1\nG66 P5\nG4 X1.\nG67\n" SUB, "M202\nM30\n", VERDICT_AGREE},
	    {"O1\nG66 P5\nG04 U1.\nG67\n" SUB, "M202\nM30\n", VERDICT_AGREE},
	    {"O1\nG66 P5\nG50 X0 Z0\nG67\n" SUB, "M202\nM30\n", VERDICT_AGREE},
	    {"O1\nG66 P5\nG10 L2 P1 Z-5.\nG67\n" SUB, "M202\nM30\n", VERDICT_AGREE},
	    {"O1\nG66 P5\nG2 I1.\nG67\n" SUB, "M202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nG66 P5\nC90.\nG67\n" SUB, "M202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nG66 P5\nG0 H-90.\nG67\n" SUB, "M202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nG66 P5\nG#1 X1.\nG67\n" SUB, "M202\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\nG66 P5\nG4 P500\nG97 S800 M3\nG67\n" SUB, "M202\nM30\n", VERDICT_AGREE},
	    /* outside of it they are what they always are */
	    {"O1\nC90.\nG66 P5\nG67\nC0.\n" SUB, "M202\nM30\n", VERDICT_AGREE},
	    /* what is called meets nobody */
	    {"O1\nG66 P5\nC90.\nG67\nM202\nM30\nO5\nX1.\nM99\n", "M202\nM30\n", VERDICT_AGREE},
	};
	struct channels like;

	channels_begin(&like);
	WALK(&like, rows);
}

#define TWICE "#1=0\nWHILE [#1 LT 2] DO 1\n#1=#1+1\nM201\n"
#define MET_TWICE "M201\nM201\nM202\nM30\n"

/*
 * With the switch on, a loop without its DO or without its END was run through once or for ever; a
 * control without the mate of either stops with an alarm.
 */
static void half_a_loop(void **state)
{
	static const struct row rows[] = {
	    {TWICE "/END 1\nM202\nM30\n", "M201\n/M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"#1=0\n/WHILE [#1 LT 2] DO 1\n#1=#1+1\nM201\nEND 1\nM202\nM30\n", MET_TWICE,
	        VERDICT_CANNOT_TELL},
	    {"#1=0\n/2 WHILE [#1 LT 2] DO 1\n#1=#1+1\nM201\n/3 END 1\nM202\nM30\n", MET_TWICE,
	        VERDICT_DISAGREE},
	    {"#1=0\n/WHILE [#1 LT 2] DO 1\n#1=#1+1\nM201\n/END 1\nM202\nM30\n",
	        "M201\n/M201\nM202\nM30\n", VERDICT_AGREE},
	    {TWICE "END 1\nM202\nM30\n", MET_TWICE, VERDICT_AGREE},
	    /* an alarm is one where nobody is met, too */
	    {"#1=0\nWHILE [#1 LT 2] DO 1\n#1=#1+1\n/END 1\nM202\nM30\n", "M202\nM30\n",
	        VERDICT_CANNOT_TELL},
	};
	struct channels like;

	channels_begin(&like);
	WALK(&like, rows);
}

/* GOTO into a loop found its END and went on as if it had come by the DO. */
static void a_jump_into_a_loop(void **state)
{
	static const struct row rows[] = {
	    {"#1=0\nGOTO 5\nWHILE [#1 LT 2] DO 1\nM201\nN5 #1=#1+1\nEND 1\nM202\nM30\n",
	        "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"#1=0\n#2=5\nGOTO #2\nWHILE [#1 LT 2] DO 1\nM201\nN5 #1=#1+1\nEND 1\nM202\nM30\n",
	        "M201\nM202\nM30\n", VERDICT_CANNOT_TELL},
	    {"GOTO 5\nWHILE [#1 LT 2] DO 1\nM201\nN5 END 1\nM202\nM30\n", "M202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    /* from the inner one into the outer one, out of it, and to its DO */
	    {TWICE
	        "#2=0\nWHILE [#2 LT 9] DO 2\n#2=#2+1\nGOTO 6\nM203\nEND 2\nN6 END 1\nM202\nM30\n",
	        MET_TWICE, VERDICT_AGREE},
	    {TWICE "GOTO 7\nEND 1\nN7 M202\nM30\n", "M201\nM202\nM30\n", VERDICT_AGREE},
	    {"#1=0\nN4 WHILE [#1 LT 2] DO 1\n#1=#1+1\nM201\nGOTO 4\nEND 1\nM202\nM30\n", MET_TWICE,
	        VERDICT_AGREE},
	    /* between two loops, and behind one that has ended */
	    {TWICE
	        "END 1\nGOTO 8\nM203\nN8 #1=0\nWHILE [#1 LT 1] DO 1\n#1=#1+1\nEND 1\nM202\nM30\n",
	        MET_TWICE, VERDICT_AGREE},
	    /* M99 P leads back into the loop that called, or into another one */
	    {"O1\n" TWICE "M98 P5\nM203\nN6 END 1\nM202\nM30\nO5\nM99 P6\n", MET_TWICE,
	        VERDICT_AGREE},
	    {"O1\nM98 P5\n" TWICE "N6 END 1\nM202\nM30\nO5\n#1=5\nM99 P6\n", "M202\nM30\n",
	        VERDICT_CANNOT_TELL},
	};
	struct channels like;

	channels_begin(&like);
	WALK(&like, rows);
}

/* A jump to /N5: with the switch on some controls find it, and others stop with an alarm. */
static void a_jump_to_a_skipped_block(void **state)
{
	static const struct row rows[] = {
	    {"GOTO 5\nM203\n/N5 X1.\nM202\nM30\n", "M202\nM30\n", VERDICT_CANNOT_TELL},
	    {"GOTO 5\nM203\nN5 /X1.\nM202\nM30\n", "M202\nM30\n", VERDICT_CANNOT_TELL},
	    {"#1=5\nGOTO #1\nM203\n/N5 M201\nM202\nM30\n", "/M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nM98 P5\nM203\n/N5 M201\nM202\nM30\nO5\nM99 P5\n", "/M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL},
	    /* the same switch takes the jump away; and a block between that has none */
	    {"/GOTO 5\nM203\n/N5 X1.\nM202\nM30\n", "/GOTO 5\nM203\nN5 M202\nM30\n", VERDICT_AGREE},
	    {"GOTO 5\nM203\n/N4 X1.\nN5 Z1.\n/N6 X2.\nM202\nM30\n", "M202\nM30\n", VERDICT_AGREE},
	};
	struct channels like;

	channels_begin(&like);
	WALK(&like, rows);
}

/* The first of two O5 was taken: one control keeps the first, the next one the last or neither. */
static void a_program_twice(void **state)
{
	static const struct row rows[] = {
	    {"O1\nM98 P5\nM30\nO5\nM201\nM99\nO5\nM202\nM99\n", "M201\nM30\n", VERDICT_CANNOT_TELL},
	    {"O1\n#1=5\nM98 P#1\nM30\nO5\nM201\nM99\nO5\nM202\nM99\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nM98 P20005\nM30\nO5\nM201\nM99\nO5\nM202\nM99\n", "M201\nM201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"O<A>\nM98 <B>\nM30\nO<B>\nM201\nM99\nO<B>\nM202\nM99\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nM98 P6\nM30\nO5\nM99\nO5\nM99\nO6\nM201\nM99\n", "M201\nM30\n", VERDICT_AGREE},
	};
	struct channels like;

	channels_begin(&like);
	WALK(&like, rows);
}

/*
 * "M201 P12" where the profile does not say that P names channels: all three were taken to meet,
 * and the two that do were said to stand for ever. And a P beside M98 or G4 is either's.
 */
static void whose_p_it_is(void **state)
{
	static const struct {
		enum profile_partners partners;
		const char *text;
		enum verdict verdict;
	} rows[] = {
	    {PROFILE_PARTNERS_ALL, "M201 P12\nM30\n", VERDICT_CANNOT_TELL},
	    {PROFILE_PARTNERS_DIGITS, "M201 P12\nM30\n", VERDICT_AGREE},
	    {PROFILE_PARTNERS_DIGITS, "G0 X1. M201 P12\nM30\n", VERDICT_AGREE},
	    {PROFILE_PARTNERS_DIGITS, "G4 P12 M201\nM30\n", VERDICT_CANNOT_TELL},
	    {PROFILE_PARTNERS_DIGITS, "O1\nM98 P12 M201\nM30\nO12\nM99\n", VERDICT_CANNOT_TELL},
	    {PROFILE_PARTNERS_DIGITS, "G71 P12 Q20 M201\nN12 X1.\nN20 X2.\nM30\n",
	        VERDICT_CANNOT_TELL},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;

		channels_begin(&c);
		c.profile.channels = 3;
		c.profile.partners = rows[i].partners;
		channels_add(&c, rows[i].text);
		channels_add(&c, rows[i].text);
		channels_add(&c, "M30\n");
		channels_prove(&c);
		if (c.result.verdict != rows[i].verdict)
			fail_msg("%s: verdict %d", rows[i].text, (int)c.result.verdict);
		channels_end(&c);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_channel_that_meets_itself),
	    cmocka_unit_test(what_moves_under_a_modal_call),
	    cmocka_unit_test(half_a_loop),
	    cmocka_unit_test(a_jump_into_a_loop),
	    cmocka_unit_test(a_jump_to_a_skipped_block),
	    cmocka_unit_test(a_program_twice),
	    cmocka_unit_test(whose_p_it_is),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
