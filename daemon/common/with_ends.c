#include "with_ends.h"

#include <errno.h>
#include <stdlib.h>
#include "ends.h"
#include "sha256.h"

enum { PIECE = 16384 };

struct with_ends {
	int (*put)(void *ctx, const void *bytes, size_t n);
	void *ctx;
	bool as_is;
	struct ends ends;
	struct sha256 *sum;
	uint64_t size;
	uint8_t out[ENDS_GROW * PIECE];
};

struct with_ends *with_ends_new(
    enum line_ends ends, int (*put)(void *ctx, const void *bytes, size_t n), void *ctx)
{
	struct with_ends *w = calloc(1, sizeof(*w));

	if (!w)
		return NULL;
	w->put = put;
	w->ctx = ctx;
	w->as_is = ends == LINE_ENDS_AS_IS;
	ends_begin(&w->ends, ends == LINE_ENDS_CRLF ? "\r\n" : "\n");
	w->sum = sha256_new();
	if (!w->sum) {
		free(w);
		return NULL;
	}
	return w;
}

static int pass(struct with_ends *w, const void *bytes, size_t n)
{
	w->size += n;
	if (w->size > YOKE_PROGRAM_MAX)
		return -EFBIG;
	return sha256_add(w->sum, bytes, n) ? -EIO : w->put(w->ctx, bytes, n);
}

int with_ends_add(struct with_ends *w, const void *bytes, size_t n)
{
	const uint8_t *p = bytes;
	int rc = 0;

	if (w->as_is)
		return n ? pass(w, bytes, n) : 0;
	while (n && !rc) {
		size_t piece = n < PIECE ? n : PIECE, made = ends_feed(&w->ends, p, piece, w->out);

		rc = made ? pass(w, w->out, made) : 0;
		p += piece;
		n -= piece;
	}
	return rc;
}

int with_ends_done(struct with_ends *w, struct sha *sha, uint64_t *size)
{
	*size = w->size;
	return sha256_end(w->sum, sha->b) ? -EIO : 0;
}

void with_ends_free(struct with_ends *w)
{
	if (!w)
		return;
	sha256_free(w->sum);
	free(w);
}
