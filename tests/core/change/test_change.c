/*
 * Goal: differences are told by what they mean at the machine: the right kind, the right words, the
 * right lines, the same counts in both directions, and nothing where nothing changed.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "yoke/change.h"

static struct profile profile;
static struct change_list list;

static void compare_n(const void *a, size_t an, const void *b, size_t bn, size_t limit)
{
	struct change_list back;

	change_list_free(&list);
	assert_int_equal(change_compare(&profile, a, an, b, bn, limit, &list), 0);
	assert_int_equal(change_compare(&profile, b, bn, a, an, limit, &back), 0);
	assert_int_equal(list.sameness, back.sameness);
	assert_memory_equal(list.count, back.count, sizeof(list.count));
	assert_int_equal(list.renumbered, back.renumbered);
	change_list_free(&back);
}

static void compare(const char *a, const char *b)
{
	compare_n(a, strlen(a), b, strlen(b), 0);
}

/* One change only, of this kind, with this text. */
static void one(const char *a, const char *b, enum change_kind kind, const char *what)
{
	compare(a, b);
	if (list.n != 1 || list.v[0].kind != kind || strcmp(list.v[0].what, what) != 0) {
		struct text t = {0};

		change_print(&list, "old", "new", &t);
		fail_msg("expected only '%s', got:\n%s", what, t.s);
	}
	assert_int_equal(list.count[kind], 1);
}

static void test_kinds(void **state)
{
	one("M203\n", "M204\n", CHANGE_WAIT, "wait code M203 -> M204");
	one("G1 X12.5\n", "G1 X125\n", CHANGE_POINT, "decimal point X12.5 -> X125");
	one("G1 F0.2\n", "G1 F2\n", CHANGE_POINT, "decimal point F0.2 -> F2");
	one("G1 X1. Z-5.\n", "G1 X1.1 Z-5.\n", CHANGE_MOTION, "motion X1. -> X1.1");
	one("G0 X1.\n", "G1 X1.\n", CHANGE_MOTION, "motion G0 -> G1");
	one("T0101\n", "T0202\n", CHANGE_TOOL, "tool T101 -> T202");
	one("T0101\n", "T0111\n", CHANGE_OFFSET, "offset T101 -> T111");
	one("T0100\n", "T1100\n", CHANGE_TOOL, "tool T100 -> T1100");
	one("G43 H1\n", "G43 H2\n", CHANGE_OFFSET, "offset H1 -> H2");
	one("G41 X1.\n", "G42 X1.\n", CHANGE_OFFSET, "offset G41 -> G42");
	one("G54.1 P1\n", "G54.1 P2\n", CHANGE_WORK_OFFSET, "work offset P1 -> P2");
	one("X1. / Z2.\n", "X1. Z2.\n", CHANGE_SKIP, "block skip / removed");
	one("G54\n", "G55\n", CHANGE_WORK_OFFSET, "work offset G54 -> G55");
	one("G10 P1 X0.1\n", "G10 P1 X0.2\n", CHANGE_WORK_OFFSET, "work offset X0.1 -> X0.2");
	one("G96 S180\n", "G97 S180\n", CHANGE_SPEED, "speed G96 -> G97");
	one("G50 S2500\n", "G50 S3500\n", CHANGE_SPEED, "speed S2500 -> S3500");
	one("G1 X1. F0.2\n", "G1 X1. F0.25\n", CHANGE_FEED, "feed F0.2 -> F0.25");
	one("G0 X1.\n", "/G0 X1.\n", CHANGE_SKIP, "block skip /1 added");
	one("/2 G0 X1.\n", "/3 G0 X1.\n", CHANGE_SKIP, "block skip /2 -> /3");
	one("M01\nG0\n", "G0\n", CHANGE_STOP, "stop M1 removed");
	one("G0\n", "G0\nM30\n", CHANGE_STOP, "stop M30 added");
	one("%\nG0\n%\n", "%\nG0\n", CHANGE_STOP, "stop % removed");
	one("M98 P100 L2\n", "M98 P100 L3\n", CHANGE_FLOW, "flow L2 -> L3");
	one("#1=5\n", "#1=6\n", CHANGE_FLOW, "flow #1=5 -> #1=6");
	one("IF[#1GT0]GOTO10\n", "IF[#1GT1]GOTO10\n", CHANGE_FLOW,
	    "flow IF[#1GT0]GOTO10 -> IF[#1GT1]GOTO10");
	one("M8\n", "M9\n", CHANGE_CODE, "code M8 -> M9");
	one("G4 X1.\n", "G4 X2.\n", CHANGE_CODE, "code X1. -> X2.");
	one("O4417\nG0\n", "O4471\nG0\n", CHANGE_NUMBER, "program number O4417 -> O4471");
	one("(A)\nG0\n", "(B)\nG0\n", CHANGE_COMMENT, "comment text");
	one("G0 (A)\n", "G0\n", CHANGE_COMMENT, "comment text");
	one("N10 G0 X1.\n", "N20 G0 X1.0\n", CHANGE_LAYOUT, "layout");
	one("N10 G0 X1.\n", "N10G0 X1.\n", CHANGE_LAYOUT, "layout");
	one("G1 X1.5 F.2\n", "G1X1.50F0.2\n", CHANGE_LAYOUT, "layout");
	one("G1 X1. Z2.\n", "G1 Z2. X1.\n", CHANGE_LAYOUT, "layout: the order of words");
}

/* One block may change in several ways: each is told. */
static void test_several(void **state)
{
	compare("G1 X10. Z5. F0.2 S100\n", "G1 X11. Z6. F0.3 S100\n");
	assert_int_equal(list.n, 2);
	assert_string_equal(list.v[0].what, "motion X10. Z5. -> X11. Z6.");
	assert_string_equal(list.v[1].what, "feed F0.2 -> F0.3");
	assert_int_equal(list.v[1].old_line, 1);
	assert_string_equal(list.v[1].old_text, "G1 X10. Z5. F0.2 S100");
	assert_string_equal(list.v[1].new_text, "G1 X11. Z6. F0.3 S100");
}

static void sameness(const char *a, const char *b, enum change_sameness expected)
{
	compare(a, b);
	if (list.sameness != expected)
		fail_msg("'%s' and '%s': %s", a, b, change_sameness_name(list.sameness));
}

static void test_sameness(void **state)
{
	sameness("G0 X1.\n", "G0 X1.\n", CHANGE_SAME_BYTES);
	sameness("", "", CHANGE_SAME_BYTES);
	sameness("%\nG0 X1.\nM30\n%\n", "%\r\nG0 X1.  \r\nM30\r\n%\r\n", CHANGE_SAME_TEXT);
	sameness("%\nG0 X1.\n", "%\r\r\nG0 X1.\r\r\n", CHANGE_SAME_TEXT);
	sameness("%\nG0 X1.", "%\n\nG0 X1.\n\n", CHANGE_SAME_TEXT);
	sameness("G0 X1.50\n", "g0x1.5 (A)\n", CHANGE_SAME_MEANING);
	sameness("G0 X1\n", "G0 X1.\n", CHANGE_DIFFERENT);
	sameness("G0 X1.5\n", "G0 X15\n", CHANGE_DIFFERENT);
	sameness("", "G0\n", CHANGE_DIFFERENT);
	sameness("O1\n", "O2\n", CHANGE_DIFFERENT);
}

/* Leader and trailer of a punched tape are no change; a NUL inside a block is damage. */
static void test_leader(void **state)
{
	static const char plain[] = "%\r\nO4417\r\nG0 X40.\r\n%\r\n";
	char punched[400], damaged[] = "%\r\nO4417\r\nG0 X4\0"
	                               "0.\r\n%\r\n";
	size_t n = 120;

	memset(punched, 0, n);
	memcpy(punched + n, plain, sizeof(plain) - 1);
	n += sizeof(plain) - 1;
	for (int i = 0; i < 80; i++) {
		punched[n++] = '\0';
		punched[n++] = '\x7f';
	}
	compare_n(plain, sizeof(plain) - 1, punched, n, 0);
	assert_int_equal(list.sameness, CHANGE_SAME_TEXT);
	assert_int_equal(list.n, 0);
	compare_n(plain, sizeof(plain) - 1, damaged, sizeof(damaged) - 1, 0);
	assert_int_equal(list.sameness, CHANGE_DIFFERENT);
}

/* Sequence numbers are no change: they are counted, and nothing is told. */
static void test_renumbered(void **state)
{
	compare("N10 G0\nN20 M203\n/N30 M8\nN40 M30\n", "N100 G0\nM203\n/N3 M8\nN40 M30\n");
	assert_int_equal(list.sameness, CHANGE_SAME_MEANING);
	assert_int_equal(list.renumbered, 3);
	assert_int_equal(list.n, 0);
}

static void jumps(const char *a, const char *b, enum change_sameness expected, uint64_t renumbered)
{
	compare(a, b);
	if (list.sameness != expected || list.renumbered != renumbered) {
		struct text t = {0};

		change_print(&list, "old", "new", &t);
		fail_msg("%s\n%s\n%s", a, b, t.s);
	}
}

/* Jumps that were numbered anew with their blocks mean the same; those that were not do not. */
static void test_jumps(void **state)
{
	jumps("GOTO20\nN10 M8\nN20 M30\n", "GOTO200\nN100 M8\nN200 M30\n", CHANGE_SAME_MEANING, 3);
	jumps("N5 G71 P10 Q20 U1.\nN10 G0\nN20 G1\n", "N1 G71 P2 Q3 U1.\nN2 G0\nN3 G1\n",
	    CHANGE_SAME_MEANING, 3);
	/* M99 P leads into the program that called (common practice). */
	jumps("O1\nN1 M98 P2\nN2 M30\nO2\nN1 M99 P2\n",
	    "O1\nN10 M98 P2\nN20 M30\nO2\nN10 M99 P20\n", CHANGE_SAME_MEANING, 3);
	/* The same text leads elsewhere. */
	compare("GOTO20\nN10 M8\nN20 M30\n", "GOTO20\nN20 M8\nN30 M30\n");
	assert_int_equal(list.sameness, CHANGE_DIFFERENT);
	assert_int_equal(list.n, 1);
	assert_int_equal(list.v[0].kind, CHANGE_FLOW);
	assert_string_equal(
	    list.v[0].what, "flow: the sequence number that is named stands elsewhere");
	/* Numbered anew without the block that it leads to. */
	compare("GOTO20\nN10 M8\nN20 M30\n", "GOTO10\nN10 M8\nN20 M30\n");
	assert_int_equal(list.count[CHANGE_FLOW], 1);
	assert_string_equal(list.v[0].what, "flow GOTO20 -> GOTO10");
	/* The number is taken behind the jump first, then from the beginning (common practice). */
	jumps("N1 G0\nGOTO1\nM8\nN1 M30\n", "N2 G0\nGOTO1\nM8\nN1 M30\n", CHANGE_SAME_MEANING, 1);
	compare("N1 G0\nGOTO1\nM8\nN1 M30\n", "N1 G0\nGOTO1\nM8\nN2 M30\n");
	assert_int_equal(list.count[CHANGE_FLOW], 1);
	/* P of a dwell leads nowhere. */
	jumps("G4 P500\nN500 G0\n", "G4 P500\nN600 G0\n", CHANGE_SAME_MEANING, 1);
}

/* A program, and another in which a jump leads elsewhere although it, or all blocks, read the same.
 */
static void elsewhere(const char *a, const char *b, uint64_t others)
{
	uint64_t n = 0;

	compare(a, b);
	for (int k = 0; k < CHANGE_COUNT; k++)
		n += list.count[k];
	if (list.sameness != CHANGE_DIFFERENT || list.count[CHANGE_FLOW] != 1 || n != others + 1)
		fail_msg("%s\n%s: %d of %d", a, b, (int)list.count[CHANGE_FLOW], (int)n);
}

/*
 * Numbers that stand alone on their lines were taken for layout: a jump whose number had moved to
 * another place was told as the same meaning. So was one between blocks that both had changed, one
 * to a number that is computed, and the way back of a subprogram into its caller.
 */
static void test_jumps_elsewhere(void **state)
{
	elsewhere("GOTO10\nM8\nN10\nM9\nM30\n", "GOTO10\nM8\nM9\nN10\nM30\n", 0);
	elsewhere("GOTO10\nM8\nN10 (A)\nM9\n", "GOTO10\nM8\nM9\n", 1);
	elsewhere("GOTO10\nM8\nN10\nM9\nN20\n", "GOTO20\nM8\nN10\nM9\nN20\n", 0);
	jumps("GOTO10\nM8\nN10\nM9\nM30\n", "GOTO5\nM8\nN5\nM9\nM30\n", CHANGE_SAME_MEANING, 1);
	jumps("GOTO10\nM8\nN10\n", "GOTO5\nM8\nN5\n\n", CHANGE_SAME_MEANING, 1);
	elsewhere("GOTO10\nN10X1.\nN20X2.\n", "GOTO20\nN10X1.5\nN20X2.5\n", 2);
	elsewhere("GOTO10\nN10X1.\nN20X2.\n", "GOTO10\nN20X1.5\nN10X2.5\n", 2);
	jumps("GOTO10\nN10X1.\nN20X2.\n", "GOTO10\nN10X1.5\nN20X2.5\n", CHANGE_DIFFERENT, 0);
	elsewhere("GOTO#1\nN10M8\nN20M9\n", "GOTO#1\nN10M8\nN15M9\n", 0);
	elsewhere("GOTO[#1*10]\nN10\nM8\nN20\nM9\n", "GOTO[#1*10]\nM8\nN10\nN20\nM9\n", 0);
	jumps("GOTO#1\nN10M8\nN20M9\n", "GOTO#1\nN10M8\nN20M5\n", CHANGE_DIFFERENT, 0);
	elsewhere(
	    "O1\nM98P2\nN10M8\nN20M30\nO2\nM99P10\n", "O1\nM98P2\nN20M8\nN10M30\nO2\nM99P10\n", 0);
	elsewhere("O1\nM98P2\nN10M8\nN20M30\nO2\nN10M9\nM99P10\n",
	    "O1\nM98P2\nN20M8\nN10M30\nO2\nN10M9\nM99P10\n", 0);
	/* A cycle that was changed and leads elsewhere besides. */
	elsewhere("G71P1Q2U1.\nN1G0\nG1\nN2M8\n", "G71P1Q2U2.\nN1G0\nN2G1\nM8\n", 1);
}

/* More jumps than are followed are not passed over in silence. */
static void test_many_jumps(void **state)
{
	struct text a = {0}, b = {0};

	for (int i = 0; i < 300000; i++)
		text_puts(&a, "GOTO1\n");
	text_add(&b, a.s, a.n);
	text_puts(&a, "N1M8\nN2M30\n");
	text_puts(&b, "N2M8\nN1M30\n");
	assert_false(a.failed || b.failed);
	compare_n(a.s, a.n, b.s, b.n, 0);
	assert_int_equal(list.sameness, CHANGE_DIFFERENT);
	assert_int_equal(list.count[CHANGE_FLOW], 1);
	text_free(&a);
	text_free(&b);
}

/* The same words in another order: of two that act one after the other, or of which the later one
 * counts, the order was told as layout. */
static void test_order(void **state)
{
	one("M203 M204\n", "M204 M203\n", CHANGE_WAIT, "wait code M203 M204 -> M204 M203");
	one("G0 G1 X1.\n", "G1 G0 X1.\n", CHANGE_MOTION, "motion G0 G1 -> G1 G0");
	one("X1. X2.\n", "X2. X1.\n", CHANGE_MOTION, "motion X1. X2. -> X2. X1.");
	one("M3 M8 S1\n", "S1 M8 M3\n", CHANGE_LAYOUT, "layout: the order of words");
	one("G90 G54 G0\n", "G0 G54 G90\n", CHANGE_LAYOUT, "layout: the order of words");
	compare("G90 G91 X1.\n", "G91 G90 X2.\n");
	assert_string_equal(list.v[0].what, "motion X1. G90 G91 -> X2. G91 G90");
}

/* A slash in front of a wait code decides who waits: it was told as a slash alone. */
static void test_skipped_wait(void **state)
{
	one("M203\n", "/M203\n", CHANGE_WAIT, "wait code M203 -> /1 M203");
	one("/2 M203\n", "/M203\n", CHANGE_WAIT, "wait code /2 M203 -> /1 M203");
	one("M8\n", "/M8\n", CHANGE_SKIP, "block skip /1 added");
}

/* Blocks in another place are one change, however many they are. */
static void test_moved(void **state)
{
	compare("G0 X1.\nM8\nG1 Z1.\nG1 Z2.\nG1 Z3.\n", "G0 X1.\nG1 Z1.\nG1 Z2.\nG1 Z3.\nM8\n");
	assert_int_equal(list.n, 1);
	assert_string_equal(list.v[0].what, "moved: 1 block, line 2 -> line 5");
	assert_int_equal(list.v[0].old_line, 2);
	assert_int_equal(list.v[0].new_line, 5);
	assert_int_equal(list.sameness, CHANGE_DIFFERENT);
	compare("T1\n(FINISH)\nT2 (20)\nG0 X1.\nG1 Z1.\nT3\nG0 X3.\nG1 Z3.\nG1 Z4.\nM30\n",
	    "T1\nN5 T3\nG0 X3.\nG1 Z3.\nG1 Z4.\n(FINISH)\nN9 T2 (20)\nG0 X1.\nG1 Z1.\nM30\n");
	assert_int_equal(list.n, 1);
	assert_string_equal(list.v[0].what, "moved: 3 blocks, line 3-5 -> line 7-9");
	/* A comment that went along is none that changed; one that changed on the way is. */
	compare("(A)\nT2 (20)\nT3\nG0\nG1\n", "T3\nG0\nG1\n(B)\nT2 (20)\n");
	assert_int_equal(list.count[CHANGE_COMMENT], 1);
	assert_int_equal(list.count[CHANGE_MOVED], 1);
	/* Two that stand elsewhere too are not taken for the same. */
	compare("G0\nG1\nT1\nT2\nT3\nG0\n", "G0\nT1\nT2\nT3\nG1\nG0\nG1\n");
	assert_int_equal(list.count[CHANGE_MOVED], 0);
}

/* What is done between two meetings is what the channels share. */
static void test_moved_past_waits(void **state)
{
	compare("M203\nG0 X1.\nG0 X2.\nG0 X3.\nG0 X4.\n", "G0 X1.\nG0 X2.\nG0 X3.\nG0 X4.\nM203\n");
	assert_int_equal(list.count[CHANGE_WAIT], 1);
	assert_int_equal(list.count[CHANGE_MOVED], 1);
	assert_string_equal(list.v[1].what, "wait code M203 moved");
	compare("M203\nT1\nG0 X1.\nG1 Z1.\nM204\nM205\nM206\nM207\nG0 X2.\n",
	    "M203\nM204\nM205\nM206\nM207\nT1\nG0 X1.\nG1 Z1.\nG0 X2.\n");
	assert_int_equal(list.count[CHANGE_WAIT], 1);
	assert_string_equal(
	    list.v[1].what, "wait code: 3 blocks moved from behind 1 wait code to behind 5");
}

/* Who meets at a wait code, and codes that send and receive, are as heavy as the code. */
static void test_waits_of_the_machine(void **state)
{
	struct profile before = profile;
	struct text why = {0};

	one("M203 P12\n", "M203 P13\n", CHANGE_MOTION, "motion P12 -> P13");
	assert_int_equal(profile_set(&profile, "wait", "partners", "P digits", &why), PROFILE_OK);
	assert_int_equal(profile_set(&profile, "wait", "send", "M400-M409", &why), PROFILE_OK);
	assert_int_equal(profile_set(&profile, "wait", "receive", "M410-M419", &why), PROFILE_OK);
	one("M203 P12\n", "M203 P13\n", CHANGE_WAIT, "wait code P12 -> P13");
	one("M400\n", "M401\n", CHANGE_WAIT, "wait code M400 -> M401");
	one("M410\nG0\n", "G0\n", CHANGE_WAIT, "wait code M410 removed");
	one("M98 P12\n", "M98 P13\n", CHANGE_FLOW, "flow P12 -> P13");
	one("G0 MEET(7,1)\n", "G0 MEET(8,1)\n", CHANGE_COMMENT, "comment text");
	assert_int_equal(
	    profile_set(&profile, "wait", "call", "MEET({code},{channels})", &why), PROFILE_OK);
	one("MEET(7,1)\n", "MEET(8,1)\n", CHANGE_WAIT, "wait code MEET(7,1) -> MEET(8,1)");
	one("N5 meet (7, 1) (A)\n", "N5 MEET(7,12) (A)\n", CHANGE_WAIT,
	    "wait code MEET(7,1) -> MEET(7,12)");
	one("MEET(7,1)\nM8\n", "M8\n", CHANGE_WAIT, "wait code MEET(7,1) removed");
	one("MEET(7,1)\n", "MEET(7, 1)\n", CHANGE_LAYOUT, "layout");
	one("MEET(7,1) (A)\n", "MEET(7,1) (B)\n", CHANGE_COMMENT, "comment text");
	profile = before;
}

/* A block put in above a changed one does not hide what changed. */
static void test_aligned(void **state)
{
	compare("T0101\nG1 X1. F0.2\nM30\n", "T0101\nM8\nG4 U1.\nG1 X1. F0.3\nM30\n");
	assert_int_equal(list.count[CHANGE_FEED], 1);
	assert_int_equal(list.count[CHANGE_MOTION], 0);
	for (size_t i = 0; i < list.n; i++)
		if (list.v[i].kind == CHANGE_FEED)
			assert_string_equal(list.v[i].what, "feed F0.2 -> F0.3");
}

static void test_comment_places(void **state)
{
	compare("%\n(JOB)\nG0\n(ONE)\n(TWO)\nG1\n", "%\n(JOB)\nG0\n(ONE)\n\n(THREE)\nG1\n");
	assert_int_equal(list.n, 1);
	assert_int_equal(list.v[0].kind, CHANGE_COMMENT);
	assert_int_equal(list.v[0].old_line, 5);
	assert_int_equal(list.v[0].new_line, 6);
	assert_string_equal(list.v[0].old_text, "(TWO)");
	assert_string_equal(list.v[0].new_text, "(THREE)");
	/* a wait code in a comment is no wait code */
	one("G0 (M206 MOVED)\n", "G0\n", CHANGE_COMMENT, "comment text");
}

static void test_limit(void **state)
{
	struct text a = {0}, b = {0};

	for (int i = 0; i < 1000; i++) {
		text_printf(&a, "N%d G1 X%d.\n", i, i);
		text_printf(&b, "N%d G1X%d.\n", i, i);
	}
	text_puts(&a, "G1 X5. F0.2\nM203\n");
	text_puts(&b, "G1 X5. F0.4\nM204\n");
	compare_n(a.s, a.n, b.s, b.n, 3);
	assert_int_equal(list.n, 3);
	assert_int_equal(list.count[CHANGE_LAYOUT], 1000);
	assert_int_equal(list.count[CHANGE_FEED], 1);
	assert_int_equal(list.v[0].kind, CHANGE_LAYOUT);
	assert_int_equal(list.v[1].kind, CHANGE_FEED);
	assert_int_equal(list.v[2].kind, CHANGE_WAIT);
	text_free(&a);
	text_free(&b);
}

static void test_print(void **state)
{
	struct text t = {0};

	compare("G1 X5. F0.2\nM203 \n(A)\n", "G1 X5. F0.4\nM204\n(B\x1b)\n");
	change_print(&list, "old.nc", "new.nc", &t);
	assert_string_equal(t.s, "refuse: wait code M203 -> M204\n"
	                         "    old old.nc:2: M203 \n"
	                         "    new new.nc:2: M204\n"
	                         "warn: feed F0.2 -> F0.4\n"
	                         "    old old.nc:1: G1 X5. F0.2\n"
	                         "    new new.nc:1: G1 X5. F0.4\n"
	                         "note: comment text\n"
	                         "    old old.nc:3: (A)\n"
	                         "    new new.nc:3: (B<1B>)\n"
	                         "different, 3 changes: 1 wait code, 1 feed, 1 comment\n");
	text_free(&t);
	compare("G0\n", "G0\r\n");
	change_print(&list, "a", "b", &t);
	assert_string_equal(
	    t.s, "same text apart from line ends, leader, filler and blanks at the end of lines\n");
	text_free(&t);
}

/* Blocks longer than the reader reads: a difference behind its end is still a difference. */
static void test_long(void **state)
{
	size_t n = 70000;
	char *a = malloc(n), *b = malloc(n);

	assert_true(a && b);
	memset(a, '1', n);
	a[0] = 'X';
	memcpy(b, a, n);
	b[n - 1] = '2';
	compare_n(a, n, b, n, 0);
	assert_int_equal(list.sameness, CHANGE_DIFFERENT);
	assert_true(list.n > 0);
	free(a);
	free(b);
}

/* Blocks of many words, all of them different: the care for pairs has its bound, and the counts
 * stay right. */
static void test_hostile(void **state)
{
	struct text t[2] = {{0}, {0}};

	for (int side = 0; side < 2; side++)
		for (int i = 0; i < 20000; i++) {
			if (i % 64 == 0)
				text_printf(&t[side], "M%d\n", 1000 + i);
			for (int k = 0; k < 60; k++)
				text_printf(
				    &t[side], "%c%d", "XYZ"[k % 3], i * 1000 + k * 2 + side);
			text_puts(&t[side], "\n");
		}
	compare_n(t[0].s, t[0].n, t[1].s, t[1].n, 10);
	assert_int_equal(list.count[CHANGE_MOTION], 20000);
	assert_int_equal(list.n, 10);
	text_free(&t[0]);
	text_free(&t[1]);
}

/* Random programs and random edits: the counts of both directions agree (compare_n), and nothing
 * crashes. */
static void test_random(void **state)
{
	static const char *const blocks[] = {"G0 X1.\n", "G1 Z5 F.2\n", "(A)\n", "\n", "M203\n",
	    "N5 T0101\r\n", "/M8\n", "GOTO5\n", "N1 GOTO7\n", "G71P5Q7\n", "N5\n", "O1\n", "%\n",
	    "#1=2\n", "G1 X1. (B\n", "\0\0", "X1.5.", "\xff\xfe\r\r\n", "N7\n", "M98P1\r"};
	uint32_t x = 99;

	for (int round = 0; round < 3000; round++) {
		struct text t[2] = {{0}, {0}};

		for (int side = 0; side < 2; side++)
			for (int i = 0; i < 12; i++) {
				const char *s;

				x = x * 1664525u + 1013904223u;
				s = blocks[(x >> 12) % (sizeof(blocks) / sizeof(blocks[0]))];
				text_add(&t[side], s, *s ? strlen(s) : 2);
			}
		compare_n(t[0].s, t[0].n, t[1].s, t[1].n, round % 4);
		text_free(&t[0]);
		text_free(&t[1]);
	}
}

static int start(void **state)
{
	profile_defaults(&profile);
	return 0;
}

static int finish(void **state)
{
	change_list_free(&list);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_kinds),
	    cmocka_unit_test(test_several),
	    cmocka_unit_test(test_sameness),
	    cmocka_unit_test(test_leader),
	    cmocka_unit_test(test_renumbered),
	    cmocka_unit_test(test_jumps),
	    cmocka_unit_test(test_jumps_elsewhere),
	    cmocka_unit_test(test_many_jumps),
	    cmocka_unit_test(test_order),
	    cmocka_unit_test(test_skipped_wait),
	    cmocka_unit_test(test_moved),
	    cmocka_unit_test(test_moved_past_waits),
	    cmocka_unit_test(test_waits_of_the_machine),
	    cmocka_unit_test(test_aligned),
	    cmocka_unit_test(test_comment_places),
	    cmocka_unit_test(test_limit),
	    cmocka_unit_test(test_print),
	    cmocka_unit_test(test_long),
	    cmocka_unit_test(test_hostile),
	    cmocka_unit_test(test_random),
	};

	return cmocka_run_group_tests(tests, start, finish);
}
