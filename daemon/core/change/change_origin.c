/*
 * Only the last version is kept, with the origin of each of its blocks. The next version asks for each
 * of its blocks which one of the last version it is (change_match.h), and takes over its origin.
 */
#include "yoke/origin.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include "change_front.h"
#include "change_match.h"

struct origin {
	uint32_t version, line, before;
};

struct change_origin {
	const struct profile *profile;
	struct change_side side; /* the last version */
	struct origin *origin;   /* one for each of its blocks */
	uint32_t versions;
};

/* What a query asks for. */
struct wanted {
	bool has_number;
	uint32_t number;
	struct change_canon canon; /* n 0: no words */
};

static const char *call_of(const struct change_origin *o)
{
	return o->profile->wait_call[0] ? o->profile->wait_call : NULL;
}

struct change_origin *change_origin_new(const struct profile *p)
{
	struct change_origin *o = calloc(1, sizeof(*o));

	if (o)
		o->profile = p;
	return o;
}

void change_origin_free(struct change_origin *o)
{
	if (!o)
		return;
	change_side_free(&o->side);
	free(o->origin);
	free(o);
}

static void inherit(const struct change_origin *o, const struct change_side *side,
    const struct change_match *match, struct origin *to)
{
	for (size_t i = 0; i < side->blocks; i++) {
		const struct change_match *m = &match[i];

		if (o->versions > 0 && m->same != CHANGE_MATCH_NONE)
			to[i] = o->origin[m->same];
		else if (o->versions > 0 && m->before != CHANGE_MATCH_NONE)
			to[i] = (struct origin){o->versions, side->line[i], o->side.line[m->before]};
		else
			to[i] = (struct origin){o->versions, side->line[i], 0};
	}
}

int change_origin_add(struct change_origin *o, const char *bytes, size_t n)
{
	struct change_side side;
	struct change_match *match = NULL;
	struct origin *origin = NULL;

	if (change_side_read(&side, n ? bytes : "", n, call_of(o)) < 0)
		goto fail;
	match = calloc(side.blocks + 1, sizeof(*match));
	origin = calloc(side.blocks + 1, sizeof(*origin));
	if (!match || !origin || (o->versions > 0 && change_match(o->profile, &o->side, &side, match) < 0))
		goto fail;
	inherit(o, &side, match, origin);
	free(match);
	change_side_free(&o->side);
	free(o->origin);
	o->side = side;
	o->origin = origin;
	o->versions++;
	return 0;

fail:
	change_side_free(&side);
	free(match);
	free(origin);
	return -1;
}

/* The sequence number in front of a line, behind a slash if there is one. */
static bool number_of(struct change_span line, uint32_t *number)
{
	change_front_slash(&line);
	return change_front_number(&line, number);
}

/* Of block i: its own, or one that stands alone on a line between it and the block before. */
static bool has_number(const struct change_side *s, size_t i, uint32_t wanted)
{
	struct change_span rest = change_side_span(s, (ptrdiff_t)i - 1, i), line;
	uint32_t number;

	if (number_of(change_side_block(s, i), &number))
		return number == wanted;
	if (i > 0) {
		line = change_lines_first(rest);
		rest.s += line.n;
		rest.n -= line.n;
	}
	while (rest.n > 0) {
		line = change_lines_first(rest);
		if (number_of(line, &number) && number == wanted)
			return true;
		if (line.n < rest.n)
			line.n++; /* its end; what is left of it is an empty line */
		rest.s += line.n;
		rest.n -= line.n;
	}
	return false;
}

static bool hash_fits(const struct change_side *s, size_t i, const struct wanted *w)
{
	return w->canon.n == 0 || s->hash[i] == change_canon_hash(&w->canon);
}

/* 1 when block i is one that is wanted, 0 when not, -1 without memory. */
static int fits(const struct change_side *s, size_t i, const struct wanted *w,
    struct change_canon *canon)
{
	struct change_span block;

	if (!hash_fits(s, i, w) || (w->has_number && !has_number(s, i, w->number)))
		return 0;
	if (w->canon.n == 0)
		return 1;
	block = change_side_block(s, i);
	if (change_canon_block(canon, block.s, block.n) < 0)
		return -1;
	return canon->n == w->canon.n && memcmp(canon->s, w->canon.s, canon->n) == 0;
}

static struct change_origin_place place_of(const struct change_origin *o, size_t i)
{
	struct change_span block = change_side_block(&o->side, i);
	const struct origin *from = &o->origin[i];

	return (struct change_origin_place){
	    o->side.line[i], block.s, block.n, from->version, from->line, from->before};
}

int change_origin_find(struct change_origin *o, const char *query,
    int (*fn)(void *ctx, const struct change_origin_place *place), void *ctx)
{
	struct wanted w = {.canon.call = call_of(o)};
	struct change_canon canon = {.call = call_of(o)};
	struct change_span asked = change_lines_first((struct change_span){query, strlen(query)});
	int found = 0, is = 0;

	w.has_number = number_of(asked, &w.number);
	if (change_canon_block(&w.canon, asked.s, asked.n) < 0)
		found = -1;
	for (size_t i = 0; i < o->side.blocks && found >= 0 && (w.has_number || w.canon.n); i++) {
		struct change_origin_place place = place_of(o, i);

		is = fits(&o->side, i, &w, &canon);
		if (is > 0)
			is = fn(ctx, &place) < 0 ? -1 : 1;
		found = is < 0 ? -1 : found + is;
	}
	change_canon_free(&w.canon);
	change_canon_free(&canon);
	return found;
}
