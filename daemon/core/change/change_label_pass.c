#include "change_label_pass.h"

#include <stdlib.h>
#include "change_front.h"

enum { CALLS_WORK = 1 << 22 };

#define GOLDEN 0x9E3779B97F4A7C15u /* 2^64 over the golden ratio: spreads bits */

/* A number, with the part of the file that it stands in: from one program number on to the next. */
struct label {
	uint32_t part, number;
	struct change_entry at;
};

struct labels {
	struct label *v;
	size_t n, cap;
};

static bool digit(char c)
{
	return c >= '0' && c <= '9';
}

static void skip(struct change_span *s, size_t n)
{
	s->s += n;
	s->n -= n;
}

static bool number_block(struct change_span s)
{
	return s.n > 1 && (*s.s == 'O' || *s.s == 'o' || *s.s == ':') &&
	       (digit(s.s[1]) || s.s[1] == '<');
}

static int add_label(struct labels *l, struct label x)
{
	if (l->n == l->cap) {
		size_t cap = l->cap ? l->cap * 2 : 256;
		struct label *v = reallocarray(l->v, cap, sizeof(*v));

		if (!v)
			return -1;
		l->v = v;
		l->cap = cap;
	}
	l->v[l->n++] = x;
	return 0;
}

static int by_label(const void *va, const void *vb)
{
	const struct label *a = va, *b = vb;

	if (a->part != b->part)
		return a->part < b->part ? -1 : 1;
	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return (a->at.block > b->at.block) - (a->at.block < b->at.block);
}

static int by_call(const void *va, const void *vb)
{
	const struct change_call *a = va, *b = vb;

	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return (a->part > b->part) - (a->part < b->part);
}

static int by_number(const void *va, const void *vb)
{
	uint32_t a = *(const uint32_t *)va, b = *(const uint32_t *)vb;

	return (a > b) - (a < b);
}

/* One pass over a program. */
struct pass {
	const struct change_side *side;
	struct change_refs *refs;
	struct labels labels;
	uint32_t *wanted; /* the numbers that some word names, sorted */
	uint32_t part;
	size_t ref, call;   /* of those that still have no part */
	size_t open;        /* the first label that no common block follows yet */
	size_t rank, since; /* common blocks so far; others behind the last of them */
	uint64_t numbers;   /* a hash of all numbers and of where they stand */
};

static uint64_t mix(uint64_t h, uint64_t v)
{
	h = (h ^ v) * GOLDEN;
	return h ^ h >> 29;
}

/* The number that text begins with leads to block i; lone: it stands on a line of its own. */
static int take_label(struct pass *p, struct change_span text, size_t i, bool lone)
{
	struct change_entry at = {(uint32_t)i, (uint32_t)p->rank, (uint32_t)p->since, 0, lone};
	uint32_t number;

	change_front_slash(&text);
	if (!change_front_number(&text, &number))
		return 0;
	if (lone || p->side->gone[i] == CHANGE_SIDE_COMMON)
		p->numbers = mix(mix(p->numbers, number), mix(p->rank, p->part));
	if (!bsearch(&number, p->wanted, p->refs->n, sizeof(*p->wanted), by_number))
		return 0;
	return add_label(&p->labels, (struct label){p->part, number, at});
}

/* Numbers that stand alone on lines between block i (-1: the beginning of the file) and the next.
 */
static int take_lone(struct pass *p, ptrdiff_t i)
{
	struct change_span gap = change_side_span(p->side, i, (size_t)(i + 1));

	if (i >= 0)
		skip(&gap, change_lines_first(gap).n);
	while (gap.n > 0) {
		struct change_span line = change_lines_first(gap);

		if (take_label(p, line, (size_t)(i + 1), true) < 0)
			return -1;
		skip(&gap, line.n < gap.n ? line.n + 1 : gap.n);
	}
	return 0;
}

/* All labels so far that no common block followed: the next one is block i. */
static void close_labels(struct pass *p, size_t i)
{
	for (; p->open < p->labels.n; p->open++)
		p->labels.v[p->open].at.after = (uint32_t)i - p->labels.v[p->open].at.block;
}

static int take_block(struct pass *p, size_t i)
{
	struct change_span text = change_side_block(p->side, i), rest = text;
	uint32_t number;

	change_front_slash(&rest);
	change_front_number(&rest, &number);
	p->part += number_block(rest);
	for (; p->ref < p->refs->n && p->refs->v[p->ref].block == i; p->ref++)
		p->refs->v[p->ref].part = p->part;
	for (; p->call < p->refs->calls && p->refs->call[p->call].block == i; p->call++)
		p->refs->call[p->call].part = p->part;
	if (take_label(p, text, i, false) < 0)
		return -1;
	if (p->side->gone[i] != CHANGE_SIDE_COMMON) {
		p->since++;
		return 0;
	}
	close_labels(p, i);
	p->rank++;
	p->since = 0;
	return 0;
}

/* Find the labels that some word leads to, sort them by part, number and place. */
static int read_labels(struct pass *p)
{
	const struct change_side *s = p->side;
	int result = -1;

	p->wanted = calloc(p->refs->n, sizeof(*p->wanted));
	if (!p->wanted)
		return -1;
	for (size_t i = 0; i < p->refs->n; i++)
		p->wanted[i] = p->refs->v[i].number;
	qsort(p->wanted, p->refs->n, sizeof(*p->wanted), by_number);
	for (size_t i = 0; i <= s->blocks; i++)
		if (take_lone(p, (ptrdiff_t)i - 1) < 0 || (i < s->blocks && take_block(p, i) < 0))
			goto out;
	close_labels(p, s->blocks);
	if (p->labels.n > 1)
		qsort(p->labels.v, p->labels.n, sizeof(*p->labels.v), by_label);
	result = 0;
out:
	free(p->wanted);
	return result;
}

/* The first label of this part and number from a block on, else the first of all. */
static const struct label *lookup(
    const struct labels *l, uint32_t part, uint32_t number, size_t block)
{
	struct label key = {part, number, {.block = (uint32_t)block}};

	for (int from_start = 0; from_start < 2; from_start++) {
		size_t low = 0, high = l->n;

		while (low < high) {
			size_t mid = low + (high - low) / 2;

			if (by_label(&l->v[mid], &key) < 0)
				low = mid + 1;
			else
				high = mid;
		}
		if (low < l->n && l->v[low].part == part && l->v[low].number == number)
			return &l->v[low];
		key.at.block = 0;
	}
	return NULL;
}

/* The number of each part's program, in order; part 0 has none. */
static uint32_t *programs_of(const struct change_side *s, uint32_t parts)
{
	uint32_t *number = calloc((size_t)parts + 1, sizeof(*number)), part = 0, ignored;

	for (size_t i = 0; number && i < s->blocks; i++) {
		struct change_span text = change_side_block(s, i);
		uint64_t n = 0;

		change_front_slash(&text);
		change_front_number(&text, &ignored);
		if (!number_block(text))
			continue;
		for (size_t k = 1; k < text.n && digit(text.s[k]); k++)
			n = n < UINT32_MAX ? n * 10 + (uint64_t)(text.s[k] - '0') : n;
		number[++part] = (uint32_t)n;
	}
	return number;
}

/* Calls in order of number and part, each once. */
static void sort_calls(struct change_refs *r)
{
	size_t n = 0;

	if (r->calls > 1)
		qsort(r->call, r->calls, sizeof(*r->call), by_call);
	for (size_t i = 0; i < r->calls; i++)
		if (n == 0 || by_call(&r->call[n - 1], &r->call[i]) != 0)
			r->call[n++] = r->call[i];
	r->calls = n;
}

/* Where M99 P leads: into the programs of this file that call its own. False when none does. */
static bool to_callers(struct change_refs *r, struct change_ref *ref, uint32_t program,
    const struct labels *labels, uint64_t *work)
{
	size_t low = 0, high = r->calls;

	while (low < high) {
		size_t mid = low + (high - low) / 2;

		if (r->call[mid].number < program)
			low = mid + 1;
		else
			high = mid;
	}
	ref->called = low < r->calls && r->call[low].number == program;
	for (; low < r->calls && r->call[low].number == program && *work < CALLS_WORK; low++) {
		const struct label *l = lookup(labels, r->call[low].part, ref->number, 0);

		ref->sign =
		    l ? mix(ref->sign, mix(l->at.rank + 1, l->at.before)) : mix(ref->sign, 0);
		++*work;
	}
	r->many |= *work >= CALLS_WORK;
	return ref->called;
}

int change_label_pass(const struct change_side *s, struct change_refs *r)
{
	struct pass p = {.side = s, .refs = r};
	uint32_t *program = NULL;
	uint64_t work = 0;
	int result = -1;

	if (read_labels(&p) < 0 || !(program = programs_of(s, p.part)))
		goto out;
	sort_calls(r);
	for (size_t i = 0; i < r->n; i++) {
		struct change_ref *ref = &r->v[i];
		const struct label *l;

		if (ref->computed)
			ref->sign = p.numbers;
		if (ref->computed || (ref->returns && ref->part > 0 &&
		                         to_callers(r, ref, program[ref->part], &p.labels, &work)))
			continue;
		l = lookup(&p.labels, ref->part, ref->number, ref->block);
		if (l)
			ref->target = l->at;
	}
	result = 0;
out:
	free(program);
	free(p.labels.v);
	return result;
}
