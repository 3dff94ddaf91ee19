/*
 * Goal: the lazy comparison says what a plain one says. Random programs with calls, repeats,
 * slashes and ends are also run by a simple interpreter, written from the rules and not from the
 * code, that lists every code of every setting. And nothing that a file can hold trips the flow.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"
#include "walk.h"

enum { LIST_MAX = 4000, SUBS = 4, LINES = 6 };

/* xorshift64: the same programs in every run. */
static uint64_t random_state = 88172645463325252u;

static uint32_t below(uint32_t n)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return (uint32_t)(random_state >> 24) % n;
}

/* One block: a slash level or 0, and what it does. */
struct line {
	int slash;
	enum { MOVE, WAIT, CALL, BACK, STOP } what;
	int code, repeat;
};

struct program {
	struct line line[SUBS][LINES];
	int lines[SUBS];
};

struct list {
	int code[LIST_MAX];
	size_t n;
	bool stopped;
};

/* Program s calls only later ones: no recursion. The last block is an end. */
static void invent(struct program *p)
{
	for (int s = 0; s < SUBS; s++) {
		p->lines[s] = 1 + (int)below(LINES);
		for (int i = 0; i < p->lines[s]; i++) {
			struct line *l = &p->line[s][i];
			uint32_t dice = below(10);
			l->slash = below(6) ? 0 : 1 + (int)below(3);
			l->what = dice < 6   ? WAIT
			          : dice < 8 ? CALL
			          : dice < 9 ? MOVE
			          : s        ? BACK
			                     : STOP;
			if (l->what == CALL && s == SUBS - 1)
				l->what = WAIT;
			l->code = l->what == CALL ? s + 1 + (int)below((uint32_t)(SUBS - 1 - s))
			                          : 200 + (int)below(3);
			l->repeat = 1 + (int)below(3);
		}
		p->line[s][p->lines[s] - 1] = (struct line){0, s ? BACK : STOP, 0, 0};
	}
}

/* A small mistake, most in the main program; some change nothing. */
static void spoil(struct program *p)
{
	int s = below(2) ? 0 : (int)below(SUBS);
	struct line *l = &p->line[s][below((uint32_t)p->lines[s])];

	if (l->what == WAIT && below(2))
		l->code = 200 + (int)below(3);
	else if (l->what == WAIT)
		l->what = MOVE;
	else if (l->what == CALL)
		l->repeat = 1 + (int)below(3);
}

static void write_out(const struct program *p, struct text *t)
{
	for (int s = 0; s < SUBS; s++) {
		text_printf(t, "O%d\n", s + 1);
		for (int i = 0; i < p->lines[s]; i++) {
			const struct line *l = &p->line[s][i];
			if (l->slash)
				text_printf(t, "/%d ", l->slash);
			switch (l->what) {
			case MOVE:
				text_puts(t, "G1 X5. F.2\n");
				break;
			case WAIT:
				text_printf(t, "M%d\n", l->code);
				break;
			case CALL:
				text_printf(t, "M98 P%d L%d\n", l->code + 1, l->repeat);
				break;
			case BACK:
				text_puts(t, "M99\n");
				break;
			case STOP:
				text_puts(t, "M30\n");
				break;
			}
		}
	}
}

static void interpret(const struct program *p, int s, unsigned on, struct list *out)
{
	for (int i = 0; i < p->lines[s] && !out->stopped; i++) {
		const struct line *l = &p->line[s][i];
		if (l->slash && on >> l->slash & 1)
			continue;
		if (l->what == BACK)
			return;
		if (l->what == STOP)
			out->stopped = true;
		if (l->what == WAIT) {
			assert_true(out->n < LIST_MAX);
			out->code[out->n++] = l->code;
		}
		for (int k = 0; l->what == CALL && k < l->repeat && !out->stopped; k++)
			interpret(p, l->code, on, out);
	}
}

/* The fewest switches that make the two differ, their number; -1 when none do. */
static int plain(const struct program *a, const struct program *b, size_t *meetings)
{
	static struct list la, lb;
	int fewest = -1;

	for (unsigned on = 0; on < 16; on += 2) {
		int ones = __builtin_popcount(on);
		size_t i = 0;
		la.n = lb.n = 0;
		la.stopped = lb.stopped = false;
		interpret(a, 0, on, &la);
		interpret(b, 0, on, &lb);
		while (i < la.n && i < lb.n && la.code[i] == lb.code[i])
			i++;
		if (on == 0)
			*meetings = i;
		if ((i < la.n || i < lb.n) && (fewest < 0 || ones < fewest))
			fewest = ones;
	}
	return fewest;
}

static void same_as_plain(void **state)
{
	int agreed = 0, differed = 0;

	for (int round = 0; round < 3000; round++) {
		struct program a, b;
		struct text ta = {0}, tb = {0};
		struct channels c;
		size_t meetings;
		int fewest;

		invent(&a);
		b = a;
		for (int i = round % 2 * 6; i; i--)
			spoil(&b);
		write_out(&a, &ta);
		write_out(&b, &tb);
		fewest = plain(&a, &b, &meetings);
		if (channels_two(&c, ta.s, tb.s) != (fewest < 0 ? VERDICT_AGREE : VERDICT_DISAGREE))
			print_message("upper:\n%slower:\n%s", ta.s, tb.s);
		assert_int_equal(c.result.verdict, fewest < 0 ? VERDICT_AGREE : VERDICT_DISAGREE);
		if (fewest >= 0)
			assert_int_equal(__builtin_popcount(c.result.run[0].on), fewest);
		if (fewest <= 0)
			assert_int_equal(c.result.meetings, meetings);
		agreed += fewest < 0;
		differed += fewest >= 0;
		channels_end(&c);
		text_free(&ta);
		text_free(&tb);
	}
	print_message("%d agreed, %d differed\n", agreed, differed);
	assert_true(agreed > 500);
	assert_true(differed > 500);
}

/*
 * Pieces of programs in any order: no crash, no endless run, and two equal texts never disagree,
 * because there is always the run in which all data is the same in both. What is shown holds
 * together.
 */
/* The choices of a run lead to the codes that were shown, where there are choices enough: a loop
 * that was not followed exactly has none. */
static void check_choices(const struct channels *c, size_t channel)
{
	const struct wait_run *run = &c->result.run[channel];
	struct wait_walk w;
	size_t choice = 0;

	assert_true(wait_walk_begin(&w, c->flow[channel], false));
	wait_walk_restart(&w, run->on);
	for (size_t i = 0; i + 1 < c->result.rungs && !c->result.rung[i].repeat; i++) {
		const struct wait_stop *stop = &c->result.rung[i].channel[channel];

		if (!stop->takes_part)
			continue;
		while (wait_walk_next(&w) == WAIT_WALK_BRANCH || w.kind == WAIT_WALK_ROUND) {
			if (w.kind == WAIT_WALK_ROUND)
				continue;
			if (choice == run->choices)
				goto out;
			wait_walk_take(&w, run->choice[choice++]);
		}
		assert_ptr_equal(wait_walk_code(&w), stop->code);
	}
out:
	wait_walk_end(&w);
}

static void check_shown(const struct channels *c)
{
	const struct wait_result *r = &c->result;
	uint64_t rungs = r->rungs - 1;

	assert_true(r->rungs >= 1 && r->rungs <= 241);
	for (size_t i = 0; i < r->rungs; i++)
		rungs += r->rung[i].repeat;
	assert_int_equal(rungs, r->meetings);
	assert_true(r->fewest <= r->meetings);
	for (size_t i = 0; i + 1 < r->rungs; i++)
		assert_true(r->rung[i].meets);
	for (size_t i = 0; i < c->n; i++) {
		check_choices(c, i);
		assert_true(!r->run[i].choices || r->run[i].last.line);
		for (size_t k = 0; k < r->run[i].choices; k++)
			assert_true(r->run[i].choice[k] <= 1);
	}
}

static void hostile(void **state)
{
	static const char *const piece[] = {"M201\n", "/2 M202\n", "M98 P1 L9999\n",
	    "M98 P2 L9999\n", "O1\n", "O2\n", "M99\n", "/M99\n", "M30\n", "GOTO 5\n", "N5\n",
	    "WHILE [1] DO1\n", "END1\n", "(M203\n", "(A (B) M204\n", "%\n", "M#1\n", "G65 P2\n",
	    "M99 P5\n", "\n", "M98 P#1\n", "IF [#1] GOTO #2 M201\n", "#1=#1+1\n", "#1=0\n",
	    "IF [#500 EQ 1] GOTO 5\n", "IF [#1 LT 3] GOTO 5\n", "N5 M201\n", "GOTO #1\n",
	    "WHILE [#1 LT #500] DO1\n", "WHILE [#1 LT 5] DO2\n", "END2\n", "G65 P2 A#1 B2.\n",
	    "G66 P2 A1.\n", "X1.\n", "G67\n", "M98 P2 L#1\n", "#[#1]=1/0\n", "M201 P12\n",
	    "IF [#1 EQ 0] THEN #1=5\n", "O2\nM202\nM99\n"};
	int agreed = 0;

	for (int round = 0; round < 12000; round++) {
		struct text t = {0};
		struct channels c;
		size_t channels = 2 + below(2);

		for (uint32_t i = below(24); i; i--)
			text_puts(&t, piece[below(sizeof piece / sizeof piece[0])]);
		text_puts(&t, below(2) ? "M30\n" : "");
		assert_false(t.failed);
		channels_begin(&c);
		c.profile.channels = (uint32_t)channels;
		c.profile.run_max = 2000;
		c.profile.partners = below(2) ? PROFILE_PARTNERS_DIGITS : PROFILE_PARTNERS_ALL;
		c.profile.end_m99 = below(2);
		for (size_t i = 0; i < channels; i++)
			channels_add(&c, t.s ? t.s : "");
		channels_prove(&c);
		if (c.result.verdict == VERDICT_DISAGREE && channels == 2)
			fail_msg("both:\n%s", t.s);
		check_shown(&c);
		agreed += c.result.verdict == VERDICT_AGREE;
		channels_end(&c);
		text_free(&t);
	}
	print_message("%d agreed\n", agreed);
	assert_true(agreed > 1000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(same_as_plain),
	    cmocka_unit_test(hostile),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
