#include "change_side.h"

#include <stdlib.h>
#include "nc.h"

struct reading {
	struct change_side *side;
	struct change_canon canon;
};

static int grow(struct change_side *s)
{
	size_t cap = s->cap ? s->cap + s->cap / 2 : 256;
	uint64_t *hash = reallocarray(s->hash, cap, sizeof(*hash));
	uint32_t *offset, *line;

	if (!hash)
		return -1;
	s->hash = hash;
	offset = reallocarray(s->offset, cap, sizeof(*offset));
	if (!offset)
		return -1;
	s->offset = offset;
	line = reallocarray(s->line, cap, sizeof(*line));
	if (!line)
		return -1;
	s->line = line;
	s->cap = cap;
	return 0;
}

static int take(void *ctx, const struct nc_block *b)
{
	struct reading *r = ctx;
	struct change_side *s = r->side;

	if (change_canon_block(&r->canon, b->text, b->length) < 0)
		return -1;
	if (r->canon.n == 0)
		return 0;
	if (s->blocks == s->cap && grow(s) < 0)
		return -1;
	s->hash[s->blocks] = change_canon_hash(&r->canon);
	s->offset[s->blocks] = (uint32_t)b->offset;
	s->line[s->blocks] = (uint32_t)b->line;
	s->blocks++;
	return 0;
}

int change_side_read(struct change_side *s, const char *bytes, size_t n, const char *call)
{
	struct reading r = {.side = s, .canon.call = call};
	struct nc_reader *reader = nc_reader_new(take, &r);
	struct nc_shape shape;
	int result = -1;

	*s = (struct change_side){.bytes = bytes, .n = n, .call = call};
	if (!reader || n > UINT32_MAX)
		goto out;
	if (nc_reader_feed(reader, bytes, n) != 0 || nc_reader_finish(reader, &shape) != 0)
		goto out;
	s->gone = calloc(s->blocks + 1, 1);
	if (s->gone)
		result = 0;
out:
	change_canon_free(&r.canon);
	nc_reader_free(reader);
	return result;
}

struct change_span change_side_span(const struct change_side *s, ptrdiff_t i, size_t k)
{
	size_t from = i < 0 ? 0 : (size_t)i < s->blocks ? s->offset[i] : s->n;
	size_t to = k < s->blocks ? s->offset[k] : s->n;

	return (struct change_span){s->bytes + from, to - from};
}

struct change_span change_side_block(const struct change_side *s, size_t i)
{
	return change_lines_first(change_side_span(s, (ptrdiff_t)i, i + 1));
}

void change_side_free(struct change_side *s)
{
	free(s->hash);
	free(s->offset);
	free(s->line);
	free(s->gone);
	*s = (struct change_side){0};
}
