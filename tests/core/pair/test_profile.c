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
	    cmocka_unit_test(residents),
	    cmocka_unit_test(limits),
	    cmocka_unit_test(limits_refused),
	    cmocka_unit_test(limits_fit_each_other),
	    cmocka_unit_test(weights),
	    cmocka_unit_test(channel_keys),
	    cmocka_unit_test(others_are_left_to_the_caller),
	    cmocka_unit_test(hostile_values_are_shown_tamed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
