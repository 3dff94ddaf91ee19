/*
 * Goal: labels cost little and are found as they stand; and blocks that are given many at a time
 * leave what they leave one by one.
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
#include "flow.h"

/* xorshift64 (G. Marsaglia, Xorshift RNGs, Journal of Statistical Software 8, 2003). */
static uint64_t random_state = 88172645463325252u;

static uint32_t pick(uint32_t n)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return (uint32_t)(random_state >> 32) % n;
}

/* Plain blocks kept back, to be given at once. */
struct batch {
	struct wait_flow *f;
	bool together;
	int64_t first;
	uint32_t step;
	uint64_t count, line;
};

static void flush(struct batch *b)
{
	if (b->count)
		assert_int_equal(wait_flow_plain(b->f, b->first, b->step, b->count, b->line), 0);
	b->count = 0;
}

static bool plain(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (!strchr("NXZFS", b->word[i].letter))
			return false;
	return !b->flags && !b->faults && b->words;
}

static int take(void *ctx, const struct nc_block *b)
{
	struct batch *p = ctx;
	const struct nc_word *n = nc_block_word(b, 'N');
	int64_t at = n ? n->mantissa : -1, step;

	if (!p->together || !plain(b) || wait_flow_whole(p->f)) {
		flush(p);
		return wait_flow_block(p->f, b);
	}
	step = at - (p->first + (int64_t)p->step * (int64_t)(p->count - 1));
	if (p->count == 1 && at > p->first && p->first >= 0 && at - p->first < 1000)
		p->step = (uint32_t)(at - p->first);
	else if (p->count && (at < 0 ? p->first >= 0 : p->first < 0 || step != (int64_t)p->step))
		flush(p);
	if (!p->count) {
		p->first = at;
		p->step = 1;
	}
	p->count++;
	p->line = b->line;
	return 0;
}

static struct wait_flow *flow_of(
    struct channels *c, const struct text *t, bool together, struct findings *list)
{
	struct batch b = {.f = wait_flow_new(&c->profile), .together = together};
	struct nc_reader *r = nc_reader_new(take, &b);
	struct nc_shape shape;

	assert_non_null(b.f);
	assert_non_null(r);
	assert_int_equal(nc_reader_feed(r, t->s, t->n), 0);
	assert_int_equal(nc_reader_finish(r, &shape), 0);
	nc_reader_free(r);
	flush(&b);
	assert_int_equal(wait_flow_finish(b.f, list, "job.up", 0, false), 0);
	return b.f;
}

static void lines(struct text *t)
{
	uint32_t n = pick(50), step = 1 + pick(3) * pick(10), count = 1 + pick(30);

	text_puts(t, "O1\n");
	for (uint32_t i = 0; i < count; i++, n += step) {
		if (pick(8) == 0)
			step = 1 + pick(20);
		if (pick(12) == 0)
			n = pick(100);
		if (pick(15) == 0)
			text_printf(t, "O%u\n", 2 + pick(4));
		if (pick(10))
			text_printf(t, "N%u ", n);
		switch (pick(14)) {
		case 0:
			text_puts(t, "M201\n");
			break;
		case 1:
			text_printf(t, "GOTO %u\n", pick(120));
			break;
		case 2:
			text_printf(t, "IF [#1 EQ 1] GOTO %u\n", pick(120));
			break;
		case 3:
			text_printf(t, "G71 P%u Q%u\n", pick(100), pick(100));
			break;
		case 4:
			text_printf(t, "%s\n", pick(3) ? "M98 P2" : "G66 P3");
			break;
		case 5:
			text_puts(t, pick(2) ? "M99\n" : "#1=#1+1\n");
			break;
		default:
			text_printf(t, "X%u.\n", pick(100));
		}
	}
	text_puts(t, "M30\n");
	assert_false(t->failed);
}

static void same_findings(const struct findings *a, const struct findings *b)
{
	assert_int_equal(a->n, b->n);
	for (size_t i = 0; i < a->n; i++) {
		assert_int_equal(a->v[i].id, b->v[i].id);
		assert_int_equal(a->v[i].line, b->v[i].line);
		assert_string_equal(a->v[i].text, b->v[i].text);
	}
}

static void same_flow(const struct wait_flow *a, const struct wait_flow *b)
{
	assert_int_equal(a->instrs, b->instrs);
	assert_int_equal(a->units, b->units);
	assert_memory_equal(a->idle, b->idle, a->instrs);
	for (size_t i = 0; i < a->instrs; i++) {
		const struct wait_instr *x = &a->instr[i], *y = &b->instr[i];

		assert_int_equal(x->op, y->op);
		assert_int_equal(x->line, y->line);
		assert_int_equal(x->sequence, y->sequence);
		assert_int_equal(x->target, y->target);
	}
	for (uint32_t k = 0; k < a->units; k++)
		for (uint32_t n = 0; n < 1000; n++)
			assert_int_equal(
			    wait_flow_label(a, k, n, NULL), wait_flow_label(b, k, n, NULL));
}

static void many_at_a_time(void **state)
{
	for (int i = 0; i < 3000; i++) {
		struct findings one = {0}, many = {0};
		struct text t = {0};
		struct wait_flow *a, *b;
		struct channels c;

		channels_begin(&c);
		lines(&t);
		a = flow_of(&c, &t, false, &one);
		b = flow_of(&c, &t, true, &many);
		same_findings(&one, &many);
		same_flow(a, b);
		wait_flow_free(a);
		wait_flow_free(b);
		findings_free(&one);
		findings_free(&many);
		text_free(&t);
	}
}

/* Where each label of a text stands, found the slow way. */
static void as_they_stand(void **state)
{
	enum { LABELS = 300, BLOCKS = 400 };

	for (int i = 0; i < 300; i++) {
		uint32_t at[LABELS], instrs = 0, wanted[BLOCKS], jump[BLOCKS];
		struct findings list = {0};
		struct text t = {0};
		struct wait_flow *f;
		struct channels c;

		for (int n = 0; n < LABELS; n++)
			at[n] = WAIT_NOWHERE;
		text_puts(&t, "N0\n");
		at[0] = 0;
		for (int k = 0; k < BLOCKS; k++) {
			uint32_t n = pick(2) ? (uint32_t)(k * 3 / 4) : pick(LABELS);

			at[n] = at[n] == WAIT_NOWHERE || at[n] == instrs ? instrs : WAIT_TWICE;
			wanted[instrs] = pick(LABELS);
			jump[instrs] = pick(2);
			if (jump[instrs])
				text_printf(&t, "N%u IF [#1 EQ 1] GOTO %u\n", n, wanted[instrs]);
			else
				text_printf(&t, "N%u X1.\n", n);
			instrs += jump[instrs];
		}
		assert_false(t.failed);
		channels_begin(&c);
		f = flow_of(&c, &t, i % 2, &list);
		assert_int_equal(f->instrs, instrs);
		for (uint32_t k = 0; k < instrs; k++)
			assert_int_equal(f->instr[k].target, at[wanted[k]]);
		for (uint32_t n = 0; n < LABELS; n++)
			assert_int_equal(wait_flow_label(f, 0, n, NULL), at[n]);
		wait_flow_free(f);
		findings_free(&list);
		text_free(&t);
	}
}

/* A program numbered in steps takes one run for all its motion, by tens of millions. */
static void runs(void **state)
{
	struct findings list = {0};
	struct channels c;
	struct wait_flow *f;

	channels_begin(&c);
	f = wait_flow_new(&c.profile);
	assert_non_null(f);
	assert_int_equal(wait_flow_plain(f, 10, 10, 30000000, 30000000), 0);
	assert_int_equal(wait_flow_plain(f, -1, 1, 30000000, 60000000), 0);
	assert_int_equal(wait_flow_plain(f, 300000010, 10, 30000000, 90000000), 0);
	/* numbers that are none any more */
	assert_int_equal(wait_flow_plain(f, 4294967000, 100, 1000, 90001000), 0);
	assert_int_equal(wait_flow_finish(f, &list, "job.up", 0, false), 0);
	assert_int_equal(f->labels_n, 2);
	assert_int_equal(wait_flow_label(f, 0, 10, NULL), 0);
	assert_int_equal(wait_flow_label(f, 0, 599999990, NULL), 0);
	assert_int_equal(wait_flow_label(f, 0, 600000000, NULL), 0);
	assert_int_equal(wait_flow_label(f, 0, 600000010, NULL), WAIT_NOWHERE);
	assert_int_equal(wait_flow_label(f, 0, 15, NULL), WAIT_NOWHERE);
	assert_int_equal(wait_flow_label(f, 0, 4294967200, NULL), 0);
	assert_int_equal(wait_flow_label(f, 0, 4294967300, NULL), WAIT_NOWHERE);
	assert_int_equal(list.n, 1);
	assert_int_equal(list.v[0].id, FINDING_END_MISSING);
	assert_int_equal(list.v[0].line, 90001000);
	wait_flow_free(f);
	findings_free(&list);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(many_at_a_time),
	    cmocka_unit_test(as_they_stand),
	    cmocka_unit_test(runs),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
