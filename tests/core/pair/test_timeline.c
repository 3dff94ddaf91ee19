/*
 * Goal: the timeline of a pair says when each channel works and waits, what makes the cycle long,
 * and what it leaves out. The times are dwells and plain moves whose sums stand beside them; the
 * rules are common practice of networks of activities (a meeting comes with the last of those who
 * meet).
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include "pair_help.h"
#include "yoke/timeline.h"

static void near(double got, double want)
{
	if (!(fabs(got - want) < 1e-6))
		fail_msg("%.9g instead of %.9g", got, want);
}

/* The part of a channel that ends at rung number last. */
static const struct timeline_part *part(const struct timeline *t, int channel, uint64_t last)
{
	for (size_t i = 0; i < t->parts; i++)
		if (t->part[i].channel == channel && t->part[i].last == last)
			return &t->part[i];
	fail_msg("channel %d has no part that ends at rung %u", channel, (unsigned)last);
	return NULL;
}

static void part_is(const struct timeline *t, int channel, uint64_t last, double starts,
    double works, double waits, double saves)
{
	const struct timeline_part *p = part(t, channel, last);

	near(p->start_seconds, starts);
	near(p->seconds, works);
	near(p->wait_seconds, waits);
	near(p->gain_seconds, saves);
}

/* 100 mm/s rapid, 3 s for a tool. */
static void profile(struct profile *p)
{
	pair_help_profile(p);
	for (uint32_t c = 0; c < YOKE_CHANNELS_MAX; c++) {
		p->channel[c].rapid = 6000;
		p->channel[c].rapid_turn = 3600;
		p->channel[c].tool_change = 3;
		p->channel[c].speed_max = 5000;
	}
}

static struct timeline *timed(struct checked *c, const char *const *text, size_t n)
{
	struct source s[YOKE_CHANNELS_MAX];
	static const char *const name[] = {"J4417.UP", "J4417.LO", "J4417.c3", "J4417.c4"};
	struct timeline *t;

	for (size_t i = 0; i < n; i++)
		s[i] = (struct source){name[i], text[i], 0};
	pair_help_check(c, s, n);
	for (size_t i = 0; i < n; i++)
		program_lend(c->program[i], text[i], strlen(text[i]));
	t = timeline_new(c->report);
	assert_non_null(t);
	return t;
}

static struct timeline *two(struct checked *c, const char *upper, const char *lower)
{
	const char *text[] = {upper, lower};

	profile(&c->profile);
	return timed(c, text, 2);
}

static void done(struct checked *c, struct timeline *t)
{
	timeline_free(t);
	pair_help_free(c);
}

static char *printed(const struct timeline *t, unsigned width)
{
	struct text out = {0};
	char *s;

	timeline_print(t, width, &out);
	s = text_take(&out);
	assert_non_null(s);
	return s;
}

/*
 * upper 10, 5, 1 s; lower 4, 20, 2 s. M201 at max(10, 4) = 10; M202 at max(10 + 5, 10 + 20) = 30;
 * ends at 31 and 32. Without the 10 s: M201 at 4, M202 at 24, 26: saves 6. Without the 20 s: M202
 * at 15, 17: saves 15. Without the last 2 s: 31: saves 1.
 */
static void test_by_hand(void **state)
{
	struct checked c;
	struct timeline *t =
	    two(&c, "%\nO4417 (REV A)\nG4 X10.\nM201\nG4 X5.\nM202\nG4 X1.\nM30\n%\n",
	        "%\nO4417 (REV A)\nG4 X4.\nM201\nG4 X20.\nM202\nG4 X2.\nM30\n%\n");

	assert_int_equal(t->end, TIMELINE_WHOLE);
	near(t->cycle_seconds, 32);
	assert_int_equal(t->rungs_run, 3);
	assert_int_equal(t->rung[0].code, 201);
	assert_int_equal(t->rung[0].goes, 3);
	near(t->rung[0].at_seconds, 10);
	near(t->rung[1].at_seconds, 30);
	part_is(t, 0, 0, 0, 10, 0, 6);
	part_is(t, 1, 0, 0, 4, 6, 0);
	part_is(t, 0, 1, 10, 5, 15, 0);
	part_is(t, 1, 1, 10, 20, 0, 15);
	part_is(t, 0, 2, 30, 1, 1, 0);
	part_is(t, 1, 2, 30, 2, 0, 1);
	assert_true(t->critical_known);
	assert_true(part(t, 0, 0)->critical && part(t, 1, 1)->critical);
	assert_false(part(t, 1, 0)->critical);
	assert_true(part(t, 0, 0)->from_start && !part(t, 0, 1)->from_start);
	assert_true(part(t, 0, 2)->to_end && !part(t, 0, 1)->to_end);
	near(t->channel[0].work_seconds, 16);
	near(t->channel[0].wait_seconds, 16);
	near(t->channel[0].end_seconds, 31);
	near(t->channel[1].work.dwell_seconds, 26);
	done(&c, t);
}

/*
 * Lower: tool change 3 s; rapid from diameter 100 to 50, 25 mm at 100 mm/s = 0.25 s; 60 mm at 0.2
 * mm and 300 1/min = 60 mm/min: 60 s. Upper: 120 mm at 120 mm/min = 60 s, and M00.
 */
static void test_what_parts_hold(void **state)
{
	struct checked c;
	struct timeline *t = two(&c,
	    "%\nO4417 (REV A)\nG90 G94 G21 G17\nT5 M6\nG0 X0. Y0.\n(SLOT)\nS900 M3\nG1 X120. F120\n"
	    "M00\nM201\nM30\n%\n",
	    "%\nO4417 (REV A)\nG99 G21 G18\nT0101\nG0 X100. Z0.\nG97 S300 M4\nX50.\n(TURN)\n"
	    "G1 Z-60. F.2\n(NOT THIS)\nM201\nT0303\nG28 U0. W0.\nM30\n%\n");
	const struct timeline_part *p = part(t, 1, 0);

	near(p->work.feed_seconds, 60);
	near(p->work.rapid_seconds, 0.25);
	near(p->work.tool_seconds, 3);
	assert_int_equal(p->work.left[TIMELINE_LEFT_PLACE], 1);
	assert_int_equal(p->tools, 1);
	assert_int_equal(p->tool[0], 1);
	assert_string_equal(p->comment, "TURN");
	assert_string_equal(p->spindle, "300 1/min");
	assert_int_equal(p->last_line, 11);
	p = part(t, 0, 0);
	near(p->work.feed_seconds, 60);
	assert_int_equal(p->work.left[TIMELINE_LEFT_STOP], 1);
	assert_string_equal(p->comment, "SLOT");
	assert_int_equal(p->tool[0], 5);
	p = part(t, 1, 1);
	near(p->seconds, 3);
	assert_int_equal(p->first_line, 12);
	assert_int_equal(p->work.left[TIMELINE_LEFT_REFERENCE], 1);
	done(&c, t);
}

/* A subprogram that runs three times, and a loop of two: 3 x 2 s + 2 x 1 s. */
static void test_followed(void **state)
{
	struct checked c;
	struct timeline *t = two(&c,
	    "%\nO4417 (REV A)\nM98 P10 L3\n#1=0\nWHILE [#1 LT 2] DO1\nG4 X1.\n#1=#1+1\nEND1\nM201\n"
	    "M30\nO10\nG4 P2000\nM99\n%\n",
	    "%\nO4417 (REV A)\nM201\nM30\n%\n");

	assert_int_equal(t->end, TIMELINE_WHOLE);
	part_is(t, 0, 0, 0, 8, 0, 8);
	part_is(t, 1, 0, 0, 0, 8, 0);
	done(&c, t);
}

/* A computed dwell is timed where its value is known, and counted where it is not. */
static void test_computed(void **state)
{
	struct checked c;
	struct timeline *t =
	    two(&c, "%\nO4417 (REV A)\n#1=2.5\nG4 X[#1*2]\nG4 X#500\nM201\nM30\n%\n",
	        "%\nO4417 (REV A)\nM201\nM30\n%\n");

	part_is(t, 0, 0, 0, 5, 0, 5);
	assert_int_equal(part(t, 0, 0)->work.left[TIMELINE_LEFT_DWELL], 1);
	done(&c, t);
}

/* Of 1000 meetings the middle is summed: 1000 x (1 + max(2, 3)) s; lower waits 1000 x 1 s. */
static void test_long(void **state)
{
	struct checked c;
	struct timeline *t = two(&c,
	    "%\nO4417 (REV A)\n#1=0\nWHILE [#1 LT 1000] DO1\nG4 X4.\nM201\n#1=#1+1\nEND1\nM30\n%\n",
	    "%\nO4417 (REV A)\n#1=0\nWHILE [#1 LT 1000] DO1\nG4 "
	    "X3.\nM201\n#1=#1+1\nEND1\nM30\n%\n");
	double sum = 0;
	char *s;

	assert_int_equal(t->end, TIMELINE_WHOLE);
	near(t->cycle_seconds, 4000);
	assert_int_equal(t->rungs_run, 1001);
	assert_true(t->rungs < 1001);
	near(t->channel[1].wait_seconds, 1000);
	for (size_t i = 0; i < t->parts; i++)
		if (t->part[i].channel == 0)
			sum += t->part[i].seconds;
	near(sum + t->between[0].dwell_seconds, 4000);
	s = printed(t, 80);
	assert_non_null(strstr(s, "rungs are not shown one by one"));
	free(s);
	done(&c, t);
}

/* Three channels, of which two meet: 1 and 3 at M210 at max(5, 2) = 5, all at M220 at max(5 + 1, 9,
 * 5
 * + 3) = 9. */
static void test_partners(void **state)
{
	static const char *const text[] = {
	    "%\nO4417 (REV A)\nG4 X5.\nM210 P13\nG4 X1.\nM220 P123\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 X9.\nM220 P123\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 X2.\nM210 P13\nG4 X3.\nM220 P123\nM30\n%\n"};
	struct checked c;
	struct timeline *t;

	profile(&c.profile);
	pair_help_set(&c.profile, "programs", "channels", "upper, lower, c3");
	c.profile.partners = PROFILE_PARTNERS_DIGITS;
	t = timed(&c, text, 3);
	assert_int_equal(t->end, TIMELINE_WHOLE);
	assert_int_equal(t->rung[0].goes, 5);
	near(t->rung[0].at_seconds, 5);
	near(t->rung[0].wait_seconds[1], 0);
	near(t->rung[0].wait_seconds[2], 3);
	near(t->rung[1].at_seconds, 9);
	part_is(t, 1, 1, 0, 9, 0, 1); /* without it: 8 */
	done(&c, t);
}

/* A signal does not wait: upper sends at 2 s and goes on to 12 s; lower, there at 1 s, goes on at 2
 * s and ends at 5 s. */
static void test_signals(void **state)
{
	static const char *const text[] = {"%\nO4417 (REV A)\nG4 X2.\nM301\nG4 X10.\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 X1.\nM401\nG4 X3.\nM30\n%\n"};
	struct checked c;
	struct timeline *t;

	profile(&c.profile);
	c.profile.send[c.profile.sends++] = (struct profile_range){301, 309};
	c.profile.receive[c.profile.receives++] = (struct profile_range){401, 409};
	t = timed(&c, text, 2);
	assert_int_equal(t->end, TIMELINE_WHOLE);
	near(t->cycle_seconds, 12);
	near(t->channel[0].wait_seconds, 0);
	near(t->channel[1].wait_seconds, 1 + 7);
	near(t->channel[1].end_seconds, 5);
	done(&c, t);
}

/* Where the run fails there is no cycle: times are those up to there. */
static void test_stuck(void **state)
{
	struct checked c;
	struct timeline *t = two(&c, "%\nO4417 (REV A)\nG4 X3.\nM201\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 X2.\nM202\nM30\n%\n");
	char *s = printed(t, 80);

	assert_int_equal(t->end, TIMELINE_STUCK);
	assert_false(t->critical_known);
	near(t->channel[0].work_seconds, 3);
	assert_non_null(strstr(s, "No cycle"));
	assert_non_null(strstr(s, "for ever"));
	free(s);
	done(&c, t);
}

/* Without the text, without a mate, or when it cannot be followed: lost, with the reason. */
static void test_lost(void **state)
{
	static const char *const upper = "%\nO4417 (REV A)\nM201\nM30\n%\n";
	const struct source s[] = {{"J4417.UP", upper, 0}, {"J4417.LO", upper, 0}};
	struct checked c;
	struct timeline *t;

	profile(&c.profile);
	pair_help_check(&c, s, 2);
	t = timeline_new(c.report);
	assert_non_null(t);
	assert_int_equal(t->end, TIMELINE_LOST);
	assert_non_null(strstr(t->why, "text"));
	done(&c, t);
	profile(&c.profile);
	t = timed(&c, &upper, 1);
	assert_int_equal(t->end, TIMELINE_LOST);
	assert_non_null(strstr(t->why, "mate"));
	done(&c, t);
	t = two(&c, "%\nO4417 (REV A)\nM98 P8888\nM201\nM30\n%\n", upper);
	assert_int_equal(t->end, TIMELINE_LOST);
	assert_non_null(t->why);
	done(&c, t);
}

/* The print fits its columns, calls itself an estimate, and says what it leaves out. */
static void test_print(void **state)
{
	struct checked c;
	struct timeline *t = two(&c,
	    "%\nO4417 (REV A)\n(A COMMENT\tWITH A TAB AND MANY MORE WORDS THAN FIT INTO ONE LINE)\n"
	    "G4 X10.\nM201\nG28 X0.\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 X4.\nM201\nG76 P1 Q2\nG83 Z-5. R1. Q.2 F.1\nM30\n%\n");

	for (unsigned width = 60; width <= 100; width += 20) {
		char *s = printed(t, width);

		for (const char *line = s; *line; line = strchr(line, '\n') + 1)
			assert_true(strcspn(line, "\n") <= width);
		assert_non_null(strstr(s, "stimate"));
		assert_non_null(strstr(s, "left out: 2 x cycles"));
		assert_non_null(strstr(s, "acceleration"));
		assert_non_null(strstr(s, "Estimated cycle: 10.0 s"));
		assert_null(strchr(s, '\t'));
		assert_null(strstr(s, "safe"));
		free(s);
	}
	done(&c, t);
}

/*
 * The story: a program without G90 had 'works at least 0.0 s' beside every part, for moves 'to a
 * place that is not known', and its header stood where the operation should.
 */
static void test_says_why(void **state)
{
	struct checked c;
	struct timeline *t = two(&c, "%\nO4417 (REV A)\nG94 G21\nG0 X0. Y0.\nG1 X5. F10.\nM30\n%\n",
	    "%\nO4417 (REV A)\nM30\n%\n");
	const struct timeline_part *p = part(t, 0, 0);
	char *s = printed(t, 100);

	assert_int_equal(p->work.left[TIMELINE_LEFT_DISTANCE], 2);
	assert_int_equal(p->work.left[TIMELINE_LEFT_PLACE], 0);
	assert_non_null(strstr(s, "2 x moves with neither G90 nor G91 programmed before"));
	assert_string_equal(p->comment, "");
	free(s);
	done(&c, t);
}

/*
 * The story: what sets the length of the cycle was computed, and the ladder did not tell it; the
 * picture's note ran over its edge, and held neither the cycle nor what was left out.
 */
static void test_ladder_tells(void **state)
{
	struct checked c;
	struct timeline *t = two(&c,
	    "%\nO4417 (REV A)\nG28 "
	    "X0.\n(\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96"
	    "\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3"
	    "\x96\xc3\x96"
	    "\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96\xc3\x96)\nG4 X10.\nM201\nM30\n%\n",
	    "%\nO4417 (REV A)\n(<&>)\nG4 X4.\nM201\nG4 X20.\nM30\n%\n");
	struct text out = {0};
	struct text picture = {0};

	ladder_draw(c.report, t, &(struct ladder_style){.width = 400, .ascii = true}, &out);
	ladder_svg(c.report, t, &picture);
	assert_false(out.failed || picture.failed);
	assert_non_null(strstr(out.s, "critical, saves 6.0 s"));
	assert_non_null(strstr(out.s, "critical, saves 20 s"));
	assert_non_null(
	    strstr(out.s, "the cycle takes 30 s, upper waits 20 s of it, lower waits 6.0 s"));
	assert_non_null(strstr(out.s, "Not in the times of upper: 1 x moves to places"));
	assert_non_null(strstr(out.s, "acceleration, overrides, spindles that run up"));
	assert_non_null(strstr(picture.s, "critical, saves 6.0 s"));
	assert_non_null(strstr(picture.s, "the cycle takes 30 s"));
	assert_non_null(strstr(picture.s, "Not in the times of upper"));
	assert_non_null(strstr(picture.s, "&lt;&amp;&gt;"));
	for (const char *s = strstr(picture.s, "<text"); s; s = strstr(s + 1, "<text")) {
		const char *from = strchr(s, '>') + 1;
		size_t n = strcspn(from, "<"), cells = 0;

		for (size_t i = 0; i < n; i++) {
			cells += ((unsigned char)from[i] & 0xc0) != 0x80;
			if (from[i] == '&') /* one letter */
				i += strcspn(from + i, ";");
		}
		assert_true(cells <= 90);      /* 560 less margins, six to a letter */
		for (size_t i = 0; i < n; i++) /* an O with dots is two bytes, never one */
			if ((unsigned char)from[i] == 0xc3)
				assert_int_equal((unsigned char)from[i + 1], 0x96);
	}
	text_free(&picture);
	text_free(&out);
	done(&c, t);
}

/* The story: the ladder gave the times of one run of several, and did not say so. */
static void test_ladder_of_branches(void **state)
{
	struct checked c;
	struct timeline *t =
	    two(&c, "%\nO4417 (REV A)\nIF [#500 EQ 1] GOTO 9\nG4 X5.\nN9 M201\nM30\n%\n",
	        "%\nO4417 (REV A)\nM201\nM30\n%\n");
	struct text out = {0};

	ladder_draw(c.report, t, &(struct ladder_style){.width = 300}, &out);
	assert_true(t->branches);
	assert_non_null(strstr(out.s, "one run of several"));
	text_free(&out);
	done(&c, t);
}

/* The story: of four channels side by side each 'works at lea..', and the time was cut off. */
static void test_ladder_of_four(void **state)
{
	static const char text[] = "%\nO4417 (REV A)\nG28 X0.\nG4 X16.\nM201\nM30\n%\n";
	const char *texts[] = {text, text, text, text};
	struct checked c;
	struct text out = {0};
	struct timeline *t;

	profile(&c.profile);
	pair_help_set(&c.profile, "programs", "channels", "a, b, c, d");
	t = timed(&c, texts, 4);
	for (unsigned width = 60; width <= 160; width += 10) {
		size_t seen = 0;

		ladder_draw(c.report, t, &(struct ladder_style){.width = width}, &out);
		for (const char *s = out.s; (s = strstr(s, "16 s")); s++)
			seen++;
		assert_true(seen >= 5); /* four channels and the cycle */
		text_free(&out);
	}
	done(&c, t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_by_hand),
	    cmocka_unit_test(test_what_parts_hold),
	    cmocka_unit_test(test_followed),
	    cmocka_unit_test(test_computed),
	    cmocka_unit_test(test_says_why),
	    cmocka_unit_test(test_ladder_tells),
	    cmocka_unit_test(test_ladder_of_branches),
	    cmocka_unit_test(test_ladder_of_four),
	    cmocka_unit_test(test_long),
	    cmocka_unit_test(test_partners),
	    cmocka_unit_test(test_signals),
	    cmocka_unit_test(test_stuck),
	    cmocka_unit_test(test_lost),
	    cmocka_unit_test(test_print),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
