/*
 * Goal: restart places match: the same meetings lie behind all channels, and what must be in force
 * before each block is what its program set up to there, written out by hand. Modal groups are
 * those of NISTIR 6556, table 4. That wait codes are ignored while a control searches for a block
 * is from a published manual of a dual-process lathe control (chapter 30).
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include "pair_help.h"
#include "yoke/restart.h"

struct found {
	struct checked c;
	struct restart *r;
};

/* n texts, one for each channel; c.profile was set. */
static void make(struct found *f, const char *const *text, size_t n, const struct restart_ask *asks,
    size_t asked)
{
	static const char *const name[] = {"J4417.UP", "J4417.LO", "J4417.c3", "J4417.c4"};
	struct source s[YOKE_CHANNELS_MAX];

	for (size_t i = 0; i < n; i++)
		s[i] = (struct source){name[i], text[i], 0};
	pair_help_check(&f->c, s, n);
	for (size_t i = 0; i < n; i++)
		program_lend(f->c.program[i], text[i], strlen(text[i]));
	f->r = restart_new(f->c.report, asks, asked);
	assert_non_null(f->r);
}

static void two(struct found *f, const char *upper, const char *lower,
    const struct restart_ask *asks, size_t asked)
{
	const char *text[] = {upper, lower};

	pair_help_profile(&f->c.profile);
	make(f, text, 2, asks, asked);
}

static void done(struct found *f)
{
	restart_free(f->r);
	pair_help_free(&f->c);
}

/* The place of a channel at a line; NULL without. */
static const struct restart_place *place(const struct restart *r, int channel, uint64_t line)
{
	for (size_t i = 0; i < r->places; i++)
		if (r->place[i].channel == channel && r->place[i].at.line == line)
			return &r->place[i];
	return NULL;
}

static void word_is(const struct restart_word *w, double want)
{
	assert_true(w->programmed && w->known);
	assert_true(fabs(w->v - want) < 1e-9);
}

static const char upper[] = "%\nO4417 (REV A)\n"
                            "N10 G21 G17 G40 G90 G94 G54\n" /* line 3 */
                            "N20 T5\nN30 M6\n"
                            "N40 G0 X30. Y0. S1200 M3\nG43 Z10. H5 M8\nG1 Z-1. F300\n"
                            "M201\n"
                            "(SIDE)\nN50 G0 Z50. M9\nG91 G55\nT7\nN60 M6\nG41 D7 X1.\nM202\n"
                            "X2.\nG40 X0.\nN70 G1 X3. F50\n"
                            "M203\nM30\n%\n";
static const char lower[] = "%\nO4417 (REV A)\n"
                            "T0101\nG99 G18 G50 S2500\nG96 S180 M4\nG0 X60. Z2.\n" /* line 6 */
                            "M201\n"
                            "G1 Z-30. F.2\nN40 T0303\nG97 S600\n"
                            "M202\n"
                            "G0 X70.\n"
                            "M203\nM30\n%\n";

/* Every place and its state, written out by hand. */
static void test_by_hand(void **state)
{
	const struct restart_place *p;
	struct found f;

	two(&f, upper, lower, NULL, 0);
	assert_int_equal(f.r->end, RESTART_WHOLE);
	assert_int_equal(f.r->segments, 4);
	assert_string_equal(f.r->segment[0].behind, "");
	assert_string_equal(f.r->segment[2].behind, "M202");
	assert_int_equal(f.r->places, 9);

	p = place(f.r, 0, 3);
	assert_int_equal(p->kind, RESTART_START);
	assert_int_equal(p->state.plane, -1);
	assert_false(p->state.tool.programmed);
	p = place(f.r, 0, 5);
	assert_int_equal(p->kind, RESTART_TOOL);
	word_is(&p->state.tool_next, 5);
	p = place(f.r, 0, 11);
	assert_int_equal(p->kind, RESTART_RUNG);
	assert_string_equal(p->behind, "M201");
	assert_int_equal(p->first, 1);
	assert_int_equal(p->at.sequence, 50);
	word_is(&p->state.tool, 5);
	word_is(&p->state.h, 5);
	word_is(&p->state.feed, 300);
	word_is(&p->state.speed, 1200);
	assert_int_equal(p->state.length_offset, 430);
	assert_int_equal(p->state.work_offset, 540);
	assert_int_equal(p->state.plane, 170);
	assert_int_equal(p->state.units, 210);
	assert_int_equal(p->state.distance, 900);
	assert_int_equal(p->state.feed_mode, 940);
	assert_int_equal(p->state.compensation, 400);
	assert_int_equal(p->state.motion, 10);
	assert_int_equal(p->state.spindle, 3);
	assert_int_equal(p->state.flood, 1);
	assert_true(p->state.axis[2].known && fabs(p->state.axis[2].v + 1) < 1e-9);
	p = place(f.r, 0, 14);
	assert_int_equal(p->kind, RESTART_TOOL);
	assert_int_equal(p->state.distance, 910);
	assert_int_equal(p->state.work_offset, 550);
	assert_int_equal(p->state.flood, 0);
	p = place(f.r, 0, 19); /* not under G41, nor the block that cancels it */
	assert_int_equal(p->kind, RESTART_RUNG);
	assert_int_equal(p->first, 2);
	assert_null(place(f.r, 0, 17));
	assert_null(place(f.r, 0, 18));

	p = place(f.r, 1, 8);
	word_is(&p->state.tool, 1);
	word_is(&p->state.offset, 1);
	word_is(&p->state.clamp, 2500);
	assert_int_equal(p->state.speed_mode, 960);
	assert_int_equal(p->state.spindle, 4);
	assert_int_equal(p->state.feed_mode, 990);
	assert_true(fabs(p->state.axis[0].v - 30) < 1e-9);
	p = place(f.r, 1, 9);
	assert_int_equal(p->kind, RESTART_TOOL);
	word_is(&p->state.feed, 0.2);
	assert_true(place(f.r, 1, 12) && place(f.r, 1, 3));
	assert_non_null(strstr(f.r->segment[3].unfit[0], "ends"));
	done(&f);
}

/* A block of a segment that cannot be a start block, and why: the words of the reason. */
static void unfit_is(const char *body, uint64_t segment, const char *why)
{
	struct text text = {0};
	struct found f;

	text_printf(&text, "%%\nO4417 (REV A)\n%sM30\nO10\nM203\nG4 P1\nM99\n%%\n", body);
	two(&f, text.s, "%\nO4417 (REV A)\nG4 P1\nM201\nG4 P1\nM203\nG4 P1\nM30\n%\n", NULL, 0);
	assert_int_equal(f.r->end, RESTART_WHOLE);
	assert_false(f.r->segment[segment].has[0]);
	if (!strstr(f.r->segment[segment].unfit[0], why))
		fail_msg("%s: %s", body, f.r->segment[segment].unfit[0]);
	done(&f);
	text_free(&text);
}

static void test_unfit(void **state)
{
	unfit_is("G42 D1\nM201\nX1.\nM203\n", 1, "compensation");
	unfit_is("G90 G17 G81 Z-1. R1. F9.\nM201\nX1.\nM203\nG80\n", 1, "canned cycle");
	unfit_is("M201\nM98 P10\n", 2, "subprogram");
	unfit_is("#1=0\nWHILE [#1 LT 1] DO1\nM201\n#1=#1+1\nG4 P1\nM203\nEND1\n", 1, "loop");
	unfit_is("G68 R1.\nG51 X0. P2.\nM201\nG4 P1\nM203\n", 1, "scaled");
}

/* A block that a switch may skip is none; the wait code itself is one. */
static void test_skipped(void **state)
{
	struct found f;

	two(&f, "%\nO4417 (REV A)\nM201\n/ G4 P1\nM202\nM30\n%\n",
	    "%\nO4417 (REV A)\nM201\nM202\nM30\n%\n", NULL, 0);
	assert_null(place(f.r, 0, 4));
	assert_int_equal(place(f.r, 0, 5)->first, 1);
	assert_int_equal(place(f.r, 1, 4)->first, 1);
	done(&f);
}

/* A wait code inside a subprogram: the first block behind the call is the place. */
static void test_subprogram(void **state)
{
	struct found f;

	two(&f, "%\nO4417 (REV A)\nG4 P1\nM98 P10\nN7 G4 P2\nM30\nO10\nM201\nG4 P1\nM99\n%\n",
	    "%\nO4417 (REV A)\nM201\nG4 P1\nM30\n%\n", NULL, 0);
	assert_int_equal(f.r->places, 4);
	assert_non_null(place(f.r, 0, 5));
	assert_int_equal(place(f.r, 0, 5)->first, 1);
	assert_null(place(f.r, 0, 9));
	done(&f);
}

/* Blocks between a label and a jump back to it are executed several times; variables were set. */
static void test_by_hand_values(void **state)
{
	struct found f;

	two(&f,
	    "%\nO4417 (REV A)\nG4 P1\n#1=0\nN5 G92 X0.\nM201\nG4 P1\n#1=#1+1\nIF [#1 LT 2] GOTO 5\n"
	    "M202\nG4 P1\nM30\n%\n",
	    "%\nO4417 (REV A)\nM201\nM201\nM202\nG4 P1\nM30\n%\n", NULL, 0);
	assert_int_equal(f.r->end, RESTART_WHOLE);
	assert_false(place(f.r, 0, 3)->state.variables || place(f.r, 0, 3)->repeats);
	assert_true(place(f.r, 0, 7)->repeats && place(f.r, 0, 7)->state.variables);
	assert_true(place(f.r, 0, 7)->state.origin);
	assert_false(place(f.r, 0, 11)->repeats);
	done(&f);
}

/* The machine's codes in force: the last of each group. */
static void test_codes(void **state)
{
	const char *text[] = {"%\nO4417 (REV A)\nM10\nM68\nM11\nM201\nG4 P1\nM30\n%\n",
	    "%\nO4417 (REV A)\nM201\nG4 P1\nM30\n%\n"};
	const struct restart_state *s;
	struct found f;

	pair_help_profile(&f.c.profile);
	f.c.profile.code[f.c.profile.codes++] = (struct profile_code){10, "chuck", "closed"};
	f.c.profile.code[f.c.profile.codes++] = (struct profile_code){11, "chuck", "open"};
	f.c.profile.code[f.c.profile.codes++] = (struct profile_code){68, "tailstock", "forward"};
	make(&f, text, 2, NULL, 0);
	s = &place(f.r, 0, 7)->state;
	assert_int_equal(s->codes, 2);
	assert_int_equal(s->code[0].code, 11);
	assert_string_equal(s->code[1].text, "forward");
	done(&f);
}

/* The nearest place at or before a block, and the first of its segment in the other channel. */
static void test_near(void **state)
{
	const struct restart_ask asks[] = {{
	                                       0,
	                                       true,
	                                       15,
	                                   },
	    {1, false, 40}};
	struct found f;
	const struct restart_near *n;

	two(&f, upper, lower, asks, 2);
	n = &f.r->near[0];
	assert_true(n->found && n->pair);
	assert_int_equal(n->first, 1);
	assert_int_equal(n->segment, 1);
	assert_int_equal(n->place[0].at.line, 14);
	assert_int_equal(n->place[1].at.line, 8);
	assert_null(n->unfit);
	n = &f.r->near[1];
	assert_int_equal(n->at.line, 9);
	assert_int_equal(n->place[1].at.line, 9);
	assert_int_equal(n->place[0].at.line, 11);
	assert_false(f.r->dangerous);
	done(&f);
}

/* Two blocks behind different meetings are dangerous; the pair that is told leaves nothing out. */
static void test_dangerous(void **state)
{
	const struct restart_ask asks[] = {{0, true, 17}, {1, true, 9}};
	struct found f;
	struct text out = {0};

	two(&f, upper, lower, asks, 2);
	assert_true(f.r->dangerous);
	assert_non_null(strstr(f.r->near[0].unfit, "G41"));
	assert_int_equal(f.r->near[0].first, 2);
	assert_int_equal(f.r->near[restart_nearest(f.r)].segment, 1);
	restart_print(f.r, 80, &out);
	assert_non_null(strstr(out.s, "DANGEROUS"));
	assert_non_null(strstr(out.s, "Nearest matching places to upper line 17: segment 1"));
	assert_null(strstr(out.s, "segment 2\n"));
	text_free(&out);
	done(&f);
}

/* What is asked for before the first place of its segment is answered from the segment before. */
static void test_near_without_own_place(void **state)
{
	const struct restart_ask ask = {0, true, 6};
	struct found f;

	two(&f, "%\nO4417 (REV A)\nG4 P1\nG41 D1\nM201\nX1.\nG40\nN9 X2.\nM202\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 P1\nM201\nG4 P1\nM202\nM30\n%\n", &ask, 1);
	assert_true(f.r->near[0].pair);
	assert_int_equal(f.r->near[0].first, 1);
	assert_int_equal(f.r->near[0].segment, 0);
	assert_int_equal(f.r->near[0].place[0].at.line, 3);
	assert_int_equal(f.r->near[0].place[1].at.line, 3);
	done(&f);
}

/* A block that is executed three times, an N that stands twice, one that is never executed. */
static void test_asked(void **state)
{
	const struct restart_ask asks[] = {{0, false, 5}, {1, false, 6}};
	struct found f;

	two(&f, "%\nO4417 (REV A)\nG4 P1\nM98 P10 L3\nM201\nN5 G4 P1\nM30\nO10\nN5 G4 P1\nM99\n%\n",
	    "%\nO4417 (REV A)\nM201\nGOTO 7\nN6 G4 P1\nN7 M30\n%\n", asks, 2);
	assert_true(f.r->near[0].found && f.r->near[0].elsewhere);
	assert_int_equal(f.r->near[0].at.line, 9);
	assert_int_equal(f.r->near[0].times, 3);
	assert_non_null(strstr(f.r->near[0].unfit, "subprogram"));
	assert_int_equal(f.r->near[0].place[0].at.line, 3);
	assert_false(f.r->near[1].found || f.r->dangerous);
	done(&f);
}

static void test_ask_read(void **state)
{
	static const char *const bad[] = {"N430", "left:N430", "upper:", "upper:N", "upper:N4x",
	    "upper:0", "upper:-3", "upper:N99999999999999999999", ":N4"};
	struct restart_ask a;
	struct profile p;
	struct text why = {0};

	pair_help_profile(&p);
	assert_true(restart_ask_read(&p, "upper:N430", &a, &why));
	assert_true(a.channel == 0 && !a.line && a.value == 430);
	assert_true(restart_ask_read(&p, "LOWER:n0", &a, &why));
	assert_true(a.channel == 1 && !a.line && a.value == 0);
	assert_true(restart_ask_read(&p, "lower:120", &a, &why));
	assert_true(a.line && a.value == 120);
	assert_null(why.s);
	for (size_t i = 0; i < sizeof(bad) / sizeof(*bad); i++) {
		assert_false(restart_ask_read(&p, bad[i], &a, &why));
		assert_non_null(strstr(why.s, "N430"));
		text_free(&why);
	}
}

/* Where two of three channels meet, the third stays in the part that it is in: its places belong to
 * both segments. */
static void test_partners(void **state)
{
	static const char *const text[] = {
	    "%\nO4417 (REV A)\nG4 P1\nM210 P13\nG4 P1\nM220 P123\nG4 P1\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 P1\nM220 P123\nG4 P1\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 P1\nM210 P13\nG4 P1\nM220 P123\nG4 P1\nM30\n%\n"};
	const struct restart_ask asks[] = {{0, true, 5}, {1, true, 3}};
	struct found f;

	pair_help_profile(&f.c.profile);
	pair_help_set(&f.c.profile, "programs", "channels", "upper, lower, c3");
	f.c.profile.partners = PROFILE_PARTNERS_DIGITS;
	make(&f, text, 3, asks, 2);
	assert_int_equal(f.r->end, RESTART_WHOLE);
	assert_int_equal(f.r->segments, 3);
	assert_int_equal(place(f.r, 1, 3)->first, 0);
	assert_int_equal(place(f.r, 1, 3)->last, 1);
	assert_int_equal(place(f.r, 0, 3)->last, 0);
	assert_false(f.r->dangerous);
	assert_int_equal(f.r->near[0].segment, 1);
	assert_int_equal(f.r->near[0].place[2].at.line, 5);
	done(&f);
}

/* A signal that was sent and is not used up is told. */
static void test_signals(void **state)
{
	static const char *const text[] = {
	    "%\nO4417 (REV A)\nG4 P1\nM301\nG4 P1\nM201\nG4 P1\nM30\n%\n",
	    "%\nO4417 (REV A)\nG4 P1\nM201\nG4 P1\nM401\nG4 P1\nM30\n%\n"};
	struct found f;

	pair_help_profile(&f.c.profile);
	f.c.profile.send[f.c.profile.sends++] = (struct profile_range){301, 309};
	f.c.profile.receive[f.c.profile.receives++] = (struct profile_range){401, 409};
	make(&f, text, 2, NULL, 0);
	assert_int_equal(f.r->end, RESTART_WHOLE);
	assert_int_equal(f.r->segments, 4);
	assert_false(f.r->segment[0].signals);
	assert_true(f.r->segment[1].signals && f.r->segment[2].signals);
	assert_false(f.r->segment[3].signals);
	done(&f);
}

/* Up to where the run fails; nothing without a mate, or without the text. */
static void test_not_whole(void **state)
{
	static const char *const text[] = {"%\nO4417 (REV A)\nM201\nG4 P1\nM202\nM30\n%\n",
	    "%\nO4417 (REV A)\nM201\nG4 P1\nM203\nM30\n%\n"};
	const struct source s[] = {{"J4417.UP", text[0], 0}, {"J4417.LO", text[0], 0}};
	struct found f;

	two(&f, text[0], text[1], NULL, 0);
	assert_int_equal(f.r->end, RESTART_STUCK);
	assert_int_equal(f.r->segments, 2);
	done(&f);
	pair_help_profile(&f.c.profile);
	make(&f, text, 1, NULL, 0);
	assert_int_equal(f.r->end, RESTART_LOST);
	assert_non_null(strstr(f.r->why, "mate"));
	assert_int_equal(f.r->places, 0);
	done(&f);
	pair_help_profile(&f.c.profile);
	pair_help_check(&f.c, s, 2);
	f.r = restart_new(f.c.report, NULL, 0);
	assert_non_null(f.r);
	assert_non_null(strstr(f.r->why, "text"));
	done(&f);
}

/* The print keeps its width, tells the cautions, and promises nothing. */
static void test_print(void **state)
{
	const struct restart_ask ask = {1, true, 9};
	struct found f;

	for (int asked = 0; asked < 2; asked++) {
		two(&f, upper, lower, &ask, (size_t)asked);
		for (unsigned width = 60; width <= 100; width += 20) {
			struct text out = {0};

			restart_print(f.r, width, &out);
			assert_false(out.failed);
			for (const char *line = out.s; *line; line = strchr(line, '\n') + 1)
				assert_true(strcspn(line, "\n") <= width);
			assert_non_null(strstr(out.s, "Many controls ignore wait codes"));
			assert_non_null(strstr(out.s, "axes stand at"));
			assert_null(strstr(out.s, "safe"));
			text_free(&out);
		}
		done(&f);
	}
}

/* Thousands of meetings: lists end, and a block behind them is found all the same. */
static void test_long(void **state)
{
	struct text a = {0}, b = {0};
	const struct restart_ask ask = {0, false, 99};
	struct found f;

	text_puts(&a, "%\nO4417 (REV A)\n");
	text_puts(&b, "%\nO4417 (REV A)\n");
	for (int i = 0; i < 5000; i++) {
		text_puts(&a, "G4 P1\nM201\n");
		text_puts(&b, "G4 P1\nM201\n");
	}
	text_puts(&a, "G4 P1\nN99 G4 P1\nM30\n%\n");
	text_puts(&b, "G4 P1\nM30\n%\n");
	two(&f, a.s, b.s, &ask, 1);
	assert_int_equal(f.r->segments, RESTART_SEGMENTS_MAX);
	assert_int_equal(f.r->segments_more, 5001 - RESTART_SEGMENTS_MAX);
	assert_int_equal(f.r->places, RESTART_PLACES_MAX);
	assert_int_equal(f.r->places_more, 2 * 5001 - RESTART_PLACES_MAX);
	assert_true(f.r->near[0].pair);
	assert_int_equal(f.r->near[0].segment, 5000);
	assert_int_equal(f.r->near[0].place[0].at.line, 10003);
	done(&f);
	text_free(&a);
	text_free(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_by_hand),
	    cmocka_unit_test(test_unfit),
	    cmocka_unit_test(test_skipped),
	    cmocka_unit_test(test_subprogram),
	    cmocka_unit_test(test_by_hand_values),
	    cmocka_unit_test(test_codes),
	    cmocka_unit_test(test_near),
	    cmocka_unit_test(test_dangerous),
	    cmocka_unit_test(test_near_without_own_place),
	    cmocka_unit_test(test_asked),
	    cmocka_unit_test(test_ask_read),
	    cmocka_unit_test(test_partners),
	    cmocka_unit_test(test_signals),
	    cmocka_unit_test(test_not_whole),
	    cmocka_unit_test(test_print),
	    cmocka_unit_test(test_long),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
