/*
 * Goal: the parts of a run that make its cycle long are found, and how much each of them costs:
 * against the definition, by relaxing all events until nothing changes, on random networks; and by
 * hand on small ones. And what is kept of a long run.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "timeline_inside.h"

static const int same_index[YOKE_CHANNELS_MAX] = {0, 1, 2, 3};

/* Parts of a timeline for each part of the network. */
static void parts(const struct timeline_path *p, struct timeline *t)
{
	t->part = calloc(p->n * YOKE_CHANNELS_MAX, sizeof(*t->part));
	assert_non_null(t->part);
	for (size_t r = 0; r < p->n; r++)
		for (int c = 0; c < YOKE_CHANNELS_MAX; c++)
			if (p->v[r].goes >> c & 1)
				t->part[t->parts++] =
				    (struct timeline_part){.channel = c, .last = r};
}

/* Every event as late as what it waits for, again and again until nothing moves. */
static double relaxed(const struct timeline_path *p)
{
	double at[64] = {0}, before;

	do {
		before = 0;
		for (size_t r = 0; r < p->n; r++) {
			double was = at[r];

			for (int c = 0; c < YOKE_CHANNELS_MAX; c++) {
				double from = 0;

				if (!(p->v[r].goes >> c & 1))
					continue;
				for (size_t q = 0; q < r; q++)
					if (p->v[q].goes >> c & 1)
						from = at[q];
				at[r] = fmax(at[r], from + p->v[r].seconds[c]);
			}
			if (p->v[r].after != TIMELINE_NO_RUNG)
				at[r] = fmax(at[r], at[p->v[r].after]);
			before = fmax(before, at[r] - was);
		}
	} while (before > 0);
	return at[p->n - 1];
}

static void check(struct timeline_path *p)
{
	struct timeline t = {0};
	double cycle = relaxed(p);

	parts(p, &t);
	assert_true(timeline_path_mark(p, same_index, &t));
	for (size_t i = 0; i < t.parts; i++) {
		double *seconds = &p->v[t.part[i].last].seconds[t.part[i].channel], was = *seconds;
		double longer, without;

		*seconds = was + 1;
		longer = relaxed(p);
		*seconds = 0;
		without = relaxed(p);
		*seconds = was;
		assert_int_equal(t.part[i].critical, longer > cycle + 0.999);
		assert_true(fabs(t.part[i].gain_seconds - (cycle - without)) < 1e-9);
	}
	free(t.part);
}

static void test_random(void **state)
{
	srand(4);
	for (int i = 0; i < 400; i++) {
		struct timeline_path p = {0};
		int channels = 2 + i % 3, rungs = 1 + rand() % 12;

		for (int r = 0; r < rungs; r++) {
			struct timeline_node n = {.after = TIMELINE_NO_RUNG};

			n.goes = 1 + (uint32_t)rand() % ((1u << channels) - 1);
			if (r == rungs - 1)
				n.goes = (1u << channels) - 1;
			for (int c = 0; c < channels; c++)
				n.seconds[c] = rand() % 4 * 5; /* ties and parts without time */
			if (r > 0 && rand() % 4 == 0)
				n.after = (size_t)(rand() % r);
			assert_true(timeline_path_add(&p, &n));
		}
		check(&p);
		timeline_path_free(&p);
	}
}

/* 10 and 4 s to the first rung, 5 and 20 to the second, 1 and 2 to the end: 10 + 20 + 2 = 32 s.
 * Without the 10: max(0, 4) + 20 + 2 = 26. Without the 20: 10 + 5 + 2 = 17. Without the 2: 10 + 20
 * + 1 = 31. */
static void test_by_hand(void **state)
{
	static const double seconds[3][2] = {{10, 4}, {5, 20}, {1, 2}};
	static const double gain[3][2] = {{6, 0}, {0, 15}, {0, 1}};
	struct timeline_path p = {0};
	struct timeline t = {0};

	for (int r = 0; r < 3; r++)
		assert_true(timeline_path_add(&p, &(struct timeline_node){.goes = 3,
		                                      .after = TIMELINE_NO_RUNG,
		                                      .seconds = {seconds[r][0], seconds[r][1]}}));
	parts(&p, &t);
	assert_true(timeline_path_mark(&p, same_index, &t));
	for (int i = 0; i < 6; i++) {
		assert_true(fabs(t.part[i].gain_seconds - gain[i / 2][i % 2]) < 1e-9);
		assert_int_equal(t.part[i].critical, gain[i / 2][i % 2] > 0);
	}
	free(t.part);
	timeline_path_free(&p);
}

static void test_too_long(void **state)
{
	struct timeline_path p = {0};

	for (int i = 0; i <= TIMELINE_NODES_MAX; i++)
		assert_true(timeline_path_add(&p, &(struct timeline_node){.goes = 1}));
	assert_true(p.over);
	assert_int_equal(p.n, 0);
}

/* The first and last ones of 1000, in order; the rest is summed. */
static void test_keep(void **state)
{
	struct timeline_keep k = {0};
	struct timeline t = {0};
	const size_t last = TIMELINE_FIRST + TIMELINE_LAST - 1;

	for (uint64_t i = 0; i < 1000; i++) {
		struct timeline_kept r = {.rung = {.number = i}, .parts = 1};

		r.part[0] = (struct timeline_part){
		    .channel = 1, .last = i, .work = {.feed_seconds = 0.5, .blocks = 3}};
		assert_true(timeline_keep_add(&k, &r, &t));
	}
	assert_true(timeline_keep_finish(&k, &t));
	assert_int_equal(t.rungs, last + 1);
	assert_int_equal(t.rung[TIMELINE_FIRST - 1].number, TIMELINE_FIRST - 1);
	assert_int_equal(t.rung[TIMELINE_FIRST - 1].repeat, 1000 - t.rungs);
	for (size_t i = TIMELINE_FIRST; i <= last; i++) {
		assert_int_equal(t.rung[i].number, 1000 - t.rungs + i);
		assert_int_equal(t.part[i].last, t.rung[i].number);
	}
	assert_int_equal(t.between[1].blocks, 3 * (1000 - t.rungs));
	assert_true(fabs(t.between[1].feed_seconds - 0.5 * (double)(1000 - t.rungs)) < 1e-9);
	timeline_keep_free(&k);
	wait_timeline_free(&t);
}

/* First in, first out: of two sent at 3 s and 8 s the first receiver needs the first. */
static void test_signals(void **state)
{
	struct timeline_signals s = {0};
	struct wait_signals none = {0}, one = {.v = {{300, 1, 1}}, .n = 1};
	struct wait_signals two = {.v = {{300, 1, 2}}, .n = 1};
	struct timeline_sent first = {3, 0}, second = {8, 1}, used = {0};
	bool waited;

	assert_true(timeline_signal_change(&s, &none, &one, &first, &used, &waited));
	assert_false(waited);
	assert_true(timeline_signal_change(&s, &one, &two, &second, &used, &waited));
	assert_true(timeline_signal_change(&s, &two, &one, &second, &used, &waited));
	assert_true(waited);
	assert_int_equal(used.rung, 0);
	assert_true(used.at_seconds == 3);
	assert_true(timeline_signal_change(&s, &one, &none, &second, &used, &waited));
	assert_true(waited && used.rung == 1 && used.at_seconds == 8);
	timeline_signal_free(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_random),
	    cmocka_unit_test(test_by_hand),
	    cmocka_unit_test(test_too_long),
	    cmocka_unit_test(test_keep),
	    cmocka_unit_test(test_signals),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
