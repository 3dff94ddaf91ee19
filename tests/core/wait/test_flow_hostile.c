/*
 * Goal: no file makes the check slow, big or wrong: what is too much is told. Each text is such
 * that work that grows with its square would never end.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"
#include "flow.h"

enum { MANY = 400000 };

struct hostile {
	struct channels c;
	struct wait_flow *f;
	uint64_t line;
};

static void begin(struct hostile *h)
{
	memset(h, 0, sizeof *h);
	channels_begin(&h->c);
	h->f = wait_flow_new(&h->c.profile);
	assert_non_null(h->f);
}

/* A block with an N, -1 without, and perhaps one more word. */
static void give(
    struct hostile *h, const char *text, uint32_t flags, int64_t n, struct nc_word more)
{
	struct nc_word words[2];
	struct nc_block b = {.line = ++h->line,
	    .offset = h->line * 10,
	    .flags = flags,
	    .text = text,
	    .length = strlen(text),
	    .word = words};

	if (n >= 0)
		words[b.words++] = (struct nc_word){.letter = 'N', .col = 1, .mantissa = n};
	if (more.letter)
		words[b.words++] = more;
	assert_int_equal(wait_flow_block(h->f, &b), 0);
}

/* A statement and the number that ends it. */
static void jump(struct hostile *h, int64_t n, const char *statement, unsigned number)
{
	char text[64];

	snprintf(text, sizeof text, "%s%u", statement, number);
	give(h, text, NC_MACRO | NC_JUMP, n, (struct nc_word){0});
}

static void word(struct hostile *h, char letter, int64_t value)
{
	give(h, "", 0, -1, (struct nc_word){.letter = letter, .col = 1, .mantissa = value});
}

static void call(struct hostile *h, int64_t program)
{
	struct nc_word words[2] = {{.letter = 'M', .col = 1, .mantissa = 98},
	    {.letter = 'P', .col = 4, .mantissa = program}};
	struct nc_block b = {.line = ++h->line, .text = "", .word = words, .words = 2};

	assert_int_equal(wait_flow_block(h->f, &b), 0);
}

static unsigned finish(struct hostile *h, enum finding_id id)
{
	assert_int_equal(wait_flow_finish(h->f, &h->c.findings, "job.up", 0, false), 0);
	return channels_seen(&h->c, id);
}

static void end(struct hostile *h)
{
	wait_flow_free(h->f);
	channels_end(&h->c);
}

/* Each jump to another label, none of the labels in order. */
static void many_jumps(void **state)
{
	struct hostile h;

	begin(&h);
	for (uint32_t i = 0; i < MANY; i++)
		jump(&h, (int64_t)i * 7919 % MANY, "IF [#1 EQ 1] GOTO ", i * 104729u % MANY);
	word(&h, 'M', 30);
	assert_int_equal(finish(&h, FINDING_JUMP_MISSING), 0);
	assert_int_equal(h.f->labels_n, MANY);
	end(&h);
}

/* Runs of labels that all lie over each other, and jumps into their gaps. */
static void runs_over_each_other(void **state)
{
	struct hostile h;

	begin(&h);
	for (uint32_t i = 0; i < MANY; i++) {
		assert_int_equal(wait_flow_plain(h.f, i % 1000, 2000, 3, i), 0);
		jump(&h, -1, "IF [#1 EQ 1] GOTO ", 1001 + i * 7u % 900);
	}
	word(&h, 'M', 30);
	assert_int_equal(finish(&h, FINDING_JUMP_MISSING), MANY);
	assert_int_equal(h.c.findings.n, 20);
	end(&h);
}

/* Each jump may lead to any label. */
static void jumps_anywhere(void **state)
{
	struct hostile h;

	begin(&h);
	for (uint32_t i = 0; i < MANY; i++)
		jump(&h, i, i % 2 ? "GOTO #" : "IF [#1 EQ 1] GOTO #", i % 30 + 1);
	word(&h, 'M', 30);
	assert_int_equal(finish(&h, FINDING_WAIT_AFTER_END), 0);
	end(&h);
}

/* Programs that call the one before them, or all others, or any. */
static void many_programs(void **state)
{
	enum { PROGRAMS = 100000 };

	for (int kind = 0; kind < 4; kind++) {
		struct hostile h;

		begin(&h);
		word(&h, 'O', 1);
		for (uint32_t i = 2; i <= PROGRAMS && kind == 1; i++)
			call(&h, i);
		call(&h, PROGRAMS);
		word(&h, 'M', 30);
		for (uint32_t i = 2; i <= PROGRAMS; i++) {
			word(&h, 'O', i);
			if (kind == 2)
				jump(&h, i, "IF [#1 EQ 1] GOTO #", 2);
			if (kind != 1 && i > 2)
				call(&h, kind == 3 ? i * 7919 % PROGRAMS + 1 : i - 1);
			if (i == 2)
				word(&h, 'M', 201);
			word(&h, 'M', 99);
		}
		assert_int_equal(finish(&h, FINDING_SUB_MISSING), 0);
		if (kind != 3)
			assert_int_equal(channels_seen(&h.c, FINDING_CALL_DEEP), kind != 1);
		assert_true(h.f->unit[0].relevant || kind == 3);
		end(&h);
	}
}

/* Every program is called by a number that only the run knows. */
static void any_program(void **state)
{
	struct text t = {0};
	struct channels c;

	text_puts(&t, "O1\nM98 P2\nM30\n");
	for (int i = 2; i < 20000; i++)
		text_printf(&t, "O%d\nN%d M98 P#%d\nM98 P#2\nM99 P#1\n", i, i, i % 33 + 1);
	assert_false(t.failed);
	channels_begin(&c);
	channels_add(&c, t.s);
	assert_true(c.flow[0]->unit[19998].reached);
	channels_end(&c);
	text_free(&t);
}

/* Sixty-four loops in each other are followed, no more. */
static void loops(void **state)
{
	for (unsigned deep = 64; deep <= 65; deep++) {
		struct text t = {0};
		struct channels c;

		text_puts(&t, "M201\n");
		for (unsigned i = 1; i <= deep; i++)
			text_printf(&t, "WHILE [#%u EQ 1] DO%u\n", i % 30 + 1, i);
		for (unsigned i = deep; i; i--)
			text_printf(&t, "END%u\n", i);
		text_puts(&t, "M30\n");
		assert_false(t.failed);
		assert_int_equal(channels_two(&c, t.s, "M201\nM30\n"),
		    deep == 64 ? VERDICT_AGREE : VERDICT_CANNOT_TELL);
		channels_end(&c);
		text_free(&t);
	}
	for (int i = 0; i < 2; i++) {
		struct hostile h;

		begin(&h);
		for (unsigned k = 0; k < MANY; k++)
			jump(&h, -1, i ? "END" : "DO", k % 100000);
		word(&h, 'M', 30);
		assert_true(finish(&h, FINDING_FLOW_UNFOLLOWED) > 0);
		end(&h);
	}
}

/* Cycles over contours that are nowhere, in front of, among and behind a crowd of labels. */
static void contours(void **state)
{
	struct hostile h;

	begin(&h);
	for (uint32_t i = 0; i < MANY; i++) {
		struct nc_word words[] = {
		    {.letter = 'N', .col = 1, .mantissa = (int64_t)i * 7919 % MANY},
		    {.letter = 'G', .col = 4, .mantissa = 70},
		    {.letter = 'P', .col = 8, .mantissa = MANY + i},
		    {.letter = 'Q', .col = 16, .mantissa = MANY + i + 1}};
		struct nc_block b = {.line = ++h.line, .text = "", .word = words, .words = 4};

		assert_int_equal(wait_flow_block(h.f, &b), 0);
	}
	word(&h, 'M', 30);
	assert_true(finish(&h, FINDING_FLOW_UNFOLLOWED) > 0);
	end(&h);
}

/* More labels than are kept: what leads to one is not followed, and says so. */
static void too_many_labels(void **state)
{
	struct hostile h;

	begin(&h);
	word(&h, 'M', 201);
	for (uint32_t i = 0; i < WAIT_LABELS_MAX + 10; i++)
		assert_int_equal(wait_flow_plain(h.f, WAIT_LABELS_MAX + 10 - i, 1, 1, i), 0);
	jump(&h, -1, "IF [#1 EQ 1] GOTO ", 3);
	word(&h, 'M', 30);
	assert_int_equal(finish(&h, FINDING_FLOW_UNFOLLOWED), 1);
	assert_int_equal(h.f->labels_n, WAIT_LABELS_MAX);
	assert_int_equal(channels_seen(&h.c, FINDING_JUMP_MISSING), 0);
	assert_int_equal(wait_flow_label(h.f, 0, 3, NULL), WAIT_TWICE);
	end(&h);
}

static void too_many_programs(void **state)
{
	struct hostile h;

	begin(&h);
	for (uint32_t i = 1; i <= WAIT_UNITS_MAX + 5; i++)
		word(&h, 'O', i);
	assert_int_equal(finish(&h, FINDING_FLOW_UNFOLLOWED), 1);
	assert_int_equal(h.f->units, WAIT_UNITS_MAX);
	h.c.flow[h.c.n++] = h.f;
	channels_add(&h.c, "M30\n");
	channels_prove(&h.c);
	assert_int_equal(h.c.result.verdict, VERDICT_CANNOT_TELL);
	channels_end(&h.c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(many_jumps),
	    cmocka_unit_test(runs_over_each_other),
	    cmocka_unit_test(jumps_anywhere),
	    cmocka_unit_test(many_programs),
	    cmocka_unit_test(any_program),
	    cmocka_unit_test(loops),
	    cmocka_unit_test(contours),
	    cmocka_unit_test(too_many_labels),
	    cmocka_unit_test(too_many_programs),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
