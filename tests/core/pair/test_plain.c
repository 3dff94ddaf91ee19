/*
 * Goal: what the check says of a program does not depend on whether its plain blocks were taken in
 * runs or one by one: the same findings, the same wait codes, the same verdict and ladder, under
 * profiles that ask for more and for less, in chunks of every size.
 */
#include <stdlib.h>
#include "pair_help.h"
#include "plain_text.h"
#include "program_plain.h"
#include "program_state.h"

static struct program *read_program(
    const struct profile *profile, const char *file, const struct text *t, size_t step, bool runs)
{
	struct program *p = program_new(profile, file);

	assert_non_null(p);
	if (!runs)
		nc_reader_plain(p->reader, NULL);
	for (size_t at = 0; at < t->n; at += step) {
		size_t n = step < t->n - at ? step : t->n - at;
		/* a piece of its own, so that a look beyond its end is found */
		char *piece = malloc(n);

		assert_non_null(piece);
		memcpy(piece, t->s + at, n);
		assert_int_equal(program_feed(p, piece, n), 0);
		free(piece);
	}
	assert_int_equal(program_finish(p), 0);
	return p;
}

/* What is kept of a program beside its findings and its flow. */
static void same_facts(const struct program *a, const struct program *b)
{
	assert_int_equal(a->print, b->print);
	assert_int_equal(a->motion, b->motion);
	assert_int_equal(a->number, b->number);
	assert_int_equal(a->waits, b->waits);
	assert_int_equal(a->stops, b->stops);
	assert_int_equal(a->shape.lines, b->shape.lines);
	assert_int_equal(a->shape.blocks, b->shape.blocks);
	assert_int_equal(a->state.texts, b->state.texts);
	assert_int_equal(a->state.last_line, b->state.last_line);
	assert_int_equal(a->state.after_end, b->state.after_end);
	assert_int_equal(a->state.after_close, b->state.after_close);
	assert_int_equal(a->last_wait.line, b->last_wait.line);
	assert_int_equal(wait_flow_codes(a->flow), wait_flow_codes(b->flow));
	for (size_t i = 0; i < wait_flow_codes(a->flow); i++) {
		const struct wait_code *x = wait_flow_code(a->flow, i);
		const struct wait_code *y = wait_flow_code(b->flow, i);

		assert_int_equal(x->code, y->code);
		assert_int_equal(x->at.line, y->at.line);
		assert_int_equal(x->at.sequence, y->at.sequence);
	}
}

/* Everything that a person would see of a pair. */
static void print(
    const struct profile *profile, struct program *a, struct program *b, struct text *out)
{
	struct program *both[2] = {a, b};
	struct pair_report *r = pair_check(profile, both, 2);
	const struct ladder_style style = {100, true};

	assert_non_null(r);
	pair_print_findings(pair_findings(r), out);
	pair_print_summary(r, out);
	ladder_draw(r, NULL, &style, out);
	assert_false(out->failed);
	pair_report_free(r);
}

static void compare(
    const struct profile *profile, const struct text *upper, const struct text *lower)
{
	static const size_t steps[] = {1 << 30, 1, 63, 64, 65, 200, 4096};
	struct program *a[2], *b[2];
	struct text one = {0};

	a[0] = read_program(profile, "J1-A.upper.nc", upper, 1 << 30, false);
	a[1] = read_program(profile, "J1-A.lower.nc", lower, 1 << 30, false);
	print(profile, a[0], a[1], &one);
	for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
		struct text two = {0};

		b[0] = read_program(profile, "J1-A.upper.nc", upper, steps[i], true);
		b[1] = read_program(profile, "J1-A.lower.nc", lower, steps[i], true);
		same_facts(a[0], b[0]);
		same_facts(a[1], b[1]);
		print(profile, b[0], b[1], &two);
		assert_string_equal(two.s, one.s);
		text_free(&two);
		program_free(b[0]);
		program_free(b[1]);
	}
	text_free(&one);
	program_free(a[0]);
	program_free(a[1]);
}

/* A profile whose limits the programs meet now and then. */
static void random_profile(struct profile *p, uint64_t *seed)
{
	static const char *const forbid[] = {"G41", "G1", "X", "T", "G", "F", "M5", "G0, H"};

	profile_defaults(p);
	p->run_max = 20000;
	p->point_required = plain_text_draw(seed, 2);
	p->end_m99 = plain_text_draw(seed, 2);
	p->colon_number = plain_text_draw(seed, 2);
	p->lower_case = plain_text_draw(seed, 2);
	if (plain_text_draw(seed, 3) == 0)
		p->block_max = 8 + plain_text_draw(seed, 30);
	if (plain_text_draw(seed, 3) == 0)
		p->sequence_max = 500;
	if (plain_text_draw(seed, 3) == 0)
		pair_help_set(p, "channel upper", "forbid",
		    forbid[plain_text_draw(seed, sizeof forbid / sizeof *forbid)]);
}

static void random_pairs(void **state)
{
	static struct profile profile;
	uint64_t seed = 88172645463325252u;

	for (int round = 0; round < 400; round++) {
		struct text upper = {0}, lower = {0};

		random_profile(&profile, &seed);
		plain_text_program(&upper, &seed, 1 + plain_text_draw(&seed, 150));
		if (plain_text_draw(&seed, 4))
			plain_text_program(&lower, &seed, 1 + plain_text_draw(&seed, 150));
		else
			text_puts(&lower, upper.s);
		assert_false(upper.failed || lower.failed);
		compare(&profile, &upper, &lower);
		text_free(&upper);
		text_free(&lower);
	}
}

/* What a block says to the check by itself, at the border between runs. */
static void at_borders(void **state)
{
	static const char *const blocks[] = {"M201", "M30", "G66 P9", "(REV B)", "G95\nX1. F5",
	    "X5", "X1. X2.", "N5 X1.", "GOTO 50", "#1=1", "%", "O2", "M1", "x1.", "\x7F", "",
	    "M99"};
	static struct profile profile;

	profile_defaults(&profile);
	for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++) {
		for (unsigned before = 1; before < 9; before++) {
			struct text t = {0};

			text_puts(&t, "%\nO1 (JOB J1 REV A upper)\n");
			for (unsigned k = 0; k < before; k++)
				text_printf(&t, "N%u G1 X%u. Z-1.5\n", 10 * k + 10, k);
			text_printf(&t, "%s\n", blocks[i]);
			for (unsigned k = 0; k < 12; k++)
				text_printf(&t, "N%u X%u. F0.2\n", 10 * (before + k) + 20, k);
			text_puts(&t, "M30\n%\n");
			assert_false(t.failed);
			compare(&profile, &t, &t);
			text_free(&t);
		}
	}
}

/* A file that ends in a run: 64 bytes of plain blocks are its last. */
static void at_the_end(void **state)
{
	static struct profile profile;
	struct text t = {0};

	profile_defaults(&profile);
	text_puts(&t, "%\nO1 (JOB J1 REV A upper)\nX1.\nM201\n");
	for (int i = 0; i < 8; i++)
		text_puts(&t, "X1. Y2.\n");
	assert_false(t.failed);
	compare(&profile, &t, &t);
	text_free(&t);
}

static size_t one_by_one;

static int counted(void *ctx, const struct nc_plain *run)
{
	one_by_one -= run->blocks;
	return program_plain_run(ctx, run);
}

/* The bulk of a straight program comes in runs: a rule that asks every block would take them away.
 */
static void bulk(void **state)
{
	static struct profile profile;
	struct text t = {0};
	struct program *p;

	profile_defaults(&profile);
	text_puts(&t, "%\nO1 (JOB J1 REV A upper)\nG0 X1.\n");
	for (unsigned i = 0; i < 3000; i++) {
		if (i % 100 == 50)
			text_printf(&t, "M%u\n", 201 + i / 100);
		text_printf(&t, "G1 X%u.5 Z-%u.125 F0.2\n", i % 80, i % 33);
	}
	text_puts(&t, "M30\n%\n");
	assert_false(t.failed);
	p = program_new(&profile, "J1-A.upper.nc");
	assert_non_null(p);
	nc_reader_plain(p->reader, counted);
	one_by_one = 3000;
	assert_int_equal(program_feed(p, t.s, t.n), 0);
	assert_int_equal(program_finish(p), 0);
	assert_in_range(one_by_one, 0, 40);
	program_free(p);
	text_free(&t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(random_pairs),
	    cmocka_unit_test(at_borders),
	    cmocka_unit_test(at_the_end),
	    cmocka_unit_test(bulk),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
