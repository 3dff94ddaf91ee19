/*
 * Both programs become sequences of block hashes; the smallest difference of the sequences is
 * walked from one common block to the next; what stands between two common blocks is a region, in
 * which blocks were taken out and put in and comments may differ. Hashes only propose: a pair of
 * common blocks whose bytes differ is compared in full. Blocks that stand in another place are told
 * at the end, as moved; sequence numbers, and jumps that follow them, are no change.
 */
#include "yoke/change.h"

#include <stdlib.h>
#include <string.h>
#include "change_comment.h"
#include "change_diff.h"
#include "change_hunk.h"
#include "change_keep.h"
#include "change_label.h"
#include "change_move.h"
#include "change_side.h"
#include "change_words.h"
#include "nc.h"

#define NONE ((size_t)-1)

static const char beyond[] = "code: beyond what is read of so long a block";
static const char leads_elsewhere[] = "flow: the sequence number that is named stands elsewhere";

struct walk {
	const struct profile *profile;
	struct change_side a,
	    b;        /* in an order of their own, so that both directions give the same counts */
	bool swapped; /* a is the new program */
	struct change_keep keep;
	struct change_canon canon_a, canon_b;
	struct change_words words;
	uint64_t hunk_work; /* see change_hunk_pair */
	struct change_refs refs_a, refs_b;
	struct change_move *move;
	size_t moves;
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

static bool long_line(struct change_span a, struct change_span b)
{
	return a.n > NC_LINE_MAX || b.n > NC_LINE_MAX;
}

/* Tell what differs between two blocks, one change for each kind. One of them may be NONE. */
static int tell_pair(void *ctx, size_t ia, size_t ib)
{
	struct walk *w = ctx;
	struct change_place a = place_of(&w->a, ia), b = place_of(&w->b, ib);
	const struct change_canon *canon_a = ia == NONE ? NULL : &w->canon_a;
	const struct change_canon *canon_b = ib == NONE ? NULL : &w->canon_b;
	bool numbers = false, leads = true;

	if ((canon_a && change_canon_block(&w->canon_a, a.text.s, a.text.n) < 0) ||
	    (canon_b && change_canon_block(&w->canon_b, b.text.s, b.text.n) < 0))
		return -1;
	if (canon_a && canon_b)
		leads = change_label_same(
		    &w->refs_a, &w->a, ia, canon_a, &w->refs_b, &w->b, ib, canon_b, &numbers);
	if (leads && numbers) {
		w->keep.list->renumbered++;
		return 0;
	}
	if (w->swapped)
		change_words_compare(w->profile, canon_b, canon_a, &w->words);
	else
		change_words_compare(w->profile, canon_a, canon_b, &w->words);
	if (w->words.kinds == 0 && long_line(a.text, b.text))
		return tell_block(w, CHANGE_CODE, beyond, ia, ib);
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
	/* A word that reads the same may lead elsewhere; one that differs was told. */
	if (leads || (w->words.kinds & 1u << CHANGE_FLOW))
		return 0;
	return tell_block(w, CHANGE_FLOW, leads_elsewhere, ia, ib);
}

/* What change_hunk_pair makes of a region; blocks that were moved are told elsewhere. */
static int tell_hunk(void *ctx, size_t ia, size_t ib)
{
	struct walk *w = ctx;

	if (ia != NONE && w->a.gone[ia] == CHANGE_SIDE_MOVED)
		ia = NONE;
	if (ib != NONE && w->b.gone[ib] == CHANGE_SIDE_MOVED)
		ib = NONE;
	return ia == NONE && ib == NONE ? 0 : tell_pair(w, ia, ib);
}

static struct change_place comment_place(
    const struct change_comments *from, const struct change_span *c, bool any)
{
	if (!any)
		return (struct change_place){0, {"", 0}};
	return (struct change_place){change_comment_line(from, c), *c};
}

/* Tell the first comment that differs. 1 when one did, 0 when none did, -1 without memory. */
static int tell_comments(struct walk *w, struct change_comments a, struct change_comments b)
{
	struct change_place place_a, place_b;
	struct change_span x = {0}, y = {0};
	struct text what = {0};
	bool more_a, more_b;

	do {
		more_a = change_comment_next(&a, &x);
		more_b = change_comment_next(&b, &y);
		if (!more_a && !more_b)
			return 0;
	} while (more_a && more_b && x.n == y.n && memcmp(x.s, y.s, x.n) == 0);
	if (!change_keep_wants(&w->keep, CHANGE_COMMENT))
		return 1;
	place_a = comment_place(&a, &x, more_a);
	place_b = comment_place(&b, &y, more_b);
	text_puts(&what, "comment text");
	return add(w, CHANGE_COMMENT, &place_a, &place_b, &what) < 0 ? -1 : 1;
}

/* A pair of common blocks: 1 when their text differs in layout, 0 when not, -1 without memory. */
static int compare_common(struct walk *w, size_t ia, size_t ib)
{
	struct change_span a = change_side_block(&w->a, ia), b = change_side_block(&w->b, ib);

	if (change_lines_same(a, b))
		return 0;
	if (change_label_renumbered(a, b)) {
		w->keep.list->renumbered++;
		return 0;
	}
	if (long_line(a, b))
		return tell_block(w, CHANGE_CODE, beyond, ia, ib);
	if (change_canon_block(&w->canon_a, a.s, a.n) < 0 ||
	    change_canon_block(&w->canon_b, b.s, b.n) < 0)
		return -1;
	if (w->canon_a.n == w->canon_b.n && memcmp(w->canon_a.s, w->canon_b.s, w->canon_a.n) == 0)
		return 1;
	return tell_pair(w, ia, ib);
}

/* A jump that reads the same and leads elsewhere, because blocks were numbered anew. */
static int compare_jumps(struct walk *w, size_t ia, size_t ib)
{
	struct change_span a = change_side_block(&w->a, ia), b = change_side_block(&w->b, ib);
	bool numbers;

	if (w->refs_a.n == 0 && w->refs_b.n == 0)
		return 0;
	if (change_canon_block(&w->canon_a, a.s, a.n) < 0 ||
	    change_canon_block(&w->canon_b, b.s, b.n) < 0)
		return -1;
	if (change_label_same(
	        &w->refs_a, &w->a, ia, &w->canon_a, &w->refs_b, &w->b, ib, &w->canon_b, &numbers))
		return 0;
	return tell_block(w, CHANGE_FLOW, leads_elsewhere, ia, ib);
}

/*
 * One region: the common blocks ia and ib (-1: the beginnings of the files), and all up to the next
 * common blocks, where blocks may have been taken out and put in.
 */
static int region(struct walk *w, ptrdiff_t ia, size_t next_a, ptrdiff_t ib, size_t next_b)
{
	int layout = 0, comments;

	if (ia >= 0 && compare_jumps(w, (size_t)ia, (size_t)ib) < 0)
		return -1;
	if (change_lines_same(
	        change_side_span(&w->a, ia, next_a), change_side_span(&w->b, ib, next_b)))
		return 0;
	comments = tell_comments(
	    w, change_comment_region(&w->a, ia, next_a), change_comment_region(&w->b, ib, next_b));
	if (comments >= 0 && ia >= 0)
		layout = compare_common(w, (size_t)ia, (size_t)ib);
	if (comments < 0 || layout < 0)
		return -1;
	if (layout == 1 && comments == 0 &&
	    tell_block(w, CHANGE_LAYOUT, change_name(CHANGE_LAYOUT), (size_t)ia, (size_t)ib) < 0)
		return -1;
	return change_hunk_pair(&w->a, (size_t)(ia + 1), next_a, &w->b, (size_t)(ib + 1), next_b,
	    &w->hunk_work, tell_hunk, w);
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

/* 1 when block i holds a wait code; its words are then in w->words as those of a new block. */
static int holds_wait(struct walk *w, const struct change_side *s, size_t i)
{
	struct change_span text = change_side_block(s, i);

	if (change_canon_block(&w->canon_a, text.s, text.n) < 0)
		return -1;
	change_words_compare(w->profile, NULL, &w->canon_a, &w->words);
	return (w->words.kinds & 1u << CHANGE_WAIT) != 0;
}

/* Wait codes in front of each move: before[2 * m] in a, before[2 * m + 1] in b. */
static int count_waits(struct walk *w, uint64_t *before)
{
	for (int side = 0; side < 2; side++) {
		const struct change_side *s = side ? &w->b : &w->a;
		uint64_t *at = calloc(s->blocks + 1, sizeof(*at));

		if (!at)
			return -1;
		for (size_t i = 0; i < s->blocks; i++) {
			int wait = holds_wait(w, s, i);

			if (wait < 0) {
				free(at);
				return -1;
			}
			at[i + 1] = at[i] + (uint64_t)wait;
		}
		for (size_t m = 0; m < w->moves; m++)
			before[2 * m + (size_t)side] = at[side ? w->move[m].b : w->move[m].a];
		free(at);
	}
	return 0;
}

/* The wait codes among moved blocks, each by itself. The number told, -1 without memory. */
static int tell_moved_waits(struct walk *w, const struct change_move *m)
{
	int told = 0;

	for (size_t i = 0; i < m->n; i++) {
		struct change_place a = place_of(&w->a, m->a + i), b = place_of(&w->b, m->b + i);
		struct text what = {0};
		int wait = holds_wait(w, &w->a, m->a + i);

		if (wait < 0)
			return -1;
		told += wait;
		if (!wait || !change_keep_wants(&w->keep, CHANGE_WAIT))
			continue;
		change_words_list(&w->words, CHANGE_WAIT, &what);
		text_puts(&what, " moved");
		if (add(w, CHANGE_WAIT, &a, &b, &what) < 0)
			return -1;
	}
	return told;
}

static void blocks(struct text *out, size_t n)
{
	text_printf(out, "%zu block%s", n, n == 1 ? "" : "s");
}

static void lines(struct text *out, const struct change_side *s, size_t first, size_t n)
{
	text_printf(out, " line %u", (unsigned)s->line[first]);
	if (n > 1)
		text_printf(out, "-%u", (unsigned)s->line[first + n - 1]);
}

static int tell_move(struct walk *w, const struct change_move *m, const uint64_t before[2])
{
	struct change_place a = place_of(&w->a, m->a), b = place_of(&w->b, m->b);
	struct text what = {0}, wait = {0};
	int waits;

	if (tell_comments(w, change_comment_moved(&w->a, m->a, m->n),
	        change_comment_moved(&w->b, m->b, m->n)) < 0)
		return -1;
	if (change_keep_wants(&w->keep, CHANGE_MOVED)) {
		text_printf(&what, "%s: ", change_name(CHANGE_MOVED));
		blocks(&what, m->n);
		text_putc(&what, ',');
		lines(&what, w->swapped ? &w->b : &w->a, w->swapped ? m->b : m->a, m->n);
		text_puts(&what, " ->");
		lines(&what, w->swapped ? &w->a : &w->b, w->swapped ? m->a : m->b, m->n);
		if (add(w, CHANGE_MOVED, &a, &b, &what) < 0)
			return -1;
	}
	for (size_t i = 0; i < m->n; i++)
		if (compare_jumps(w, m->a + i, m->b + i) < 0)
			return -1;
	waits = tell_moved_waits(w, m);
	if (waits != 0 || before[0] == before[1] || !change_keep_wants(&w->keep, CHANGE_WAIT))
		return waits < 0 ? -1 : 0;
	/* The channels meet at the same codes, and other work is done between them. */
	text_printf(&wait, "%s: ", change_name(CHANGE_WAIT));
	blocks(&wait, m->n);
	text_printf(&wait, " moved from behind %llu wait code%s to behind %llu",
	    (unsigned long long)before[w->swapped], before[w->swapped] == 1 ? "" : "s",
	    (unsigned long long)before[!w->swapped]);
	return add(w, CHANGE_WAIT, &a, &b, &wait);
}

/* So many jumps that none was followed. */
static int tell_many(struct walk *w)
{
	if (!w->refs_a.many && !w->refs_b.many)
		return 0;
	return tell_block(w, CHANGE_FLOW,
	    "flow: more jumps than can be followed; where they lead was not compared", NONE, NONE);
}

static int tell_moves(struct walk *w)
{
	uint64_t *before;
	int result = 0;

	if (w->moves == 0)
		return 0;
	before = calloc(2 * w->moves, sizeof(*before));
	if (!before || count_waits(w, before) < 0)
		result = -1;
	for (size_t m = 0; m < w->moves && result == 0; m++)
		result = tell_move(w, &w->move[m], &before[2 * m]);
	free(before);
	return result;
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
	const char *call = p->wait_call[0] ? p->wait_call : NULL;
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
	w->canon_a.call = w->canon_b.call = call;
	w->keep = (struct change_keep){.list = out, .limit = limit};
	w->swapped = order(old_bytes, old_n, new_bytes, new_n);
	if (change_side_read(
	        &w->a, w->swapped ? new_bytes : old_bytes, w->swapped ? new_n : old_n, call) < 0 ||
	    change_side_read(
	        &w->b, w->swapped ? old_bytes : new_bytes, w->swapped ? old_n : new_n, call) < 0 ||
	    change_diff(w->a.hash, w->a.blocks, w->a.gone, w->b.hash, w->b.blocks, w->b.gone) < 0 ||
	    change_move_find(&w->a, &w->b, &w->move, &w->moves) < 0 ||
	    change_label_find(&w->a, &w->refs_a) < 0 || change_label_find(&w->b, &w->refs_b) < 0)
		goto out;
	if (w->refs_a.many || w->refs_b.many)
		w->refs_a.n = w->refs_b.n = 0;
	result = walk(w) < 0 || tell_many(w) < 0 ? -1 : tell_moves(w);
	out->sameness = sameness_of(out);
out:
	change_side_free(&w->a);
	change_side_free(&w->b);
	change_canon_free(&w->canon_a);
	change_canon_free(&w->canon_b);
	change_label_free(&w->refs_a);
	change_label_free(&w->refs_b);
	free(w->move);
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
