#include "change_comment.h"

static const char *end_of(const struct change_side *s, size_t i)
{
	struct change_span block = change_side_block(s, i);

	return block.s + block.n;
}

/* From the end of the block before i, so that comments in front of a block go with it. */
static const char *front_of(const struct change_side *s, size_t i)
{
	return i == 0 ? s->bytes : end_of(s, i - 1);
}

static bool went_along(struct change_comments *c, const char *at)
{
	for (; c->i < c->next; c->i++) {
		if (c->side->gone[c->i] != CHANGE_SIDE_MOVED || end_of(c->side, c->i) <= at)
			continue;
		return front_of(c->side, c->i) <= at;
	}
	return false;
}

bool change_comment_next(struct change_comments *c, struct change_span *comment)
{
	while (change_lines_comment(&c->rest, comment))
		if (!went_along(c, comment->s) &&
		    !change_canon_calls(c->side->call, c->whole.s, comment->s))
			return true;
	return false;
}

struct change_comments change_comment_region(const struct change_side *s, ptrdiff_t i, size_t next)
{
	struct change_comments c = {.side = s, .whole = change_side_span(s, i, next), .next = next};

	c.rest = c.whole;
	c.line = i < 0 ? 1 : s->line[i];
	c.i = (size_t)(i + 1);
	return c;
}

struct change_comments change_comment_moved(const struct change_side *s, size_t first, size_t n)
{
	const char *from = front_of(s, first);
	struct change_comments c = {
	    .side = s, .whole = {from, (size_t)(end_of(s, first + n - 1) - from)}};

	c.rest = c.whole;
	c.line = first == 0 ? 1 : s->line[first - 1];
	return c;
}

uint64_t change_comment_line(const struct change_comments *c, const struct change_span *comment)
{
	return c->line + change_lines_count(c->whole.s, (size_t)(comment->s - c->whole.s));
}
