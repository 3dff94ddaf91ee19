/*
 * Goal: every key of a profile takes what it should, refuses the rest with a line that says what is
 * allowed, and a refused value leaves the profile as it was.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <string.h>
#include "yoke/profile.h"

static void good(struct profile *p, const char *section, const char *key, const char *value)
{
	struct text why = {0};

	if (profile_set(p, section, key, value, &why) != PROFILE_OK)
		fail_msg("[%s] %s", section, why.s ? why.s : key);
	assert_int_equal(why.n, 0);
	text_free(&why);
}

static void bad(const char *section, const char *key, const char *value, const char *part_of_why)
{
	struct profile before, p;
	struct text why = {0};

	profile_defaults(&before);
	p = before;
	if (profile_set(&p, section, key, value, &why) != PROFILE_BAD)
		fail_msg("[%s] %s = %s is taken", section, key, value);
	assert_non_null(why.s);
	assert_int_equal(strncmp(why.s, key, strlen(key)), 0);
	if (!strstr(why.s, part_of_why))
		fail_msg("[%s] %s = %s says: %s", section, key, value, why.s);
	assert_null(strchr(why.s, '\n'));
	assert_memory_equal(&before, &p, sizeof(p));
	text_free(&why);
}

static void defaults(void **state)
{
	struct profile p;
	struct text why = {0};

	profile_defaults(&p);
	assert_int_equal(p.channels, 2);
	assert_string_equal(p.channel[0].name, "upper");
	assert_string_equal(p.channel[1].name, "lower");
	assert_string_equal(p.names, "{job}-{rev}.{channel}.nc");
	assert_string_equal(p.header, "(JOB {job} REV {rev} {channel})");
	assert_int_equal(p.block_max, 256);      /* NISTIR 6556, 3.3 */
	assert_int_equal(p.sequence_max, 99999); /* NISTIR 6556, 3.3.1 */
	assert_true(p.wait_alone && p.point_required);
	assert_false(
	    p.skip_separate || p.colon_number || p.number_from_job || p.end_m99 || p.lower_case);
	for (int i = 0; i < FINDING_COUNT; i++)
		assert_int_equal(p.weight[i], finding_weight((enum finding_id)i));
	assert_true(profile_check(&p, &why));
	assert_int_equal(profile_channel_find(&p, "Upper", 5), 0);
	assert_int_equal(profile_channel_find(&p, "UP", 2), 0);
	assert_int_equal(profile_channel_find(&p, "lo", 2), 1);
	assert_int_equal(profile_channel_find(&p, "LOWERX", 5), 1);
	assert_int_equal(profile_channel_find(&p, "middle", 6), -1);
	assert_int_equal(profile_channel_find(&p, "", 0), -1);
	assert_false(profile_is_wait(&p, 199));
	assert_true(profile_is_wait(&p, 200));
	assert_true(profile_is_wait(&p, 299));
	assert_false(profile_is_wait(&p, 300));
}

static void programs(void **state)
{
	struct profile p;

	profile_defaults(&p);
	good(&p, "programs", "names", "{job}.{channel}");
	assert_string_equal(p.names, "{job}.{channel}");
	good(&p, "programs", "header", "(REV {rev})");
	assert_string_equal(p.header, "(REV {rev})");
	good(&p, "programs", "number_from_job", "yes");
	assert_true(p.number_from_job);
	bad("programs", "names", "{part}", "unknown placeholder {part}; allowed are {job}");
	bad("programs", "names", "a/{job}", "without its folder");
	bad("programs", "header", "(REV {rev}) {job}", "parentheses");
	bad("programs", "number_from_job", "maybe", "allowed are no and yes");
}

static void channels(void **state)
{
	struct profile p;

	profile_defaults(&p);
	good(&p, "programs", "channels", "lower, third upper");
	assert_int_equal(p.channels, 3);
	assert_string_equal(p.channel[0].name, "lower");
	assert_string_equal(p.channel[1].name, "third");
	assert_int_equal(profile_channel_find(&p, "LO", 2), 0);
	assert_int_equal(profile_channel_find(&p, "UP", 2), 2);
	good(&p, "channel third", "aliases", "TH, 3");
	assert_int_equal(profile_channel_find(&p, "3", 1), 1);
	bad("programs", "channels", "one", "fewer than 2");
	bad("programs", "channels", "", "fewer than 2");
	bad("programs", "channels", "a b c d e", "more than 4");
	bad("programs", "channels", "a A", "named twice");
	bad("programs", "channels", "a b/c", "'b/c': allowed are");
}

static void waits(void **state)
{
	struct profile p;

	profile_defaults(&p);
	good(&p, "wait", "codes", "M300-M399, M410 m500-510");
	assert_int_equal(p.waits, 3);
	assert_false(profile_is_wait(&p, 200));
	assert_true(
	    profile_is_wait(&p, 300) && profile_is_wait(&p, 410) && profile_is_wait(&p, 510));
	assert_false(profile_is_wait(&p, 411));
	bad("wait", "codes", "", "M200-M299, M310");
	bad("wait", "codes", "200", "'200': allowed are M codes");
	bad("wait", "codes", "M200-", "'M200-': allowed");
	bad("wait", "codes", "M200x", "'M200x': allowed");
	bad("wait", "codes", "M299-M200", "backwards");
	bad("wait", "codes", "M123456789", "allowed");
	bad("wait", "codes", "M200-M250, M250", "overlaps");
	bad("wait", "codes", "M20-M40", "M30 stops, ends or calls");
	bad("wait", "codes", "M99", "M99");
	bad("wait", "codes",
	    "M200 M201 M202 M203 M204 M205 M206 M207 M208 M209 M210 M211 M212 M213 M214 M215 M216",
	    "more than 16");
	good(&p, "wait", "alone", "no");
	assert_false(p.wait_alone);
	bad("wait", "alone", "", "allowed are no and yes");
	good(&p, "wait", "skip", "separate");
	assert_true(p.skip_separate);
	good(&p, "wait", "skip", "common");
	assert_false(p.skip_separate);
	bad("wait", "skip", "both", "allowed are common and separate");
}

/* Who meets at a wait code, and a wait that is written as a call. */
static void partners(void **state)
{
	struct profile p;

	profile_defaults(&p);
	assert_int_equal(p.partners, PROFILE_PARTNERS_ALL);
	good(&p, "wait", "partners", "P digits");
	assert_int_equal(p.partners, PROFILE_PARTNERS_DIGITS);
	assert_int_equal(p.partners_letter, 'P');
	good(&p, "wait", "partners", "q  mask");
	assert_int_equal(p.partners, PROFILE_PARTNERS_MASK);
	assert_int_equal(p.partners_letter, 'Q');
	good(&p, "wait", "partners", "all");
	assert_int_equal(p.partners, PROFILE_PARTNERS_ALL);
	bad("wait", "partners", "", "allowed are all, or a letter");
	bad("wait", "partners", "P", "P digits (P13: channels 1 and 3)");
	bad("wait", "partners", "digits", "allowed are all");
	bad("wait", "partners", "Pdigits", "allowed are all");
	bad("wait", "partners", "P bits", "allowed are all");
	bad("wait", "partners", "M mask", "other than G M N O");
	bad("wait", "partners", "1 mask", "allowed are all");
}

static void calls(void **state)
{
	struct profile p;

	profile_defaults(&p);
	assert_string_equal(p.wait_call, "");
	good(&p, "wait", "call", "meet( {code} , {channels} )");
	assert_string_equal(p.wait_call, "MEET");
	assert_int_equal(p.wait_call_code, 0);
	good(&p, "wait", "call", "ABCDEFGHIJKLMNOP ({channels},{code})");
	assert_string_equal(p.wait_call, "ABCDEFGHIJKLMNOP");
	assert_int_equal(p.wait_call_code, 1);
	good(&p, "wait", "call", "MEET({code})");
	assert_int_equal(p.wait_call_code, 0);
	good(&p, "wait", "call", "");
	assert_string_equal(p.wait_call, "");
	bad("wait", "call", "MEET", "MEET({code},{channels})");
	bad("wait", "call", "MEET()", "MEET({code},{channels})");
	bad("wait", "call", "M({code})", "2 to 16 letters");
	bad("wait", "call", "ABCDEFGHIJKLMNOPQ({code})", "2 to 16 letters");
	bad("wait", "call", "MEET2({code})", "2 to 16 letters");
	bad("wait", "call", "MEET({channels})", "with the code");
	bad("wait", "call", "MEET({code},{code})", "with the code");
	bad("wait", "call", "MEET({code},{channels},{channels})", "with the code");
	bad("wait", "call", "MEET({code},2)", "with the code");
	bad("wait", "call", "MEET({code}", "in parentheses");
	bad("wait", "call", "MEET {code})", "in parentheses");
	bad("wait", "call", "(", "in parentheses");
	bad("wait", "call", "WHILE({code})", "none of conditions and loops");
}

static void misfit(struct profile *p, const char *expected)
{
	struct text why = {0};

	assert_false(profile_check(p, &why));
	assert_string_equal(why.s, expected);
	text_free(&why);
}

/* Signals come in pairs, and a code means one thing. */
static void signals(void **state)
{
	struct profile p;
	struct text why = {0};

	profile_defaults(&p);
	good(&p, "wait", "send", "M400-M409, M420");
	misfit(&p, "send has 11 codes and receive 0; each code of send signals the code at the "
	           "same place of receive");
	good(&p, "wait", "receive", "M500-M510");
	assert_true(profile_check(&p, &why));
	good(&p, "wait", "receive", "M404-M414");
	misfit(&p, "M400-M409 of send and receive in [wait] have codes in common; a code means one "
	           "thing");
	good(&p, "wait", "receive", "M290-M300");
	misfit(&p, "M290-M300 of receive and codes in [wait] have codes in common; a code means "
	           "one thing");
	good(&p, "wait", "codes", "none");
	assert_false(profile_is_wait(&p, 200));
	assert_true(profile_check(&p, &why));
	good(&p, "wait", "send", "");
	good(&p, "wait", "receive", "");
	misfit(&p, "codes = none, and neither call nor send and receive are set in [wait]: the "
	           "machine would have no way to wait");
	good(&p, "wait", "call", "MEET({code})");
	assert_true(profile_check(&p, &why));
	good(&p, "wait", "codes", "M420");
	good(&p, "wait", "send", "M420");
	good(&p, "wait", "receive", "M421");
	misfit(&p, "M420 of send and codes in [wait] have codes in common; a code means one thing");
	good(&p, "wait", "send", "M1000-M99999999");
	good(&p, "wait", "receive", "");
	misfit(&p, "send has 99999000 codes and receive 0; each code of send signals the code at "
	           "the same place of receive");
	bad("wait", "send", "M28-M31", "M30 stops, ends or calls");
	bad("wait", "receive", "M98", "M98 stops, ends or calls");
	bad("wait", "send", "M400 M400", "overlaps a range before it");
	bad("wait", "receive", "400", "'400': allowed are M codes");
	text_free(&why);
}

/* How the control computes; unknown by default, and to be had again. */
static void values(void **state)
{
	struct profile p;

	profile_defaults(&p);
	assert_int_equal(p.fix, PROFILE_FIX_UNKNOWN);
	assert_int_equal(p.logic, PROFILE_LOGIC_UNKNOWN);
	assert_int_equal(p.truth, PROFILE_TRUTH_UNKNOWN);
	assert_true(p.increment == 0.001);
	good(&p, "values", "fix", "zero");
	assert_int_equal(p.fix, PROFILE_FIX_ZERO);
	good(&p, "values", "fix", "down");
	assert_int_equal(p.fix, PROFILE_FIX_DOWN);
	good(&p, "values", "logic", "sum");
	assert_int_equal(p.logic, PROFILE_LOGIC_SUM);
	good(&p, "values", "logic", "product");
	assert_int_equal(p.logic, PROFILE_LOGIC_PRODUCT);
	good(&p, "values", "logic", "last");
	assert_int_equal(p.logic, PROFILE_LOGIC_LAST);
	good(&p, "values", "truth", "whole");
	assert_int_equal(p.truth, PROFILE_TRUTH_WHOLE);
	good(&p, "values", "truth", "bits");
	assert_int_equal(p.truth, PROFILE_TRUTH_BITS);
	good(&p, "values", "truth", "unknown");
	assert_int_equal(p.truth, PROFILE_TRUTH_UNKNOWN);
	good(&p, "values", "increment", "0.01");
	assert_true(p.increment == 0.01);
	good(&p, "values", "increment", "1");
	assert_true(p.increment == 1);
	bad("values", "fix", "up", "allowed are unknown, zero and down");
	bad("values", "fix", "", "allowed are unknown, zero and down");
	bad("values", "logic", "first", "allowed are unknown, sum, product and last");
	bad("values", "truth", "true", "allowed are unknown, whole and bits");
	bad("values", "increment", "0", "allowed are numbers from 0.0001 to 1");
	bad("values", "increment", "1.5", "allowed are numbers");
	bad("values", "increment", "-0.1", "allowed are numbers");
	bad("values", "increment", ".5", "allowed are numbers");
	bad("values", "increment", "0.", "allowed are numbers");
	bad("values", "increment", "1e-3", "allowed are numbers");
	bad("values", "increment", "0,001", "allowed are numbers");
	bad("values", "increment", "0.00000000000000000000001", "allowed are numbers");
}

static void separators(void **state)
{
	struct profile p;

	profile_defaults(&p);
	assert_string_equal(p.separator, "");
	good(&p, "programs", "separator", "$ {channel}");
	assert_string_equal(p.separator, "$ {channel}");
	good(&p, "programs", "separator", "");
	assert_string_equal(p.separator, "");
	good(&p, "programs", "separator",
	    "(23456789 123456789 123456789 123456789 123456789 12 {channel})");
	bad("programs", "separator",
	    "(23456789 123456789 123456789 123456789 123456789 123 {channel})", "longer than 63");
	bad("programs", "separator", "$", "allowed is text with {channel} behind it, once");
	bad("programs", "separator", "{channel}", "allowed is text with {channel}");
	bad("programs", "separator", "  {channel} $", "allowed is text with {channel}");
	bad("programs", "separator", "$ {channel} {channel}", "once");
	bad("programs", "separator", "$ {job} {channel}", "once");
	bad("programs", "separator", "$} {channel}", "once");
	bad("programs", "separator", "$\t{channel}", "control character");
}

/* The machine's own table of miscellaneous codes. */
static void codes(void **state)
{
	struct profile p;
	char key[8];

	profile_defaults(&p);
	assert_int_equal(p.codes, 0);
	good(&p, "codes", "M10", "clamping: chuck closed");
	good(&p, "codes", "m088", "high-pressure coolant on");
	assert_int_equal(p.codes, 2);
	assert_int_equal(p.code[0].code, 10);
	assert_string_equal(p.code[0].group, "clamping");
	assert_string_equal(p.code[0].text, "chuck closed");
	assert_int_equal(p.code[1].code, 88);
	assert_string_equal(p.code[1].group, "");
	assert_string_equal(p.code[1].text, "high-pressure coolant on");
	good(&p, "codes", "M010", "clamping :collet closed: 30 bar");
	assert_int_equal(p.codes, 2);
	assert_string_equal(p.code[0].group, "clamping");
	assert_string_equal(p.code[0].text, "collet closed: 30 bar");
	bad("codes", "M10", "", "allowed are GROUP: TEXT");
	bad("codes", "M10", "clamping:", "allowed are GROUP: TEXT");
	bad("codes", "M10", ": closed", "allowed are GROUP: TEXT");
	bad("codes", "M10", "sixteen-letters-: x", "the group up to 15 bytes");
	bad("codes", "M10", "123456789 123456789 123456789 123456789 12345678", "up to 47");
	bad("codes", "M10", "a\x1b[2J", "allowed are GROUP: TEXT");
	bad("codes", "M", "x", "the key is no M code");
	bad("codes", "10", "x", "the key is no M code");
	bad("codes", "M10-M12", "x", "the key is no M code");
	bad("codes", "M10 M11", "x", "the key is no M code");
	bad("codes", "coolant", "x", "the key is no M code");
	for (int i = 0; i < PROFILE_CODES_MAX - 2; i++) {
		snprintf(key, sizeof(key), "M%d", 100 + i);
		good(&p, "codes", key, "x");
	}
	good(&p, "codes", "M10", "clamping: still taken");
	struct text why = {0};
	assert_int_equal(profile_set(&p, "codes", "M99", "x", &why), PROFILE_BAD);
	assert_string_equal(why.s, "M99 = x: more than 64 codes");
	text_free(&why);
}

static void residents(void **state)
{
	struct profile p;

	profile_defaults(&p);
	assert_false(profile_is_resident(&p, 9000));
	good(&p, "programs", "resident", "O9000-O9099, o8010 O7000-7001");
	assert_true(profile_is_resident(&p, 9099) && profile_is_resident(&p, 8010) &&
	            profile_is_resident(&p, 7001));
	assert_false(profile_is_resident(&p, 9100));
	good(&p, "programs", "resident", "");
	assert_false(profile_is_resident(&p, 9000));
	bad("programs", "resident", "9000", "'9000': allowed are program numbers");
	bad("programs", "resident", "M9000", "'M9000': allowed are program numbers");
	bad("programs", "resident", "O9-O1", "backwards");
	bad("programs", "resident", "O1 O2 O3 O4 O5 O6 O7 O8 O9 O10 O11 O12 O13 O14 O15 O16 O17",
	    "more than 16");
}

static void limits(void **state)
{
	struct profile p;

	profile_defaults(&p);
	good(&p, "limits", "number_min", "0");
	good(&p, "limits", "number_max", "99999999");
	good(&p, "limits", "number_colon", "yes");
	good(&p, "limits", "end_m99", "yes");
	good(&p, "limits", "point", "no");
	good(&p, "limits", "lower_case", "yes");
	good(&p, "limits", "size_max", "512K");
	good(&p, "limits", "block_max", "80");
	good(&p, "limits", "sequence_max", "9999");
	good(&p, "limits", "call_depth", "8");
	good(&p, "limits", "run_max", "1000");
	assert_int_equal(p.number_min, 0);
	assert_int_equal(p.number_max, 99999999);
	assert_true(p.colon_number && p.end_m99 && !p.point_required && p.lower_case);
	assert_int_equal(p.size_max, 512 * 1024);
	assert_int_equal(p.block_max, 80);
	assert_int_equal(p.sequence_max, 9999);
	assert_int_equal(p.call_depth, 8);
	assert_int_equal(p.run_max, 1000);
	good(&p, "limits", "size_max", "1G");
	assert_int_equal(p.size_max, YOKE_PROGRAM_MAX);
}

static void limits_refused(void **state)
{
	bad("limits", "number_min", "-1", "whole numbers from 0 to 99999999");
	bad("limits", "number_max", "0", "whole numbers from 1 to 99999999");
	bad("limits", "number_max", "99999999999999999999999", "whole numbers");
	bad("limits", "number_colon", "1", "allowed are no and yes");
	bad("limits", "end_m99", "YES", "allowed are no and yes");
	bad("limits", "point", "on", "allowed are no and yes");
	bad("limits", "lower_case", "on", "allowed are no and yes");
	bad("limits", "size_max", "2G", "K, M or G");
	bad("limits", "size_max", "0", "K, M or G");
	bad("limits", "size_max", "12 K", "K, M or G");
	bad("limits", "size_max", "K", "K, M or G");
	bad("limits", "block_max", "65537", "from 1 to 65536");
	bad("limits", "block_max", "8.5", "from 1 to 65536");
	bad("limits", "sequence_max", "0", "from 1 to 99999999");
	bad("limits", "call_depth", "65", "from 1 to 64");
	bad("limits", "run_max", "", "from 1 to 10000000000");
}

static void limits_fit_each_other(void **state)
{
	struct profile p;
	struct text why = {0};

	profile_defaults(&p);
	good(&p, "limits", "number_min", "20000");
	assert_false(profile_check(&p, &why));
	assert_string_equal(why.s, "number_min (20000) is above number_max (9999)");
	text_free(&why);
	good(&p, "limits", "number_max", "29999");
	assert_true(profile_check(&p, &why));
}

static void weights(void **state)
{
	static const char *const word[] = {"off", "note", "warn", "refuse"};
	struct profile p;

	profile_defaults(&p);
	for (int id = 0; id < FINDING_COUNT; id++) {
		for (int w = WEIGHT_OFF; w <= WEIGHT_REFUSE; w++) {
			good(&p, "weights", finding_name((enum finding_id)id), word[w]);
			assert_int_equal(p.weight[id], w);
		}
		bad("weights", finding_name((enum finding_id)id), "error",
		    "off, note, warn and refuse");
	}
}

static void channel_keys(void **state)
{
	struct profile p;

	profile_defaults(&p);
	good(&p, "channel upper", "aliases", "MILL,M");
	assert_int_equal(profile_channel_find(&p, "mill", 4), 0);
	assert_int_equal(profile_channel_find(&p, "UP", 2), -1);
	assert_int_equal(profile_channel_find(&p, "UPPER", 5), 0);
	good(&p, "channel Lower", "forbid", "M06, t g43.40 G041 M00");
	assert_int_equal(p.channel[1].forbids, 5);
	assert_string_equal(p.channel[1].forbid[0], "M6");
	assert_string_equal(p.channel[1].forbid[1], "T");
	assert_string_equal(p.channel[1].forbid[2], "G43.4");
	assert_string_equal(p.channel[1].forbid[3], "G41");
	assert_string_equal(p.channel[1].forbid[4], "M0");
	good(&p, "channel lower", "forbid", "");
	assert_int_equal(p.channel[1].forbids, 0);
	bad("channel middle", "aliases", "X", "the channels are upper, lower");
	bad("channel upper", "aliases", "LO", "'LO' already stands for channel lower");
	bad("channel upper", "aliases", "lower", "already stands for channel lower");
	bad("channel upper", "aliases", "a b c d e f g h i", "more than 8");
	bad("channel upper", "aliases", "a*b", "'a*b': allowed are");
	bad("channel upper", "forbid", "6", "'6': allowed are letters and words");
	bad("channel upper", "forbid", "M6x", "'M6x': allowed");
	bad("channel upper", "forbid", "M6.", "'M6.': allowed");
	bad("channel upper", "forbid", "M1234567", "'M1234567': allowed");
	bad("channel upper", "forbid",
	    "A A A A A A A A A A A A A A A A A A A A A A A A A A A A A A A A A", "more than 32");
}

/* What estimates of time and the modal state need of a channel. */
static void channel_motion(void **state)
{
	struct profile p;

	profile_defaults(&p);
	assert_false(p.channel[0].diameter);
	assert_true(p.channel[1].diameter);
	assert_int_equal(p.channel[0].offset_digits, 0);
	assert_int_equal(p.channel[1].offset_digits, 2);
	good(&p, "channel upper", "diameter", "yes");
	good(&p, "channel upper", "offset_digits", "2");
	good(&p, "channel upper", "rapid", "36000");
	good(&p, "channel upper", "rapid_turn", "18000.5");
	good(&p, "channel upper", "tool_change", "0");
	good(&p, "channel upper", "speed_max", "12000");
	assert_true(p.channel[0].diameter);
	assert_int_equal(p.channel[0].offset_digits, 2);
	assert_true(p.channel[0].rapid == 36000 && p.channel[0].rapid_turn == 18000.5);
	assert_true(p.channel[0].tool_change == 0 && p.channel[0].speed_max == 12000);
	assert_true(p.channel[1].rapid == 20000 && p.channel[1].speed_max == 6000);
	bad("channel upper", "diameter", "2", "allowed are no and yes");
	bad("channel upper", "offset_digits", "5", "from 0 to 4");
	bad("channel upper", "rapid", "0", "allowed are numbers from 1 to 1000000");
	bad("channel upper", "rapid_turn", "fast", "allowed are numbers from 1 to 10000000");
	bad("channel upper", "tool_change", "3601", "allowed are numbers from 0 to 3600");
	bad("channel upper", "speed_max", "0.5", "allowed are numbers from 1 to 1000000");
	bad("channel middle", "rapid", "1", "the channels are upper, lower");
	/* A channel keeps what is set for it when the channels are named anew. */
	good(&p, "programs", "channels", "lower, upper, third");
	assert_true(p.channel[1].rapid == 36000 && p.channel[0].diameter && p.channel[2].diameter);
}

static void others_are_left_to_the_caller(void **state)
{
	struct profile p;
	struct text why = {0};

	profile_defaults(&p);
	assert_int_equal(profile_set(&p, "line", "baud", "9600", &why), PROFILE_UNKNOWN);
	assert_int_equal(profile_set(&p, "programs", "nams", "x", &why), PROFILE_UNKNOWN);
	assert_int_equal(profile_set(&p, "weights", "wait-mising", "off", &why), PROFILE_UNKNOWN);
	assert_int_equal(profile_set(&p, "channel upper", "colour", "x", &why), PROFILE_UNKNOWN);
	assert_int_equal(profile_set(&p, "", "", "", &why), PROFILE_UNKNOWN);
	assert_int_equal(why.n, 0);
}

/* A value from a file may hold anything: it is shown so that it cannot drive a terminal, and not at
 * full length. */
static void hostile_values_are_shown_tamed(void **state)
{
	char longest[5000];
	struct profile p;
	struct text why = {0};

	memset(longest, 'x', sizeof(longest) - 1);
	longest[sizeof(longest) - 1] = '\0';
	bad("wait", "alone", "\x1b[2J", "<1B>[2J");
	profile_defaults(&p);
	assert_int_equal(profile_set(&p, "wait", "alone", longest, &why), PROFILE_BAD);
	assert_true(why.n < 200);
	text_free(&why);
	bad("programs", "channels", longest, "allowed are up to 64");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(defaults),
	    cmocka_unit_test(programs),
	    cmocka_unit_test(channels),
	    cmocka_unit_test(waits),
	    cmocka_unit_test(partners),
	    cmocka_unit_test(calls),
	    cmocka_unit_test(signals),
	    cmocka_unit_test(values),
	    cmocka_unit_test(separators),
	    cmocka_unit_test(codes),
	    cmocka_unit_test(residents),
	    cmocka_unit_test(limits),
	    cmocka_unit_test(limits_refused),
	    cmocka_unit_test(limits_fit_each_other),
	    cmocka_unit_test(weights),
	    cmocka_unit_test(channel_keys),
	    cmocka_unit_test(channel_motion),
	    cmocka_unit_test(others_are_left_to_the_caller),
	    cmocka_unit_test(hostile_values_are_shown_tamed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
