/*
 * Goal: random programs with calls, repeats, counted loops, jumps and slashes are traced line by
 * line as a simple interpreter executes them, which runs over what was invented and not over its
 * text; and the codes of a trace are those of the walk that a proof makes.
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
#include "trace.h"
#include "walk.h"

enum { SUBS = 4, LINES_MAX = 40, PROGRAMS = 1500 };

static uint64_t random_state = 88172645463325252u;

/* xorshift64: the same programs in every run. */
static uint32_t below(uint32_t n)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return (uint32_t)(random_state >> 24) % n;
}

/* One line, and what it does. */
struct line {
	enum {
		MOVE,
		NOTE,
		WAIT,
		CALL,
		RESET,
		WHILE,
		COUNT,
		END,
		JUMP,
		LABEL,
		IF,
		RETURN,
		STOP
	} what;
	unsigned skip;   /* level, 0 none */
	unsigned a;      /* code, program, variable or label */
	unsigned b;      /* repeats, or how often a loop runs */
	unsigned to;     /* the line of a loop's other end, or of a label */
	unsigned number; /* in the text, from 1 */
};

struct program {
	struct line line[LINES_MAX];
	unsigned lines;
};

static struct program sub[SUBS];
static char text[16384];
static size_t text_n;

static struct line *add(struct program *p, int what, unsigned a, unsigned b)
{
	struct line *l = &p->line[p->lines++];

	assert_true(p->lines <= LINES_MAX);
	*l = (struct line){.what = what, .a = a, .b = b};
	return l;
}

static void invent_plain(struct program *p, unsigned s)
{
	unsigned dice = below(8);
	struct line *l;

	if (dice == 7 && s + 1 < SUBS)
		l = add(p, CALL, s + 1 + below(SUBS - s - 1), 1 + below(3));
	else
		l = add(p, dice < 3 ? MOVE : dice < 4 ? NOTE : WAIT, 200 + below(20), 0);
	if (l->what != NOTE && below(4) == 0)
		l->skip = 1 + below(2);
}

/* A loop that runs b times over variable a; a jump or a condition over some lines. */
static void invent_block(struct program *p, unsigned s, unsigned depth)
{
	unsigned variable = s * 3 + depth, begin, label = 10 * p->lines + 5, kind = below(3), jump;

	if (kind == 0) {
		add(p, RESET, variable, 0);
		begin = p->lines;
		add(p, WHILE, variable, below(4));
		for (unsigned i = below(3); i; i--)
			invent_plain(p, s);
		if (depth < 3 && below(2))
			invent_block(p, s, depth + 1);
		add(p, COUNT, variable, 0);
		add(p, END, depth, 0)->to = begin;
		p->line[begin].to = p->lines;
		return;
	}
	jump = p->lines;
	add(p, kind == 1 ? JUMP : IF, label, below(2));
	for (unsigned i = below(4); i; i--)
		invent_plain(p, s);
	p->line[jump].to = p->lines;
	add(p, LABEL, label, 0);
}

/* Program s calls only later ones: no recursion. */
static void invent(void)
{
	for (unsigned s = 0; s < SUBS; s++) {
		struct program *p = &sub[s];

		p->lines = 0;
		for (unsigned i = 1 + below(4); i; i--) {
			invent_plain(p, s);
			if (p->lines < LINES_MAX - 26 && below(2))
				invent_block(p, s, 1);
		}
		add(p, s ? RETURN : STOP, 0, 0);
	}
}

static void __attribute__((format(printf, 1, 2))) say(const char *format, ...)
{
	va_list ap;
	int n;

	va_start(ap, format);
	n = vsnprintf(text + text_n, sizeof(text) - text_n, format, ap);
	va_end(ap);
	assert_true(n >= 0 && (size_t)n < sizeof(text) - text_n);
	text_n += (size_t)n;
}

static void write_line(const struct line *l, unsigned depth)
{
	if (l->skip)
		say("/%u ", l->skip);
	switch (l->what) {
	case MOVE:
		say("G1 X%u. Z-%u.5", l->a, l->a);
		break;
	case NOTE:
		say("(NOTE %u)", l->a);
		break;
	case WAIT:
		say("M%u", l->a);
		break;
	case CALL:
		say("M98 P%u L%u", l->a + 1, l->b);
		break;
	case RESET:
		say("#%u=0", l->a);
		break;
	case WHILE:
		say("WHILE [#%u LT %u] DO%u", l->a, l->b, depth);
		break;
	case COUNT:
		say("#%u=#%u+1", l->a, l->a);
		break;
	case END:
		say("END%u", l->a);
		break;
	case JUMP:
		say("GOTO %u", l->a);
		break;
	case IF:
		say("IF [%u EQ 1] GOTO %u", l->b, l->a);
		break;
	case LABEL:
		say("N%u", l->a);
		break;
	case RETURN:
		say("M99");
		break;
	case STOP:
		say("M30");
		break;
	}
	say(below(8) ? "\n" : "\r\n");
}

static void write_text(void)
{
	unsigned number = 2;

	text_n = 0;
	say("%%\n");
	for (unsigned s = 0; s < SUBS; s++) {
		unsigned depth = 0;

		say("O%u\n", s + 1);
		for (unsigned i = 0; i < sub[s].lines; i++) {
			struct line *l = &sub[s].line[i];

			depth += l->what == WHILE;
			depth -= l->what == END;
			l->number = ++number;
			write_line(l, depth);
		}
		number++;
	}
	say("%%\n");
}

/* Lines and codes, in order. */
struct list {
	int v[200000];
	size_t n;
};

static struct list expected, seen;

static void note(struct list *l, int v)
{
	assert_true(l->n < sizeof(l->v) / sizeof(l->v[0]));
	l->v[l->n++] = v;
}

/* Codes are noted as their negative. */
static void interpret(unsigned s, uint32_t on, unsigned variable[16])
{
	const struct program *p = &sub[s];
	unsigned i = 0;

	note(&expected, (int)p->line[0].number - 1); /* O */
	while (i < p->lines) {
		const struct line *l = &p->line[i++];

		if (l->skip && on >> l->skip & 1)
			continue;
		note(&expected, (int)l->number);
		switch (l->what) {
		case WAIT:
			note(&expected, -(int)l->a);
			break;
		case CALL:
			for (unsigned k = 0; k < l->b; k++)
				interpret(l->a, on, variable);
			break;
		case RESET:
			variable[l->a] = 0;
			break;
		case COUNT:
			variable[l->a]++;
			break;
		case WHILE:
			if (variable[l->a] >= l->b)
				i = l->to;
			break;
		case END:
		case JUMP:
			i = l->to;
			break;
		case IF:
			i = l->b == 1 ? l->to : i;
			break;
		case RETURN:
		case STOP:
			return;
		case MOVE:
		case NOTE:
		case LABEL:
			break;
		}
	}
}

static void trace_all(const struct channels *c, uint32_t on)
{
	struct wait_run run = {.on = on};
	struct trace *t = trace_new(c->flow[0], text, text_n, &run);
	struct trace_step step;

	assert_non_null(t);
	do {
		assert_int_equal(trace_next(t, &step), 0);
		if (step.kind == TRACE_BLOCK)
			note(&seen, (int)step.block->line);
		else if (step.kind == TRACE_STOP)
			note(&seen, -(int)step.code->code);
	} while (step.kind <= TRACE_STOP);
	assert_int_equal(step.kind, TRACE_END);
	trace_free(t);
}

/* The codes of the trace in seen are those of the walk of a proof. */
static void same_codes(const struct channels *c, uint32_t on)
{
	struct wait_walk w;
	size_t i = 0;

	assert_true(wait_walk_begin(&w, c->flow[0], false));
	wait_walk_restart(&w, on);
	while (wait_walk_next(&w) == WAIT_WALK_CODE) {
		while (i < seen.n && seen.v[i] >= 0)
			i++;
		assert_true(i < seen.n);
		assert_int_equal(-seen.v[i++], wait_walk_code(&w)->code);
	}
	assert_int_equal(w.kind, WAIT_WALK_END);
	while (i < seen.n)
		assert_true(seen.v[i++] >= 0);
	wait_walk_end(&w);
}

static void check(const struct channels *c, uint32_t on)
{
	unsigned variable[16] = {0};

	expected.n = seen.n = 0;
	note(&expected, 1); /* % */
	interpret(0, on, variable);
	trace_all(c, on);
	for (size_t i = 0; i < expected.n && i < seen.n; i++)
		if (expected.v[i] != seen.v[i])
			fail_msg("switches %x, place %zu: line %d, want %d, in:\n%s", on, i,
			    seen.v[i], expected.v[i], text);
	assert_int_equal(seen.n, expected.n);
	same_codes(c, on);
}

static void test_random(void **state)
{
	size_t codes = 0;

	for (int i = 0; i < PROGRAMS; i++) {
		struct channels c;

		invent();
		write_text();
		channels_begin(&c);
		channels_add(&c, text);
		for (uint32_t on = 0; on < 8; on += 2)
			check(&c, on);
		for (size_t k = 0; k < seen.n; k++)
			codes += seen.v[k] < 0;
		channels_end(&c);
	}
	assert_true(codes > PROGRAMS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_random),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
