/*
 * Goal: whichever allocation of a flow or of a proof fails, it says so and gives everything back;
 * what it says otherwise is the whole.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"
#include "scarce.h"

/* Pairs that take every way through the proof: branches, wide loops, repairs, rounds, starving. */
static const char *const pairs[][3] = {
    {"M201\nM202\nM30\n", "M201\nM203\nM30\n", "M201\nM202\nM30\n"},
    {"M201\nIF [#500 EQ 1] GOTO 10\nM202\nN10 M203\nM30\n", "M201\nM202\nM203\nM30\n",
        "M201\nM202\nM203\nM30\n"},
    {"#1=0\nN10 M201\n#1=#1+1\nIF [#1 LT #500] GOTO 10\nM202\nM30\n",
        "#1=0\nN10 M201\n#1=#1+1\nIF [#1 LT #500] GOTO 10\nM202\nM30\n",
        "#1=0\nN10 M201\n#1=#1+1\nIF [#1 LT #500] GOTO 10\nM202\nM30\n"},
    {"O1\nM98 P2 L3\nM30\nO2\nM201\nM99\n", "O1\nM98 P2 L4\nM30\nO2\nM201\nM99\n",
        "O1\nM98 P2 L4\nM30\nO2\nM201\nM99\n"},
    {"N10 M201 P12\nIF [#500 EQ 1] GOTO 10\nGOTO 10\n", "N10 M201 P12\nGOTO 10\n",
        "M202 P13\nM30\n"},
    {"#1=0\nN10 #2=#1\nIF [#2 EQ 0] GOTO 10\nM201\nM30\n", "M201\nM30\n", "M201\nM30\n"},
    {"M201\nM202\nM201\nM99\n", "M201\nM202\nM99\n", "M201\nM202\nM99\n"},
};

static void begin(struct channels *c, const char *const *text)
{
	channels_begin(c);
	c->profile.channels = 3;
	c->profile.end_m99 = true;
	c->profile.partners = PROFILE_PARTNERS_DIGITS;
	c->profile.partners_letter = 'P';
	for (int i = 0; i < 3; i++)
		channels_add(c, text[i]);
}

static void each_allocation_may_fail(void **state)
{
	static const int number[] = {0, 1, 2};

	for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
		struct channels c;
		char whole[4096];
		enum verdict verdict;
		enum finding_id repair;
		int rc = -1;

		begin(&c, pairs[i]);
		channels_prove(&c);
		strncpy(whole, channels_rungs(&c), sizeof whole - 1);
		whole[sizeof whole - 1] = '\0';
		verdict = c.result.verdict;
		repair = c.result.repair;
		for (long n = 0; rc != 0; n++) {
			wait_result_free(&c.result);
			scarce_after(n, true);
			rc = wait_prove(&c.profile, c.flow, number, 3, &c.result);
			assert_int_equal(rc, scarce_struck() ? -1 : 0);
			scarce_after(-1, false);
			assert_true(n < 10000);
		}
		assert_int_equal(c.result.verdict, verdict);
		assert_int_equal(c.result.repair, repair);
		assert_string_equal(channels_rungs(&c), whole);
		channels_end(&c);
	}
}

static int take(void *ctx, const struct nc_block *b)
{
	return wait_flow_block(ctx, b);
}

/* 0, -1 without memory. */
static int read_text(struct wait_flow *f, const char *text)
{
	struct nc_reader *r = nc_reader_new(take, f);
	struct nc_shape shape;
	int rc;

	if (!r)
		return -1;
	rc = nc_reader_feed(r, text, strlen(text));
	if (!rc)
		rc = nc_reader_finish(r, &shape);
	nc_reader_free(r);
	return rc;
}

/* A program and a sister. */
static int flows(const struct profile *profile, const char *const *text, struct findings *list)
{
	struct wait_flow *s = wait_flow_new(profile), *f = wait_flow_new(profile);
	int rc = -1;

	if (!s || !f || read_text(s, text[1]) || wait_flow_finish(s, list, "library", -1, true))
		goto out;
	if (wait_flow_sister(f, s) || read_text(f, text[0]))
		goto out;
	rc = wait_flow_finish(f, list, "job.up", 0, false);
out:
	wait_flow_free(f);
	wait_flow_free(s);
	return rc;
}

/* Programs that take every way through the building of flows. */
static void flows_too(void **state)
{
	static const char *const texts[][2] = {
	    {"O1\n#1=0 #2=#1\nN10 IF [#1 EQ 3] THEN M201\nWHILE [#1 LT 3] DO1\n#1=#1+1\nEND1\nM98 "
	     "P20 L2\nG65 P3 A1. B2.\nIF [#1 EQ 2] GOTO 10\nGOTO 99\nM30\nM202\nO3\nM99 P10\nO4\n"
	     "M201\nM99\n",
	        "O20\nM201\nM98 P40\nN5 M99\nO<HELP>\nM98 <HELP>\nM99\n"},
	    {"O1\nX1.\nG66 P2\nX1.\nIF [#1 EQ 1] GOTO 5\nM98 P1\nN5 X1.\nG67\nM99\nO2\nM201\nDO1\n",
	        "O20\nG71 P1 Q2\nM#1\nM99\n"},
	};

	for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
		struct channels c;
		struct findings whole = {0};
		int rc = -1;

		channels_begin(&c);
		assert_int_equal(flows(&c.profile, texts[i], &whole), 0);
		assert_true(whole.n > 0);
		for (long n = 0; rc != 0; n++) {
			struct findings list = {0};

			scarce_after(n, true);
			rc = flows(&c.profile, texts[i], &list);
			assert_int_equal(rc, scarce_struck() ? -1 : 0);
			scarce_after(-1, false);
			assert_true(n < 10000);
			if (rc == 0)
				assert_int_equal(list.n, whole.n);
			findings_free(&list);
		}
		findings_free(&whole);
		channels_end(&c);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_allocation_may_fail),
	    cmocka_unit_test(flows_too),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
