#include "change_label.h"

#include <stdlib.h>
#include <string.h>
#include "change_front.h"
#include "change_label_pass.h"

enum { REFS_MAX = 1 << 18 };

static bool digit(char c)
{
	return c >= '0' && c <= '9';
}

bool change_label_renumbered(struct change_span a, struct change_span b)
{
	struct change_span x = a, y = b;
	uint32_t m = 0, n = 0;
	bool has_m, has_n;

	change_front_slash(&x);
	change_front_slash(&y);
	/* What stands in front of the number, a slash, is the same. */
	if (x.s - a.s != y.s - b.s || memcmp(a.s, b.s, (size_t)(x.s - a.s)) != 0)
		return false;
	has_m = change_front_number(&x, &m);
	has_n = change_front_number(&y, &n);
	return (has_m != has_n || m != n) && change_lines_same(x, y);
}

static int add_ref(struct change_refs *out, struct change_ref r)
{
	if (out->n == REFS_MAX) {
		out->many = true;
		return 0;
	}
	if (out->n == out->cap) {
		size_t cap = out->cap ? out->cap * 2 : 16;
		struct change_ref *v = reallocarray(out->v, cap, sizeof(*v));

		if (!v)
			return -1;
		out->v = v;
		out->cap = cap;
	}
	out->v[out->n++] = r;
	return 0;
}

static int add_call(struct change_refs *out, size_t block, uint32_t number)
{
	if (out->calls == REFS_MAX) {
		out->many = true;
		return 0;
	}
	if (out->calls == out->calls_cap) {
		size_t cap = out->calls_cap ? out->calls_cap * 2 : 16;
		struct change_call *v = reallocarray(out->call, cap, sizeof(*v));

		if (!v)
			return -1;
		out->call = v;
		out->calls_cap = cap;
	}
	out->call[out->calls++] = (struct change_call){block, 0, number};
	return 0;
}

/* The digits behind name, where it stands as a word of its own; 0 when there are none. */
static size_t digits_of(const struct change_canon *c, size_t at, size_t name, uint32_t *number)
{
	uint64_t n = 0;
	size_t i = at + name;

	for (; i < c->n && digit(c->s[i]) && i - at - name < 9; i++)
		n = n * 10 + (uint64_t)(c->s[i] - '0');
	/* #, [ and points make something else of it */
	if (i < c->n && (digit(c->s[i]) || c->s[i] == '.'))
		return 0;
	*number = (uint32_t)n;
	return i - at - name;
}

static bool holds(const struct change_canon *c, const char *word)
{
	size_t n = strlen(word);
	const char *at = memmem(c->s, c->n, word, n);

	return at && ((size_t)(at - c->s) + n == c->n || !(digit(at[n]) || at[n] == '.'));
}

/* P and Q lead to blocks here. */
static bool leads(const struct change_canon *c, char letter)
{
	if (letter == 'P' && (holds(c, "M99") || holds(c, "M97")))
		return true;
	return memchr(c->s, 'P', c->n) && memchr(c->s, 'Q', c->n) &&
	       (holds(c, "G70") || holds(c, "G71") || holds(c, "G72") || holds(c, "G73"));
}

/* Numbers of programs that are called; P30002 may call 2 three times (common practice). */
static int call_of(const struct change_canon *c, size_t at, size_t block, struct change_refs *out)
{
	uint32_t number;

	if (c->s[at] != 'P' || digits_of(c, at, 1, &number) == 0 ||
	    !(holds(c, "M98") || holds(c, "G65") || holds(c, "G66")))
		return 0;
	if (number > 9999 && add_call(out, block, number % 10000) < 0)
		return -1;
	return add_call(out, block, number);
}

static int refs_of(const struct change_canon *c, size_t block, struct change_refs *out)
{
	for (size_t i = 0; i + 1 < c->n; i++) {
		bool jump = c->n - i > 4 && memcmp(c->s + i, "GOTO", 4) == 0;
		struct change_ref r = {.block = block, .target.block = CHANGE_LABEL_NONE};
		size_t name = jump ? 4 : 1;

		if (!jump && c->s[i] != 'P' && c->s[i] != 'Q')
			continue;
		if (!jump && !leads(c, c->s[i])) {
			if (call_of(c, i, block, out) < 0)
				return -1;
			continue;
		}
		r.place = (uint32_t)(i + name);
		r.digits = (uint32_t)digits_of(c, i, name, &r.number);
		r.computed = r.digits == 0;
		r.returns = !jump && holds(c, "M99");
		if (add_ref(out, r) < 0)
			return -1;
	}
	return 0;
}

int change_label_find(const struct change_side *s, struct change_refs *out)
{
	struct change_canon c = {.call = s->call};
	int result = 0;

	for (size_t i = 0; i < s->blocks && result == 0; i++) {
		struct change_span text = change_side_block(s, i);

		/* Few blocks are worth a second look. */
		if (!memchr(text.s, 'P', text.n) && !memchr(text.s, 'p', text.n) &&
		    !memchr(text.s, 'O', text.n) && !memchr(text.s, 'o', text.n))
			continue;
		result = change_canon_block(&c, text.s, text.n);
		if (result == 0)
			result = refs_of(&c, i, out);
	}
	change_canon_free(&c);
	return result < 0 || out->n == 0 ? result : change_label_pass(s, out);
}

void change_label_free(struct change_refs *r)
{
	free(r->v);
	free(r->call);
	*r = (struct change_refs){0};
}

/* The words of one block: their number, *first the first. */
static size_t of_block(const struct change_refs *r, size_t block, const struct change_ref **first)
{
	size_t low = 0, high = r->n, n = 0;

	while (low < high) {
		size_t mid = low + (high - low) / 2;

		if (r->v[mid].block < block)
			low = mid + 1;
		else
			high = mid;
	}
	*first = r->n > 0 ? r->v + low : NULL;
	while (low + n < r->n && r->v[low + n].block == block)
		n++;
	return n;
}

static unsigned char mark(const struct change_side *s, const struct change_entry *e)
{
	return e->block < s->blocks ? s->gone[e->block] : CHANGE_SIDE_COMMON;
}

/* Between the same common blocks, and as many blocks behind the one or before the other. */
static bool same_entry(const struct change_side *a, const struct change_entry *x,
    const struct change_side *b, const struct change_entry *y)
{
	unsigned char of_x = mark(a, x), of_y = mark(b, y);

	if (of_x == CHANGE_SIDE_MOVED && of_y == CHANGE_SIDE_MOVED)
		return a->hash[x->block] == b->hash[y->block];
	if (of_x != of_y && !x->lone && !y->lone)
		return false;
	return x->rank == y->rank && (x->before == y->before || x->after == y->after);
}

static bool same_target(const struct change_side *a, const struct change_ref *x,
    const struct change_side *b, const struct change_ref *y)
{
	bool none_x = x->target.block == CHANGE_LABEL_NONE;
	bool none_y = y->target.block == CHANGE_LABEL_NONE;

	if (x->computed != y->computed || x->called != y->called || x->sign != y->sign)
		return false;
	if (x->computed || x->called)
		return true;
	if (none_x || none_y)
		return none_x && none_y && x->number == y->number;
	return same_entry(a, &x->target, b, &y->target);
}

bool change_label_same(const struct change_refs *ra, const struct change_side *a, size_t ia,
    const struct change_canon *ca, const struct change_refs *rb, const struct change_side *b,
    size_t ib, const struct change_canon *cb, bool *numbers)
{
	const struct change_ref *x, *y;
	size_t n = of_block(ra, ia, &x), at_a = 0, at_b = 0;
	bool same = of_block(rb, ib, &y) == n;

	*numbers = same && n > 0;
	for (size_t i = 0; i < n && same; i++) {
		size_t between = x[i].place - at_a;

		*numbers &= y[i].place - at_b == between &&
		            memcmp(ca->s + at_a, cb->s + at_b, between) == 0;
		same = same_target(a, &x[i], b, &y[i]);
		at_a = x[i].place + x[i].digits;
		at_b = y[i].place + y[i].digits;
	}
	*numbers &=
	    ca->n - at_a == cb->n - at_b && memcmp(ca->s + at_a, cb->s + at_b, ca->n - at_a) == 0;
	return same;
}
