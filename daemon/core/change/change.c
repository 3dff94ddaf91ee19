/*
 * Both programs become sequences of block hashes; the smallest difference of the sequences is
 * walked from one common block to the next; what stands between two common blocks is a region, in
 * which blocks were taken out and put in and comments may differ. Hashes only propose: a pair of
 * common blocks whose bytes differ is compared in full.
 */
#include "yoke/change.h"

#include <stdlib.h>
#include <string.h>
#include "change_diff.h"
#include "change_hunk.h"
#include "change_keep.h"
#include "change_side.h"
#include "change_words.h"
#include "nc.h"

#define NONE ((size_t)-1)

struct walk {
	const struct profile *profile;
	struct change_side a,
	    b;        /* in an order of their own, so that both directions give the same counts */
	bool swapped; /* a is the new program */
	struct change_keep keep;
	struct change_canon canon_a, canon_b;
	struct change_words words;
	uint64_t hunk_work; /* see change_hunk_pair */
};

static struct change_place place_of(const struct change_side *s, size_t i)
{
	if (i == NONE)
		return (struct change_place){0, {"", 0}};
	return (struct change_place){s->line[i], change_side_block(s, i)};
}

static int add(struct walk *w, enum change_kind kind, const struct change_place *a,
    const struct change_place *b, struct text *what)
{
	return w->swapped ? change_keep_add(&w->keep, kind, b, a, what)
	                  : change_keep_add(&w->keep, kind, a, b, what);
}

/* A change of layout, or of a block that is too long to be read to its end. */
static int tell_block(struct walk *w, enum change_kind kind, const char *what, size_t ia, size_t ib)
{
	struct change_place a, b;
	struct text text = {0};

	if (!change_keep_wants(&w->keep, kind))
		return 0;
	a = place_of(&w->a, ia);
	b = place_of(&w->b, ib);
	text_puts(&text, what);
	return add(w, kind, &a, &b, &text);
}

/* Tell what differs between two blocks, one change for each kind. One of them may be NONE. */
static int tell_pair(void *ctx, size_t ia, size_t ib)
{
	struct walk *w = ctx;
	struct change_place a = place_of(&w->a, ia), b = place_of(&w->b, ib);
	const struct change_canon *canon_a = ia == NONE ? NULL : &w->canon_a;
	const struct change_canon *canon_b = ib == NONE ? NULL : &w->canon_b;

	if ((canon_a && change_canon_block(&w->canon_a, a.text.s, a.text.n) < 0) ||
	    (canon_b && change_canon_block(&w->canon_b, b.text.s, b.text.n) < 0))
		return -1;
	if (w->swapped)
		change_words_compare(w->profile, canon_b, canon_a, &w->words);
	else
		change_words_compare(w->profile, canon_a, canon_b, &w->words);
	if (w->words.kinds == 0)
		return tell_block(w, CHANGE_LAYOUT, "layout: the order of words", ia, ib);
	for (int kind = 0; kind < CHANGE_COUNT; kind++) {
		struct text what = {0};

		if (!(w->words.kinds & 1u << kind) ||
		    !change_keep_wants(&w->keep, (enum change_kind)kind))
			continue;
		change_words_say(&w->words, (enum change_kind)kind, &what);
		if (add(w, (enum change_kind)kind, &a, &b, &what) < 0)
			return -1;
	}
	return 0;
}

/* Where the comment c of a region stands; nowhere when there is none. line: of the region's
 * beginning. */
static struct change_place comment_place(
    const struct change_span *region, uint64_t line, const struct change_span *c, bool any)
{
	if (!any)
		return (struct change_place){0, {"", 0}};
	return (struct change_place){
	    line + change_lines_count(region->s, (size_t)(c->s - region->s)), *c};
}

static uint64_t line_at(const struct change_side *s, ptrdiff_t i)
{
	return i < 0 ? 1 : s->line[i];
}

/* Tell the first comment that differs between two regions. 1 when one did, 0 when none did, -1
 * without memory. */
static int tell_comments(struct walk *w, ptrdiff_t ia, size_t next_a, ptrdiff_t ib, size_t next_b)
{
	struct change_span a = change_side_span(&w->a, ia, next_a),
	                   b = change_side_span(&w->b, ib, next_b);
	struct change_span rest_a = a, rest_b = b, x = {0}, y = {0};
	struct change_place place_a, place_b;
	struct text what = {0};
	bool more_a, more_b;

	do {
		more_a = change_lines_comment(&rest_a, &x);
		more_b = change_lines_comment(&rest_b, &y);
		if (!more_a && !more_b)
			return 0;
	} while (more_a && more_b && x.n == y.n && memcmp(x.s, y.s, x.n) == 0);
	if (!change_keep_wants(&w->keep, CHANGE_COMMENT))
		return 1;
	place_a = comment_place(&a, line_at(&w->a, ia), &x, more_a);
	place_b = comment_place(&b, line_at(&w->b, ib), &y, more_b);
	text_puts(&what, "comment text");
	return add(w, CHANGE_COMMENT, &place_a, &place_b, &what) < 0 ? -1 : 1;
}

static bool long_line(struct change_span a, struct change_span b)
{
	return a.n > NC_LINE_MAX || b.n > NC_LINE_MAX;
}

/* A pair of common blocks: 1 when their text differs in layout, 0 when not, -1 without memory. */
static int compare_common(struct walk *w, size_t ia, size_t ib)
{
	struct change_span a = change_side_block(&w->a, ia), b = change_side_block(&w->b, ib);

	if (change_lines_same(a, b))
		return 0;
	if (change_canon_block(&w->canon_a, a.s, a.n) < 0 ||
	    change_canon_block(&w->canon_b, b.s, b.n) < 0)
		return -1;
	if (w->canon_a.n == w->canon_b.n && memcmp(w->canon_a.s, w->canon_b.s, w->canon_a.n) == 0)
		return 1;
	if (long_line(a, b))
		return tell_block(
		    w, CHANGE_CODE, "code: beyond what is read of so long a block", ia, ib);
	return tell_pair(w, ia, ib);
}

/*
 * One region: the common blocks ia and ib (-1: the beginnings of the files), and all up to the next
 * common blocks, where blocks may have been taken out and put in.
 */
static int region(struct walk *w, ptrdiff_t ia, size_t next_a, ptrdiff_t ib, size_t next_b)
{
	int layout = 0, comments;

	if (change_lines_same(
	        change_side_span(&w->a, ia, next_a), change_side_span(&w->b, ib, next_b)))
		return 0;
	comments = tell_comments(w, ia, next_a, ib, next_b);
	if (comments >= 0 && ia >= 0)
		layout = compare_common(w, (size_t)ia, (size_t)ib);
	if (comments < 0 || layout < 0)
		return -1;
	if (layout == 1 && comments == 0 &&
	    tell_block(w, CHANGE_LAYOUT, change_name(CHANGE_LAYOUT), (size_t)ia, (size_t)ib) < 0)
		return -1;
	return change_hunk_pair(&w->a, (size_t)(ia + 1), next_a, &w->b, (size_t)(ib + 1), next_b,
	    &w->hunk_work, tell_pair, w);
}

static int walk(struct walk *w)
{
	ptrdiff_t ia = -1, ib = -1;

	for (;;) {
		size_t next_a = (size_t)(ia + 1), next_b = (size_t)(ib + 1);

		while (next_a < w->a.blocks && w->a.gone[next_a])
			next_a++;
		while (next_b < w->b.blocks && w->b.gone[next_b])
			next_b++;
		if (region(w, ia, next_a, ib, next_b) < 0)
			return -1;
		if (next_a == w->a.blocks || next_b == w->b.blocks)
			return 0;
		ia = (ptrdiff_t)next_a;
		ib = (ptrdiff_t)next_b;
	}
}

static enum change_sameness sameness_of(const struct change_list *l)
{
	for (int k = 0; k < CHANGE_COUNT; k++)
		if (k != CHANGE_COMMENT && k != CHANGE_LAYOUT && l->count[k] > 0)
			return CHANGE_DIFFERENT;
	return CHANGE_SAME_MEANING;
}

/* True when the two must change places to stand in their own order. */
static bool order(const void *a, size_t an, const void *b, size_t bn)
{
	int c = memcmp(a, b, an < bn ? an : bn);

	return c > 0 || (c == 0 && an > bn);
}

int change_compare(const struct profile *p, const void *old_bytes, size_t old_n,
    const void *new_bytes, size_t new_n, size_t limit, struct change_list *out)
{
	struct walk *w;
	int result = -1;

	memset(out, 0, sizeof(*out));
	old_bytes = old_n ? old_bytes : "";
	new_bytes = new_n ? new_bytes : "";
	if (old_n == new_n && memcmp(old_bytes, new_bytes, old_n) == 0)
		return 0;
	out->sameness = CHANGE_SAME_TEXT;
	if (change_lines_same(
	        (struct change_span){old_bytes, old_n}, (struct change_span){new_bytes, new_n}))
		return 0;
	w = calloc(1, sizeof(*w));
	if (!w)
		return -1;
	w->profile = p;
	w->keep = (struct change_keep){.list = out, .limit = limit};
	w->swapped = order(old_bytes, old_n, new_bytes, new_n);
	if (change_side_read(
	        &w->a, w->swapped ? new_bytes : old_bytes, w->swapped ? new_n : old_n) < 0 ||
	    change_side_read(
	        &w->b, w->swapped ? old_bytes : new_bytes, w->swapped ? old_n : new_n) < 0 ||
	    change_diff(w->a.hash, w->a.blocks, w->a.gone, w->b.hash, w->b.blocks, w->b.gone) < 0)
		goto out;
	result = walk(w);
	out->sameness = sameness_of(out);
out:
	change_side_free(&w->a);
	change_side_free(&w->b);
	change_canon_free(&w->canon_a);
	change_canon_free(&w->canon_b);
	free(w);
	if (result < 0)
		change_list_free(out);
	return result;
}

void change_list_free(struct change_list *l)
{
	for (size_t i = 0; i < l->n; i++) {
		free(l->v[i].old_text);
		free(l->v[i].new_text);
		free(l->v[i].what);
	}
	free(l->v);
	memset(l, 0, sizeof(*l));
}
