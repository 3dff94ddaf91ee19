#include "change_label.h"

#include <stdlib.h>
#include <string.h>

enum { REFS_MAX = 1 << 16 };

/* A block's number, with the part of the file that it stands in: from one program number on to the
 * next. */
struct label {
	uint32_t part, number;
	size_t block, rank;
};

struct labels {
	struct label *v;
	size_t n, cap;
};

static bool digit(char c)
{
	return c >= '0' && c <= '9';
}

static void blanks(struct change_span *s)
{
	while (s->n > 0 && (*s->s == ' ' || *s->s == '\t' || *s->s == '\0' || *s->s == '\x7f')) {
		s->s++;
		s->n--;
	}
}

static void skip(struct change_span *s, size_t n)
{
	s->s += n;
	s->n -= n;
}

/* The N number in front of a block, behind a slash or before it; the rest stays in *s. */
static bool take_number(struct change_span *s, uint32_t *number)
{
	uint64_t n = 0;
	size_t i = 1;

	blanks(s);
	if (s->n < 2 || (*s->s != 'N' && *s->s != 'n'))
		return false;
	while (i < s->n && s->s[i] == ' ')
		i++;
	if (i == s->n || !digit(s->s[i]))
		return false;
	for (; i < s->n && digit(s->s[i]); i++)
		n = n < UINT32_MAX ? n * 10 + (uint64_t)(s->s[i] - '0') : n;
	*number = n < UINT32_MAX ? (uint32_t)n : UINT32_MAX;
	skip(s, i);
	blanks(s);
	return true;
}

static void take_slash(struct change_span *s)
{
	blanks(s);
	if (s->n > 0 && *s->s == '/') {
		skip(s, 1);
		if (s->n > 0 && digit(*s->s))
			skip(s, 1);
		blanks(s);
	}
}

bool change_label_renumbered(struct change_span a, struct change_span b)
{
	struct change_span x = a, y = b;
	uint32_t m = 0, n = 0;
	bool has_m, has_n;

	take_slash(&x);
	take_slash(&y);
	/* What stands in front of the number, a slash, is the same. */
	if (x.s - a.s != y.s - b.s || memcmp(a.s, b.s, (size_t)(x.s - a.s)) != 0)
		return false;
	has_m = take_number(&x, &m);
	has_n = take_number(&y, &n);
	return (has_m != has_n || m != n) && change_lines_same(x, y);
}

static bool number_block(struct change_span s)
{
	return s.n > 1 && (*s.s == 'O' || *s.s == 'o' || *s.s == ':') &&
	       (digit(s.s[1]) || s.s[1] == '<');
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

static int refs_of(const struct change_canon *c, size_t block, struct change_refs *out)
{
	for (size_t i = 0; i + 1 < c->n; i++) {
		bool jump = c->n - i > 4 && memcmp(c->s + i, "GOTO", 4) == 0;
		size_t name = jump ? 4 : 1;
		uint32_t number;
		size_t n;

		if (!jump && ((c->s[i] != 'P' && c->s[i] != 'Q') || !leads(c, c->s[i])))
			continue;
		n = digits_of(c, i, name, &number);
		if (n > 0 && add_ref(out, (struct change_ref){block, number, (uint32_t)(i + name),
		                              (uint32_t)n, CHANGE_LABEL_NONE, 0}) < 0)
			return -1;
	}
	return 0;
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
	return (a->block > b->block) - (a->block < b->block);
}

static int by_number(const void *va, const void *vb)
{
	uint32_t a = *(const uint32_t *)va, b = *(const uint32_t *)vb;

	return (a > b) - (a < b);
}

/* The labels that some word leads to, by part, number and place; parts[i]: the part of word i. */
static int read_labels(
    const struct change_side *s, const struct change_refs *r, uint32_t *parts, struct labels *out)
{
	uint32_t *wanted = calloc(r->n, sizeof(*wanted));
	uint32_t part = 0, number;
	size_t rank = 0, ref = 0;

	if (!wanted)
		return -1;
	for (size_t i = 0; i < r->n; i++)
		wanted[i] = r->v[i].number;
	qsort(wanted, r->n, sizeof(*wanted), by_number);
	for (size_t i = 0; i < s->blocks; i++) {
		struct change_span text = change_side_block(s, i);
		bool has;

		take_slash(&text);
		has = take_number(&text, &number);
		part += number_block(text);
		for (; ref < r->n && r->v[ref].block == i; ref++)
			parts[ref] = part;
		if (has && bsearch(&number, wanted, r->n, sizeof(*wanted), by_number) &&
		    add_label(out, (struct label){part, number, i, rank}) < 0) {
			free(wanted);
			return -1;
		}
		rank += s->gone[i] == CHANGE_SIDE_COMMON;
	}
	free(wanted);
	if (out->n > 1)
		qsort(out->v, out->n, sizeof(*out->v), by_label);
	return 0;
}

/* The first label of this part and number behind a block, else the first of all. */
static const struct label *lookup(const struct labels *l, uint32_t part, const struct change_ref *r)
{
	struct label key = {part, r->number, r->block, 0};
	size_t low = 0, high = l->n;

	for (int from_start = 0; from_start < 2; from_start++) {
		while (low < high) {
			size_t mid = low + (high - low) / 2;

			if (by_label(&l->v[mid], &key) < 0)
				low = mid + 1;
			else
				high = mid;
		}
		if (low < l->n && l->v[low].part == part && l->v[low].number == r->number)
			return &l->v[low];
		key.block = 0;
		low = 0;
		high = l->n;
	}
	return NULL;
}

static int resolve(const struct change_side *s, struct change_refs *r)
{
	uint32_t *parts = calloc(r->n, sizeof(*parts));
	struct labels labels = {0};
	int result = -1;

	if (!parts || read_labels(s, r, parts, &labels) < 0)
		goto out;
	for (size_t i = 0; i < r->n; i++) {
		const struct label *l = lookup(&labels, parts[i], &r->v[i]);

		r->v[i].target = l ? l->block : CHANGE_LABEL_NONE;
		r->v[i].rank = l ? l->rank : 0;
	}
	result = 0;
out:
	free(parts);
	free(labels.v);
	return result;
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
	return result < 0 || out->n == 0 ? result : resolve(s, out);
}

void change_label_free(struct change_refs *r)
{
	free(r->v);
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

static bool same_target(const struct change_side *a, const struct change_ref *x,
    const struct change_side *b, const struct change_ref *y)
{
	bool none_x = x->target == CHANGE_LABEL_NONE, none_y = y->target == CHANGE_LABEL_NONE;

	if (none_x || none_y)
		return none_x && none_y && x->number == y->number;
	if (a->gone[x->target] != b->gone[y->target])
		return false;
	if (a->gone[x->target] == CHANGE_SIDE_MOVED)
		return a->hash[x->target] == b->hash[y->target];
	return x->rank == y->rank;
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
