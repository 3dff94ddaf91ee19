#include "change_words.h"

#include <string.h>
#include "change_code.h"

static bool letter(char c)
{
	return c >= 'A' && c <= 'Z';
}

static bool keyword(const char *s, size_t n)
{
	static const char *const words[] = {"IF", "GOTO", "WHILE", "DO", "END", "THEN"};

	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		if (n >= strlen(words[i]) && memcmp(s, words[i], strlen(words[i])) == 0)
			return true;
	return false;
}

/* A number, behind which a slash can be no division: the rest of the block may be skipped. */
static bool plain_value(const char *s, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (!strchr("0123456789.-", s[i]) || s[i] == '\0')
			return false;
	return n > 0;
}

/* Where the value that begins at i ends: at the next letter outside brackets that begins a word. */
static size_t value_end(const char *s, size_t i, size_t n)
{
	size_t depth = 0, from = i;

	while (i < n && letter(s[i])) /* a function's name */
		i++;
	for (; i < n; i++) {
		if (s[i] == '[')
			depth++;
		else if (s[i] == ']' && depth > 0)
			depth--;
		else if (depth == 0 && (letter(s[i]) || s[i] == '%' || s[i] == '('))
			break;
		else if (depth == 0 && s[i] == '/' && plain_value(s + from, i - from))
			break;
	}
	return i;
}

static size_t word_end(const char *s, size_t i, size_t n, struct change_word *w)
{
	w->letter = s[i];
	w->flow = false;
	if (s[i] == '%')
		return i + 1;
	if (s[i] == '/' && i == 0)
		return i + 2 < n ? i + 2 : n;
	if (s[i] == '/')
		return i + 1 < n && s[i + 1] >= '0' && s[i + 1] <= '9' ? i + 2 : i + 1;
	if (s[i] == '#' || keyword(s + i, n - i)) {
		w->letter = '#';
		w->flow = true;
		return n;
	}
	if (!letter(s[i])) {
		w->letter = '?';
		return n;
	}
	return value_end(s, i + 1, n);
}

/* A wait written as a call: no other parentheses that are closed are left in a canonical text. */
static size_t call_end(const char *s, size_t i, size_t n)
{
	size_t at = i;
	const char *close;

	while (at < n && letter(s[at]))
		at++;
	if (at < i + 2 || at == n || s[at] != '(')
		return 0;
	close = memchr(s + at, ')', n - at);
	return close ? (size_t)(close - s) + 1 : 0;
}

void change_words_cut(const char *s, size_t n, struct change_block *out)
{
	size_t i = 0;

	out->words = 0;
	while (i < n) {
		struct change_word *w = &out->word[out->words++];
		size_t call = call_end(s, i, n);
		size_t end = call ? call : word_end(s, i, n, w);

		if (call) {
			w->letter = '(';
			w->flow = false;
		}

		if (out->words == CHANGE_WORDS_MAX)
			end = n;
		w->s = s + i;
		w->n = end - i;
		i = end;
	}
}

static bool same(const struct change_word *a, const struct change_word *b)
{
	return a->n == b->n && memcmp(a->s, b->s, a->n) == 0;
}

/* Take words that stand in both off both, each as often as it stands in both; they are left in
 * both_a and both_b, in the order of a and of b. */
static void take_common(struct change_block *a, struct change_block *b, struct change_block *both_a,
    struct change_block *both_b)
{
	bool taken[CHANGE_WORDS_MAX] = {false};
	size_t kept = 0;

	both_a->words = both_b->words = 0;
	for (size_t i = 0; i < a->words; i++) {
		size_t k = 0;

		while (k < b->words && (taken[k] || !same(&a->word[i], &b->word[k])))
			k++;
		if (k == b->words) {
			a->word[kept++] = a->word[i];
			continue;
		}
		taken[k] = true;
		both_a->word[both_a->words++] = a->word[i];
	}
	a->words = kept;
	kept = 0;
	for (size_t k = 0; k < b->words; k++) {
		if (taken[k])
			both_b->word[both_b->words++] = b->word[k];
		else
			b->word[kept++] = b->word[k];
	}
	b->words = kept;
}

/* Give the words of `from` back to `to` whose place among those of their group is another word's in
 * `other`: M200 M201 is not M201 M200. */
static void give_order(const struct profile *p, const struct change_block *from,
    const struct change_block *other, struct change_block *to)
{
	unsigned group[CHANGE_WORDS_MAX], others[CHANGE_WORDS_MAX];

	for (size_t i = 0; i < from->words; i++) {
		group[i] = change_code_group(p, &from->word[i]);
		others[i] = change_code_group(p, &other->word[i]);
	}
	for (size_t i = 0; i < from->words; i++) {
		size_t before = 0, k = 0;

		if (group[i] == CHANGE_CODE_FREE)
			continue;
		for (size_t m = 0; m < i; m++)
			before += group[m] == group[i];
		while (others[k] != group[i] || before-- > 0)
			k++;
		if (!same(&from->word[i], &other->word[k]))
			to->word[to->words++] = from->word[i];
	}
}

static bool point(const struct change_word *w)
{
	return memchr(w->s, '.', w->n) != NULL;
}

static bool plain(const struct change_word *w)
{
	return plain_value(w->s + 1, w->n - 1) && letter(w->letter) &&
	       !strchr("GMTOSNDHL", w->letter);
}

static bool zero(const struct change_word *w)
{
	return w->n == 2 && w->s[1] == '0';
}

/* How many plain words of its letter stand before word i. */
static size_t rank(const struct change_block *b, size_t i)
{
	size_t n = 0;

	for (size_t k = 0; k < i; k++)
		n += b->word[k].letter == b->word[i].letter && plain(&b->word[k]);
	return n;
}

/*
 * A value that has its point on one side only. Zero has none, and means the same with or without.
 * Where a letter stands more than once the first goes with the first, so that the way there and the
 * way back tell the same.
 */
static void find_points(struct change_block *a, struct change_block *b)
{
	for (size_t i = 0; i < a->words; i++) {
		struct change_word *x = &a->word[i];
		size_t before = rank(a, i);

		for (size_t k = 0; k < b->words && plain(x); k++) {
			struct change_word *y = &b->word[k];

			if (x->letter != y->letter || !plain(y) || before-- > 0)
				continue;
			if (point(x) != point(y) && !zero(x) && !zero(y))
				x->kind = y->kind = CHANGE_POINT;
			break;
		}
	}
}

/* A T word on either side: the same tool with another offset. */
static void find_offsets(const struct profile *p, struct change_block *a, struct change_block *b)
{
	struct change_word *x = NULL, *y = NULL;

	for (size_t i = 0; i < a->words; i++)
		if (a->word[i].kind == CHANGE_TOOL && a->word[i].letter == 'T')
			x = &a->word[i];
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].kind == CHANGE_TOOL && b->word[i].letter == 'T')
			y = &b->word[i];
	if (x && y && change_code_offset(p, x, y))
		x->kind = y->kind = CHANGE_OFFSET;
}

/* Make the slashes of a block a change of another kind. True when there are some. */
static bool slashes(struct change_block *b, enum change_kind kind)
{
	bool any = false;

	for (size_t i = 0; i < b->words; i++) {
		if (b->word[i].letter != '/')
			continue;
		b->word[i].kind = kind;
		any = true;
	}
	return any;
}

/* With a slash in front of it, or without, a wait code is met in other settings of the switch. */
static void skip_waits(
    struct change_block *a, struct change_block *b, const struct change_block *both)
{
	for (size_t i = 0; i < both->words; i++) {
		const struct change_word *w = &both->word[i];
		bool skip_a, skip_b;

		if (w->kind != CHANGE_WAIT)
			continue;
		skip_a = slashes(a, CHANGE_WAIT);
		skip_b = slashes(b, CHANGE_WAIT);
		if (!skip_a && !skip_b)
			return;
		a->word[a->words++] = *w;
		b->word[b->words++] = *w;
	}
}

static unsigned kinds(const struct change_block *b)
{
	unsigned bits = 0;

	for (size_t i = 0; i < b->words; i++)
		bits |= 1u << b->word[i].kind;
	return bits;
}

static void set_kinds(
    const struct profile *p, const struct change_code_context *context, struct change_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		b->word[i].kind = change_code_kind(p, context, &b->word[i]);
}

void change_words_compare(const struct profile *p, const struct change_canon *old_canon,
    const struct change_canon *new_canon, struct change_words *out)
{
	struct change_block *a = &out->old_block, *b = &out->new_block;
	struct change_block both_a, both_b;
	struct change_code_context context;

	out->none_old = !old_canon;
	out->none_new = !new_canon;
	a->words = b->words = 0;
	if (old_canon)
		change_words_cut(old_canon->s, old_canon->n, a);
	if (new_canon)
		change_words_cut(new_canon->s, new_canon->n, b);
	change_code_context(p, a, b, &context);
	take_common(a, b, &both_a, &both_b);
	set_kinds(p, &context, &both_a);
	give_order(p, &both_a, &both_b, a);
	give_order(p, &both_b, &both_a, b);
	set_kinds(p, &context, a);
	set_kinds(p, &context, b);
	skip_waits(a, b, &both_a);
	find_offsets(p, a, b);
	find_points(a, b);
	out->kinds = kinds(a) | kinds(b);
}

static bool say_side(const struct change_block *b, enum change_kind kind, struct text *out)
{
	bool any = false;

	for (size_t i = 0; i < b->words; i++) {
		if (b->word[i].kind != kind)
			continue;
		text_putc(out, ' ');
		text_visible(out, b->word[i].s, b->word[i].n < 200 ? b->word[i].n : 200);
		any = true;
	}
	return any;
}

void change_words_say(const struct change_words *w, enum change_kind kind, struct text *out)
{
	struct text new_words = {0};
	bool was, is;

	text_puts(out, change_name(kind));
	was = say_side(&w->old_block, kind, out);
	is = say_side(&w->new_block, kind, &new_words);
	if (was && is)
		text_puts(out, " ->");
	text_add(out, new_words.s ? new_words.s : "", new_words.n);
	out->failed |= new_words.failed;
	if (!was)
		text_puts(out, " added");
	else if (!is)
		text_puts(out, " removed");
	text_free(&new_words);
}

void change_words_list(const struct change_words *w, enum change_kind kind, struct text *out)
{
	text_puts(out, change_name(kind));
	say_side(&w->new_block, kind, out);
}

unsigned change_words_alike(const struct change_block *a, const struct change_block *b)
{
	unsigned equal = 0, letters = 0;

	for (size_t i = 0; i < a->words; i++) {
		bool word = false, name = false;

		for (size_t k = 0; k < b->words; k++) {
			word |= same(&a->word[i], &b->word[k]);
			name |= a->word[i].letter == b->word[k].letter;
		}
		equal += word;
		letters += name;
	}
	return equal * 4 + letters;
}
