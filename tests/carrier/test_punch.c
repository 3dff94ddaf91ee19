/*
 * Goal: what a control punches is compared with what was sent, or fetched; a copy is equal by its
 * canonical form alone, and no noise, no words of a device server and no half of a tape becomes a
 * program.
 *
 * DC1..DC4 and parity: ISO 646 / ECMA-6 positions 1/1..1/4, ISO 840 even parity in bit 8. What a
 * control says when is common practice.
 */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "line_case.h"

/* Say a text in ISO code with leader, DC2 and trailer, lines ended as some controls do; end: DC4.
 */
static void punch_tape(struct desk *k, const char *text, bool end)
{
	static unsigned char tape[65536];
	size_t n = 0;

	tape[n++] = DC2;
	for (int i = 0; i < 40; i++)
		tape[n++] = 0;
	for (; *text; text++) {
		unsigned char c = (unsigned char)*text;

		tape[n++] = (unsigned char)(c | (__builtin_popcount(c) % 2 ? 0x80 : 0));
		if (c == '\n') {
			tape[n++] = 0x8D;
			tape[n++] = 0x8D;
		}
	}
	for (int i = 0; i < 40; i++)
		tape[n++] = 0;
	if (end)
		tape[n++] = DC4;
	desk_say(k, tape, n);
}

static void punch(struct desk *k, const char *text)
{
	punch_tape(k, text, true);
}

static void punch_without_end(struct desk *k, const char *text)
{
	punch_tape(k, text, false);
}

static void read_backs(void)
{
	r.order.item[0].line.serial.read_back = LINE_READ_BACK_PUNCH;
	r.order.item[1].line.serial.read_back = LINE_READ_BACK_PUNCH;
}

static void load(struct desk *k)
{
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	k->mark = k->n;
}

static void punches_both_at_the_end(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	punch(k, LO);
	desk_hear_for(k, 500);
}

static void punches_each_at_once(struct desk *k)
{
	desk_accept(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	load(k);
	punch(k, LO);
	desk_hear_for(k, 500);
}

/* Cases "leader, trailer": filler and line ends of the control do not count. */
static void read_back_and_equal(void **state)
{
	void (*const way[])(struct desk *) = {punches_both_at_the_end, punches_each_at_once};

	for (int i = 0; i < 2; i++) {
		begin(way[i]);
		read_backs();
		rig_run(&r);
		desk_close(&d);
		ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
		assert_int_equal(r.outcome.channel[0].compared, 1);
		assert_int_equal(r.outcome.channel[1].compared, 1);
		assert_memory_equal(
		    &r.outcome.channel[1].sha, &r.order.item[1].want, sizeof(struct sha));
	}
}

#define EDITED "%\nO4417(JOB 4417 REV C LOWER)\nN10G0X43.5\nM201\nM30\n%\n"

static void punches_another(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	punch(k, EDITED);
	desk_hear_for(k, 500);
}

static void read_back_and_different(void **state)
{
	struct sha sum = rig_sha(EDITED);

	begin(punches_another);
	read_backs();
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_int_equal(r.outcome.channel[0].compared, 1);
	assert_int_equal(r.outcome.channel[1].compared, 0);
	assert_non_null(strstr(r.outcome.text, "line 3"));
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_COPY);
	assert_int_equal(r.content[0].head.item, 1);
	assert_string_equal(r.content[0].text, EDITED);
	assert_memory_equal(&r.outcome.channel[1].sha, &sum, sizeof sum);
}

#define OTHER "O0001(WARM UP)\nM30\n"
#define MACRO "O9001\nG0\nM99\n"
#define BODY(text) "O4417(JOB 4417 REV C " text ")\nN10G0X42.5\nM201\nM30\n"

static const char *copy_of_lower;

static void punches_all_of_lower(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	punch(k, copy_of_lower);
	desk_hear_for(k, 500);
}

static void read_back_of(const char *lower, const char *copy)
{
	copy_of_lower = copy;
	begin(punches_all_of_lower);
	rig_program(&r, 1, lower);
	read_backs();
	rig_run(&r);
	desk_close(&d);
}

/* A content of an item: role, number, text. */
static void content(
    uint32_t item, unsigned i, enum carry_role role, const char *note, const char *text)
{
	assert_true(i < r.contents);
	assert_int_equal(r.content[i].head.role, role);
	assert_int_equal(r.content[i].head.item, item);
	assert_string_equal(r.content[i].head.note, note);
	assert_string_equal(r.content[i].text, text);
}

/* The operator has all programs of the channel punched: only the first counted, and the rest was
 * dropped without a word. */
static void all_programs_in_the_copy(void **state)
{
	static const char *const form[] = {"%\n" OTHER BODY("LOWER") MACRO "%\n",
	    "%\n" MACRO "%\n" BODY("LOWER") "%\n" OTHER "%\n",
	    "%\n" OTHER "%\n%\n" MACRO "%\n%\n" BODY("LOWER") "%\n"};

	for (unsigned i = 0; i < sizeof form / sizeof *form; i++) {
		read_back_of(LO, form[i]);
		ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
		assert_int_equal(r.outcome.channel[1].compared, 1);
		assert_int_equal(r.outcome.channel[1].more, 2);
		assert_int_equal(r.outcome.channel[0].more, 0);
		assert_int_equal(r.contents, 2);
		content(1, i == 1, CARRY_ROLE_MORE, "O0001", OTHER);
		content(1, i != 1, CARRY_ROLE_MORE, "O9001", MACRO);
	}
}

/* A main program with its subprogram is kept as two, and punched in the order of their numbers. */
static void a_program_that_is_kept_as_two(void **state)
{
	static const char sent[] = "%\n" BODY("LOWER") "O0417\nM99\n%\n";

	read_back_of(sent, "%\n" OTHER "O417\nM99\n" BODY("LOWER") "%\n");
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_non_null(strstr(r.outcome.text, "first in line 6"));
	content(1, 0, CARRY_ROLE_COPY, "", "%\n" BODY("LOWER") "O417\nM99\n%\n");
	content(1, 1, CARRY_ROLE_MORE, "O0001", OTHER);
	read_back_of(sent, "%\nO0417\nM99\n" BODY("LOWER") OTHER "%\n");
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_memory_equal(&r.outcome.channel[1].sha, &r.order.item[1].want, sizeof(struct sha));
	assert_int_equal(r.contents, 1);
	/* One of the two is not there any more. */
	read_back_of(sent, "%\n" BODY("LOWER") "%\n");
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_non_null(strstr(r.outcome.text, "O0417 of it did not come"));
	content(1, 0, CARRY_ROLE_COPY, "", "%\n" BODY("LOWER") "%\n");
}

static void copies_that_are_none(void **state)
{
	static const char twice[] = "%\n" BODY("LOWER") OTHER BODY("UPPER") "%\n",
	                  not_it[] = "%\n" OTHER MACRO "%\n";

	/* Both channels' programs in one stream: which is which nobody said. */
	read_back_of(LO, twice);
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_UNKNOWN);
	assert_non_null(strstr(r.outcome.text, "O4417 came twice with different text"));
	assert_int_equal(r.outcome.channel[1].has_sha, 0);
	content(1, 0, CARRY_ROLE_COPY, "", twice);
	content(1, 1, CARRY_ROLE_MORE, "O0001", OTHER);
	read_back_of(LO, not_it);
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_non_null(strstr(r.outcome.text, "O0001, O9001 came, and not O4417"));
	content(1, 0, CARRY_ROLE_COPY, "", not_it);
	assert_int_equal(r.contents, 3);
}

static void punches_nothing(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	desk_hear_for(k, 1500);
}

static void read_back_that_does_not_come(void **state)
{
	begin(punches_nothing);
	read_backs();
	r.order.item[0].line.serial.read_back_ms = 700;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NOTHING, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.outcome.channel[0].compared, 0);
}

static const char *tape[2];

static void punches_tapes(struct desk *k)
{
	desk_accept(k);
	punch(k, tape[0]);
	desk_hear_for(k, 500);
	if (tape[1])
		punch(k, tape[1]);
	desk_hear_for(k, 500);
}

static void fetch(const char *up, const char *lo)
{
	tape[0] = up;
	tape[1] = lo;
	r.order.act = CARRY_FETCH;
	begin(punches_tapes);
	rig_expect(&r, 0, UP);
	rig_run(&r);
	desk_close(&d);
}

static void fetch_both(void **state)
{
	fetch(UP, LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	assert_int_equal(r.steps, 0);
	assert_int_equal(r.contents, 2);
	assert_string_equal(r.content[0].text, UP);
	assert_string_equal(r.content[1].text, LO);
	assert_int_equal(d.n, 0); /* nothing is sent to the control */
}

static void words_of_a_device_server_are_no_program(void **state)
{
	fetch("Device open failure\n" UP "Connection timed out\n", LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	assert_string_equal(r.content[0].text, UP);
	fetch("Port already in use\n", NULL);
	assert_int_equal(r.outcome.error, CARRY_ERROR_DAMAGED);
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
}

static void a_cut_off_tape_is_no_program(void **state)
{
	static const char *const cut[] = {
	    "%\nO4417\nN10G0X4", UP "%\nO4417\nN10G0X4", UP "O4418\nN10G0X4"};

	for (unsigned i = 0; i < sizeof cut / sizeof *cut; i++) {
		fetch(cut[i], NULL);
		assert_int_equal(r.outcome.error, CARRY_ERROR_DAMAGED);
		assert_int_equal(r.contents, 1);
		assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
	}
}

/* The line is the line of the whole, and the program in which it is has its name. */
static void damage_in_one_of_several(void **state)
{
	fetch("%\n" OTHER "%\n%\nO9001\nG\x13" "0\nM99\n%\n", NULL);
	assert_int_equal(r.outcome.error, CARRY_ERROR_DAMAGED);
	assert_non_null(strstr(r.outcome.text, "line 7 of all that came, in O9001"));
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
}

/* Who fetches has no program to choose by: everything is handed over, as a whole and one by one. */
static void fetch_all_programs(void **state)
{
	static const char all[] = "%\n" OTHER BODY("UPPER") "%\n%\n(NOTE)\n" MACRO "%\n";

	fetch("Port 3\n"
	      "%\n" OTHER BODY("UPPER") "%\n%\n(NOTE)\n" MACRO "%\nbye bye\n",
	    LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OTHER, CARRY_HELD_OTHER);
	assert_int_equal(r.contents, 6);
	content(0, 0, CARRY_ROLE_COPY, "", all);
	content(0, 1, CARRY_ROLE_MORE, "O0001", OTHER);
	content(0, 2, CARRY_ROLE_MORE, "O4417", BODY("UPPER"));
	content(0, 3, CARRY_ROLE_MORE, "", "(NOTE)\n");
	content(0, 4, CARRY_ROLE_MORE, "O9001", MACRO);
	assert_int_equal(r.outcome.channel[0].more, 4);
	assert_int_equal(r.outcome.channel[0].left_out, strlen("Port3byebye"));
	assert_int_equal(r.outcome.channel[1].more, 0);
	assert_string_equal(r.content[5].text, LO);
}

static void punches_with_pauses(struct desk *k)
{
	desk_accept(k);
	punch_without_end(k, UP);
	desk_hear_for(k, 600);
	punch_without_end(k, "%\n" OTHER "%\n");
	desk_hear_for(k, 1500);
	punch(k, LO);
	desk_hear_for(k, 500);
}

/* The operator needs a moment between two programs; the silence that ends them all is a setting. */
static void fetch_with_pauses_between(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_with_pauses);
	r.order.item[0].line.serial.silence_ms = r.order.item[1].line.serial.silence_ms = 1200;
	r.order.item[1].line.serial.read_back_ms = 5000;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OTHER, CARRY_HELD_OTHER);
	assert_int_equal(r.contents, 4);
	content(0, 0, CARRY_ROLE_COPY, "", UP "%\n" OTHER "%\n");
	content(0, 2, CARRY_ROLE_MORE, "O0001", OTHER);
	assert_string_equal(r.content[3].text, LO);
}

enum { MANY = CARRY_MORE_MAX + 20 };
static char many[MANY * 16];

/* More programs than are handed over one by one are all in the whole. */
static void fetch_very_many(void **state)
{
	char *at = many + sprintf(many, "%%\n");

	for (int i = 0; i < MANY; i++)
		at += sprintf(at, "O%d\nM30\n", 1000 + i);
	sprintf(at, "%%\n");
	fetch(many, LO);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].more, MANY);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_COPY);
	assert_int_equal(r.content[0].head.size, strlen(many));
	assert_int_equal(r.contents, CARRY_MORE_MAX + 2);
}

static void punches_hex(struct desk *k)
{
	/* Case "high-bit garbage": 7 bits with even parity, read through an 8-bit port. */
	static const unsigned char bytes[] = {0xA5, 0x0A, 0xCF, 0xB4, 0xB4, 0xB1, 0xB7, 0x0A, 0x47,
	    0x30, 0xD8, 0xB4, 0x30, 0x2E, 0x0A, 0x4D, 0x33, 0x30, 0x0A, 0xA5, 0x0A};

	desk_accept(k);
	desk_say(k, bytes, sizeof bytes);
	desk_hear_for(k, 700);
}

static void wrong_framing_is_no_program(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_hex);
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_FRAMING);
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
	assert_int_equal(r.content[0].head.size, 21);
}

static void punches_after_a_hang_up(struct desk *k)
{
	desk_accept(k);
	desk_hear_for(k, 200);
	desk_hang_up(k);
	desk_accept(k);
	punch(k, UP);
	desk_hear_for(k, 500);
	desk_hang_up(k);
	desk_accept(k);
	punch(k, LO);
	desk_hear_for(k, 500);
}

/* Before the first character a connection that is lost is made anew. */
static void fetch_on_a_new_connection(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_after_a_hang_up);
	r.order.item[0].line.serial.read_back_ms = r.order.item[1].line.serial.read_back_ms = 5000;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OTHER, CARRY_HELD_OTHER);
	assert_int_equal(r.contents, 2);
	assert_int_equal(r.outcome.channel[0].bytes, strlen(UP));
	assert_int_equal(r.outcome.channel[1].bytes, strlen(LO));
}

static void punches_half(struct desk *k)
{
	desk_accept(k);
	desk_say(k, "%\nO44", 5);
	desk_hear_for(k, 100);
	desk_hang_up(k);
}

static void fetches_that_fail(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_half);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_LOST, CARRY_HELD_OLD, CARRY_HELD_OLD);
	begin(never_asks);
	r.order.item[0].line.serial.read_back_ms = 500;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NOTHING, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.contents, 0);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(read_back_and_equal),
	    T(read_back_and_different),
	    T(all_programs_in_the_copy),
	    T(a_program_that_is_kept_as_two),
	    T(copies_that_are_none),
	    T(read_back_that_does_not_come),
	    T(fetch_both),
	    T(words_of_a_device_server_are_no_program),
	    T(a_cut_off_tape_is_no_program),
	    T(damage_in_one_of_several),
	    T(fetch_all_programs),
	    T(fetch_with_pauses_between),
	    T(fetch_very_many),
	    T(wrong_framing_is_no_program),
	    T(fetch_on_a_new_connection),
	    T(fetches_that_fail),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
