#include "yoke/header.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "facts.h"
#include "identity.h"
#include "nc.h"

/* A revision as it stands in the bytes. */
struct place {
	uint64_t at;
	size_t n;
};

struct seeking {
	const struct profile *profile;
	const char *bytes;
	struct place *v;
	size_t n, cap;
	uint32_t blocks;
	bool firm; /* as in struct identity */
	bool done; /* no header can begin any more */
	bool failed;
};

static void add(struct seeking *f, uint64_t at, size_t n)
{
	const char *first = f->n ? f->bytes + f->v[0].at : NULL;

	if (first && (n != f->v[0].n || strncasecmp(first, f->bytes + at, n)))
		return;
	if (f->n == f->cap) {
		size_t cap = f->cap ? f->cap * 2 : 4;
		struct place *v = reallocarray(f->v, cap, sizeof(*v));

		f->failed = f->failed || !v;
		if (!v)
			return;
		f->v = v;
		f->cap = cap;
	}
	f->v[f->n++] = (struct place){at, n};
}

static void look_at(struct seeking *f, const struct nc_block *b)
{
	const char *s = b->text, *inside;
	const char *end = s + (b->length < IDENTITY_BYTES ? b->length : IDENTITY_BYTES);
	struct pattern_match m;
	size_t n;

	while ((f->firm || (!f->done && !f->n)) && identity_comment(&s, end, &inside, &n)) {
		if ((f->n || !f->done) && pattern_header(f->profile->header, inside, n, &m) &&
		    m.field[PATTERN_REV].s)
			add(f, b->offset + (uint64_t)(m.field[PATTERN_REV].s - b->text),
			    m.field[PATTERN_REV].n);
	}
}

static int take(void *ctx, const struct nc_block *b)
{
	struct seeking *f = ctx;
	struct facts facts;

	if (b->comment)
		look_at(f, b);
	if (f->done)
		return f->failed ? -1 : 0;
	facts_read(&facts, f->profile, b);
	f->blocks++;
	f->done = facts.motion || f->blocks >= IDENTITY_BLOCKS;
	return f->failed ? -1 : 0;
}

static void write_all(
    const struct seeking *f, size_t n, const char *revision, struct text *out)
{
	uint64_t from = 0;

	for (size_t i = 0; i < f->n; i++) {
		text_add(out, f->bytes + from, f->v[i].at - from);
		text_puts(out, revision);
		from = f->v[i].at + f->v[i].n;
	}
	text_add(out, f->bytes + from, n - from);
}

int header_revise(const struct profile *p, const void *bytes, size_t n, const char *revision,
    struct text *out)
{
	struct seeking f = {.profile = p, .bytes = n ? bytes : ""};
	struct nc_reader *reader = nc_reader_new(take, &f);
	struct nc_shape shape;
	int result = -1;

	f.firm = pattern_header_like(p->header, NULL, 0);
	if (!reader || nc_reader_feed(reader, f.bytes, n) || nc_reader_finish(reader, &shape))
		goto out;
	result = f.n && (strlen(revision) != f.v[0].n ||
	                    strncasecmp(f.bytes + f.v[0].at, revision, f.v[0].n));
	if (result) {
		write_all(&f, n, revision, out);
		result = out->failed ? -1 : 1;
	}
out:
	nc_reader_free(reader);
	free(f.v);
	return result;
}
