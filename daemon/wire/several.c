#include "several.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "iso.h"

enum {
	DIGITS_MOST = 18, /* of a number that 64 bits hold */
	FIRST_PARTS = 16,
	NAMES_ROOM = 40, /* bytes that the rest of a list of names may need */
};

static bool is_blank(uint8_t c)
{
	return c == ' ' || c == '\t';
}

static bool is_digit(uint8_t c)
{
	return c >= '0' && c <= '9';
}

bool several_number(const uint8_t *block, size_t n, uint64_t *number)
{
	size_t i = 0, digits = 0;

	while (i < n && is_blank(block[i]))
		i++;
	if (i == n || (block[i] != 'O' && block[i] != ':'))
		return false;
	i++;
	while (i < n && is_blank(block[i]))
		i++;
	for (*number = 0; i < n && is_digit(block[i]); i++, digits++) {
		if (digits == DIGITS_MOST)
			return false;
		*number = *number * 10 + (uint64_t)(block[i] - '0');
	}
	return digits > 0 && (i == n || block[i] != '.');
}

static uint64_t characters(const uint8_t *p, size_t n)
{
	uint64_t found = 0;

	for (size_t i = 0; i < n; i++)
		found += !is_blank(p[i]) && p[i] != ISO_LF;
	return found;
}

/* Bytes of the block at p, its end included. */
static size_t block_size(const uint8_t *p, size_t n)
{
	const uint8_t *end = memchr(p, ISO_LF, n);

	return end ? (size_t)(end - p) + 1 : n;
}

/* While a text is read. */
struct reading {
	struct several *s;
	size_t allocated;
	bool open;           /* the last part may go on */
	size_t in_section;   /* characters since the last % */
	size_t last;         /* where the last % stands */
	size_t before_last;  /* characters of the section before it */
	size_t parts_before; /* parts that begin before it */
	bool text_first;     /* characters stand before the first % */
};

static int begin_part(struct reading *r, struct several_part p)
{
	struct several *s = r->s;

	if (s->parts == r->allocated) {
		size_t want = r->allocated ? 2 * r->allocated : FIRST_PARTS;
		struct several_part *more = reallocarray(s->part, want, sizeof(*more));

		if (!more)
			return -1;
		s->part = more;
		r->allocated = want;
	}
	s->part[s->parts++] = p;
	r->open = true;
	return 0;
}

/* A block, or what follows a % in one. */
static int take_block(struct reading *r, size_t at, size_t n, uint64_t line)
{
	struct several *s = r->s;
	struct several_part p = {.at = at, .size = n, .line = line};
	uint64_t found = characters(s->text + at, n);
	bool room = s->parts < SEVERAL_MOST;

	r->in_section += found;
	p.numbered = several_number(s->text + at, n, &p.number);
	if (room && (p.numbered || (!r->open && found)))
		return begin_part(r, p);
	if (found && s->parts)
		s->part[s->parts - 1].size = at + n - s->part[s->parts - 1].at;
	return 0;
}

static int take_percent(struct reading *r, size_t at, size_t n, uint64_t line)
{
	struct several *s = r->s;
	uint64_t number;

	r->text_first = s->percents == 0 ? r->in_section > 0 : r->text_first;
	r->before_last = r->in_section;
	r->in_section = 0;
	r->open = false;
	r->last = at;
	r->parts_before = s->parts;
	s->percents++;
	s->end = at + n;
	/* Other words behind a % name the tape. */
	return several_number(s->text + at + 1, n - 1, &number) ? take_block(r, at + 1, n - 1, line) : 0;
}

/* What stands behind the last % is no program, unless that one opens the only section. */
static void leave_tail(struct reading *r, size_t n)
{
	struct several *s = r->s;
	bool numbered = false;

	for (size_t i = r->parts_before; i < s->parts; i++)
		numbered = numbered || s->part[i].numbered;
	if (s->percents == 0 || (s->percents == 1 && !r->text_first)) {
		s->end = n;
		return;
	}
	s->behind = characters(s->text + s->end, n - s->end);
	s->cut = r->in_section > 0 && (r->before_last == 0 || numbered);
	s->parts = r->parts_before;
	/* The last of too many parts went on to the end of the text. */
	if (s->parts && s->part[s->parts - 1].at + s->part[s->parts - 1].size > r->last)
		s->part[s->parts - 1].size = r->last - s->part[s->parts - 1].at;
}

int several_read(struct several *s, const uint8_t *text, size_t n)
{
	struct reading r = {.s = s};
	uint64_t line = 1;

	*s = (struct several){.text = text};
	for (size_t at = 0, size; at < n; at += size, line++) {
		size = block_size(text + at, n - at);
		if ((text[at] == '%' ? take_percent(&r, at, size, line)
		                     : take_block(&r, at, size, line)) < 0) {
			several_free(s);
			return -1;
		}
	}
	leave_tail(&r, n);
	return 0;
}

void several_free(struct several *s)
{
	free(s->part);
	*s = (struct several){0};
}

static const uint8_t *bytes_of(const struct several *s, size_t i)
{
	return s->text + s->part[i].at;
}

static bool same_text(const struct several *a, size_t i, const struct several *b, size_t k)
{
	return a->part[i].size == b->part[k].size &&
	       !memcmp(bytes_of(a, i), bytes_of(b, k), a->part[i].size);
}

/* Parts without a number are known by their text alone. */
static bool same_name(const struct several *a, size_t i, const struct several *b, size_t k)
{
	const struct several_part *p = &a->part[i], *q = &b->part[k];

	if (p->numbered != q->numbered)
		return false;
	return p->numbered ? p->number == q->number : same_text(a, i, b, k);
}

static bool expected_twice(const struct several *e, size_t i)
{
	for (size_t k = 0; e->part[i].numbered && k < i; k++)
		if (same_name(e, i, e, k))
			return true;
	return false;
}

/* Which part that came is the expected one: its index, the number of parts when there is none;
 * *twice: there are two, and they differ. What has no number is taken once. */
static size_t find(struct several_match *m, const struct several *e, size_t i,
    const struct several *c, bool *twice)
{
	size_t found = c->parts;

	for (size_t k = 0; k < c->parts && (found == c->parts || e->part[i].numbered); k++) {
		if (!same_name(e, i, c, k) || (m->used[k] && !e->part[i].numbered))
			continue;
		if (found < c->parts && !same_text(c, found, c, k))
			*twice = true;
		if (found == c->parts)
			found = k;
		m->used[k] = true;
	}
	return found;
}

static void note_line(struct several_match *m, uint64_t line)
{
	if (m->line == 0 || line < m->line)
		m->line = line;
}

static void note_difference(
    struct several_match *m, const struct several *e, size_t i, const struct several *c, size_t k)
{
	const uint8_t *a = bytes_of(e, i), *b = bytes_of(c, k);
	size_t n = e->part[i].size < c->part[k].size ? e->part[i].size : c->part[k].size;
	uint64_t line = e->part[i].line;

	for (size_t x = 0; x < n; x++) {
		if (a[x] != b[x]) {
			note_line(m, line);
			return;
		}
		line += a[x] == ISO_LF;
	}
	if (e->part[i].size != c->part[k].size)
		note_line(m, line);
}

static void put(struct several_match *m, const uint8_t *bytes, size_t n)
{
	memcpy(m->text + m->size, bytes, n);
	m->size += n;
}

static void put_part(struct several_match *m, const struct several *c, size_t k)
{
	if (k < c->parts)
		put(m, bytes_of(c, k), c->part[k].size);
}

/* The expected % and what came for each expected part. */
static int compose(
    struct several_match *m, const struct several *e, const struct several *c, const size_t *of)
{
	static const uint8_t percent[] = "%\n";
	size_t room = 2 * e->percents + 4, next = 0;

	for (size_t i = 0; i < e->parts; i++)
		room += of[i] < c->parts ? c->part[of[i]].size : 0;
	m->text = malloc(room);
	if (!m->text)
		return -1;
	if (e->percents < 2)
		put(m, percent, 2);
	for (size_t at = 0; at < e->end; at += block_size(e->text + at, e->end - at)) {
		bool opens = e->text[at] == '%',
		     begins = next < e->parts && e->part[next].at == at + opens;

		if (opens && e->percents >= 2)
			put(m, percent, begins && of[next] < c->parts ? 1 : 2);
		if (begins)
			put_part(m, c, of[next++]);
	}
	if (e->percents < 2)
		put(m, percent, 2);
	return 0;
}

/* What part e[i] makes of the whole. */
static void weigh(
    struct several_match *m, const struct several *e, size_t i, bool found, bool twice)
{
	enum several_way way = twice ? SEVERAL_TWICE : found ? SEVERAL_ALL : SEVERAL_SOME;

	if (m->way >= way)
		return;
	m->way = way;
	m->numbered = e->part[i].numbered;
	m->number = e->part[i].number;
}

int several_match(
    struct several_match *m, const struct several *expected, const struct several *came)
{
	const struct several *e = expected, *c = came;
	size_t *of = calloc(e->parts + 1, sizeof(*of)), found = 0;

	*m = (struct several_match){.plain = e->parts == c->parts};
	m->used = calloc(c->parts + 1, sizeof(*m->used));
	if (!of || !m->used)
		goto err;
	for (size_t i = 0; i < e->parts; i++) {
		bool twice = expected_twice(e, i);

		of[i] = find(m, e, i, c, &twice);
		found += of[i] < c->parts;
		m->plain = m->plain && of[i] == i;
		weigh(m, e, i, of[i] < c->parts, twice);
		if (of[i] < c->parts)
			note_difference(m, e, i, c, of[i]);
		else
			note_line(m, e->part[i].line);
	}
	if (m->way != SEVERAL_TWICE && found == 0)
		m->way = SEVERAL_NONE;
	if (m->way <= SEVERAL_SOME && compose(m, e, c, of) < 0)
		goto err;
	free(of);
	return 0;
err:
	free(of);
	several_match_free(m);
	return -1;
}

void several_match_free(struct several_match *m)
{
	free(m->used);
	free(m->text);
	*m = (struct several_match){0};
}

void several_name(const struct several_part *p, char out[SEVERAL_NAME])
{
	out[0] = '\0';
	if (p->numbered)
		snprintf(out, SEVERAL_NAME, "O%04" PRIu64, p->number);
}

size_t several_names(const struct several *s, const bool *skip, char *out, size_t size)
{
	size_t n = 0, all = 0, told = 0;

	if (size)
		out[0] = '\0';
	for (size_t i = 0; i < s->parts; i++) {
		char name[SEVERAL_NAME];

		if (skip && skip[i])
			continue;
		all++;
		several_name(&s->part[i], name);
		if (n + SEVERAL_NAME + NAMES_ROOM > size)
			continue;
		n += (size_t)snprintf(out + n, size - n, "%s%s", told++ ? ", " : "",
		    *name ? name : "one without a number");
	}
	if (told < all && n < size)
		snprintf(out + n, size - n, "%s%zu more", told ? " and " : "", all - told);
	return all;
}
