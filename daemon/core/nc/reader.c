/*
 * Bytes in chunks of any size into lines. A line that lies whole in the caller's chunk is read
 * where it lies; only one that crosses the border of a chunk is copied. What is handed out depends
 * on the bytes alone, never on the chunks.
 *
 *     feed -> slice -+-> line in place --+-> hand -> callback
 *                    +-> carry (copied) -+
 *                    +-> runs of plain blocks --> its callback
 */
#include "nc.h"

#include <stdlib.h>
#include <string.h>
#include "line_end.h"
#include "plain.h"
#include "scan.h"
#include "yoke/profile.h"

/* Small enough to stay in the processor's cache between the counting of bytes and the reading of
 * lines. */
enum { SLICE = 128 * 1024 };

enum line_end { END_NONE, END_LF, END_CRLF, END_CR, END_CRCRLF };

static const uint8_t end_length[] = {
    [END_NONE] = 0, [END_LF] = 1, [END_CRLF] = 2, [END_CR] = 1, [END_CRCRLF] = 3};

struct nc_reader {
	nc_block_fn *fn;
	void *ctx;
	int rc;          /* what stopped the reader, 0 while it goes on */
	uint64_t offset; /* of the line to come */
	bool begun;      /* a line with more than filler was seen */
	uint64_t fill;   /* filler bytes since the last such line */
	uint8_t fill_byte;
	bool cr_line;       /* the last line with more than filler ended in CR alone */
	uint64_t empty_run; /* empty lines since the last line that was not */
	struct nc_shape shape;
	nc_plain_fn *plain_fn;
	struct nc_plain_allowed allowed;
	unsigned pause;  /* blocks until plain ones are looked for again */
	unsigned misses; /* short runs in a row, up to PAUSE_MAX */
	struct nc_plain_text plain[NC_PLAIN_MAX];
	struct nc_scan scan;
	char wait_call[PROFILE_CALL_MAX + 1];
	size_t n;    /* bytes of an unfinished line in carry */
	size_t over; /* its bytes beyond NC_LINE_MAX, not kept */
	unsigned cr; /* CRs after it whose meaning the next byte decides: 0 to 2 */
	char carry[NC_LINE_MAX + 1];
};

struct nc_reader *nc_reader_new(nc_block_fn *fn, void *ctx)
{
	struct nc_reader *r = calloc(1, sizeof *r);

	if (r) {
		r->fn = fn;
		r->ctx = ctx;
	}
	return r;
}

void nc_reader_free(struct nc_reader *r)
{
	free(r);
}

void nc_reader_call(struct nc_reader *r, const char *word)
{
	size_t n = strlen(word);

	if (n < sizeof r->wait_call) {
		memcpy(r->wait_call, word, n + 1);
		r->scan.wait_call = r->wait_call;
	}
}

void nc_reader_plain(struct nc_reader *r, nc_plain_fn *fn)
{
	r->plain_fn = fn;
}

void nc_reader_allow(struct nc_reader *r, const struct nc_plain_allowed *allowed)
{
	r->allowed = allowed ? *allowed : (struct nc_plain_allowed){0};
}

/* True when some byte has odd parity. */
static bool odd_parity(const char *p, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (__builtin_parity((unsigned char)p[i]))
			return true;
	return false;
}

/* How many bytes have bit 8 set: most often none. */
static uint64_t high(const char *p, size_t n)
{
	const uint64_t bits = 0x8080808080808080;
	uint64_t count = 0, v[8];

	for (; n >= sizeof v; p += sizeof v, n -= sizeof v) {
		memcpy(v, p, sizeof v);
		if (!((v[0] | v[1] | v[2] | v[3] | v[4] | v[5] | v[6] | v[7]) & bits))
			continue;
		for (size_t i = 0; i < 8; i++)
			count += (uint64_t)__builtin_popcountll(v[i] & bits);
	}
	for (; n; n--, p++)
		count += (unsigned char)*p >> 7;
	return count;
}

static void count(struct nc_shape *s, const char *p, size_t n)
{
	s->bytes += n;
	s->high += high(p, n);
	s->odd_parity = s->odd_parity || odd_parity(p, n);
}

/* Empty lines that stand alone between two others. */
static void count_empty(struct nc_reader *r, bool empty)
{
	if (empty) {
		r->empty_run++;
		return;
	}
	if (r->empty_run == 1 && r->begun)
		r->shape.blank_between++;
	r->empty_run = 0;
}

/* Filler belongs to the leader, to the trailer, or is damage between two blocks: only the next line
 * tells. */
static void count_filler(struct nc_reader *r, bool real)
{
	struct nc_scan *z = &r->scan;

	if ((z->lead || z->tail) && (!r->fill || z->fill == 0))
		r->fill_byte = z->fill;
	if (!real) {
		r->fill += z->lead + z->tail;
		return;
	}
	r->fill += z->lead;
	if (!r->begun)
		r->shape.leader = r->fill;
	else if (r->fill)
		nc_scan_faults(
		    z, r->fill_byte ? NC_FAULT_CHARACTER : NC_FAULT_NUL, 1, r->fill_byte, r->fill);
	r->begun = true;
	r->fill = z->tail;
	r->fill_byte = z->fill;
}

/* Hand out the line that was just scanned; length bytes with its end. */
static void hand(struct nc_reader *r, const char *s, size_t length, enum line_end end)
{
	struct nc_scan *z = &r->scan;
	struct nc_block b;
	bool real;

	nc_scan_block(z, &b);
	real = !(b.flags & NC_BLANK) || z->comment;
	count_empty(r, !real && !z->lead && !z->tail);
	count_filler(r, real);
	r->shape.lines++;
	r->shape.blocks += !(b.flags & NC_BLANK);
	r->shape.lf += end == END_LF;
	r->shape.crlf += end == END_CRLF;
	r->shape.cr += end == END_CR;
	r->shape.crcrlf += end == END_CRCRLF;
	if (real) {
		r->shape.cr_alone += r->cr_line;
		r->cr_line = end == END_CR;
	}
	if (real || end != END_NONE)
		r->shape.final_line_end = end != END_NONE;
	b.line = r->shape.lines;
	b.offset = r->offset + (uint64_t)(z->s - s);
	b.faults = z->faults; /* with what count_filler told */
	r->offset += length;
	r->rc = r->fn(r->ctx, &b);
}

/* Scan the line at s; the first of a file may begin with a byte-order mark. Returns the address of
 * its end. */
static const char *scan(struct nc_reader *r, const char *s)
{
	bool mark = r->offset == 0 && s[0] == '\xEF' && s[1] == '\xBB' && s[2] == '\xBF';

	r->shape.bom |= mark;
	return nc_scan_line(&r->scan, mark ? s + 3 : s);
}

/* Hand out the line in carry and empty it. */
static void hand_carry(struct nc_reader *r, enum line_end end)
{
	size_t length = r->n + r->over + end_length[end];

	r->carry[r->n] = '\n';
	scan(r, r->carry);
	if (r->over)
		nc_scan_faults(&r->scan, NC_FAULT_LONG, NC_LINE_MAX + 1, 0, 1);
	r->n = 0;
	r->over = 0;
	hand(r, r->carry, length, end);
}

static void keep(struct nc_reader *r, const char *p, size_t n)
{
	size_t fits = NC_LINE_MAX - r->n;

	if (fits > n)
		fits = n;
	memcpy(r->carry + r->n, p, fits);
	r->n += fits;
	r->over += n - fits;
}

/* Add to the unfinished line, at most up to its end; returns the first byte that was not taken. */
static const char *carry(struct nc_reader *r, const char *p, const char *stop)
{
	const char *e;

	if (!r->cr) {
		e = line_end_find(p, stop);
		keep(r, p, (size_t)(e - p));
		if (e == stop)
			return e;
		if (*e == '\n')
			hand_carry(r, END_LF);
		else
			r->cr = 1;
		return e + 1;
	}
	if (*p == '\n') {
		hand_carry(r, r->cr == 1 ? END_CRLF : END_CRCRLF);
		r->cr = 0;
		return p + 1;
	}
	if (r->cr == 1 && *p == '\r') {
		r->cr = 2;
		return p + 1;
	}
	/* a CR that stood alone: the second one, if any, ends an empty line of its own or goes on
	 */
	hand_carry(r, END_CR);
	r->cr--;
	return p;
}

/* What the line end at e is; END_NONE when more bytes are needed to tell. */
static enum line_end end_at(const char *e, const char *stop)
{
	if (*e == '\n')
		return END_LF;
	if (e + 1 == stop)
		return END_NONE;
	if (e[1] == '\n')
		return END_CRLF;
	if (e[1] != '\r')
		return END_CR;
	if (e + 2 == stop)
		return END_NONE;
	return e[2] == '\n' ? END_CRCRLF : END_CR;
}

/* Where runs are short, looking for them costs more than it saves: ever fewer blocks are looked at.
 */
enum { SHORT = 4, PAUSE_MAX = 16 };

static void take_run(struct nc_reader *r, struct nc_plain *run)
{
	run->line = r->shape.lines + 1;
	run->offset = r->offset;
	count_empty(r, false);
	r->shape.lines += run->blocks;
	r->shape.blocks += run->blocks;
	r->shape.crlf += run->crlf;
	r->shape.lf += run->blocks - run->crlf;
	r->shape.cr_alone += r->cr_line;
	r->cr_line = false;
	r->offset += run->bytes;
	r->rc = r->plain_fn(r->ctx, run);
}

/* Runs of plain blocks from p, where a line begins; returns the first byte that was not taken. */
static const char *runs(struct nc_reader *r, const char *p, const char *stop)
{
	struct nc_plain run;

	if (r->pause) {
		r->pause--;
		return p;
	}
	if (!r->begun || r->fill)
		return p;
	do {
		if (!r->allowed.letters || r->rc)
			return p;
		nc_plain_read(&run, r->plain, &r->allowed, p, stop);
		p += run.bytes;
		if (run.blocks)
			take_run(r, &run);
	} while (run.blocks == NC_PLAIN_MAX);
	/* where a run has ended stands what is not plain */
	r->misses = run.blocks >= SHORT ? 0 : r->misses + (r->misses < PAUSE_MAX);
	r->pause = r->misses;
	return p;
}

/* Lines that lie whole in [p, stop), read in place; returns the first byte that was not taken. */
static const char *in_place(struct nc_reader *r, const char *p, const char *stop)
{
	size_t n = (size_t)(stop - p);
	const char *lf = memrchr(p, '\n', n);
	const char *cr = memrchr(lf ? lf : p, '\r', (size_t)(stop - (lf ? lf : p)));
	const char *last = cr ? cr : lf;

	while (last && p <= last && !r->rc) {
		const char *e;
		enum line_end end;
		size_t length;

		if (r->plain_fn) {
			p = runs(r, p, stop);
			if (p > last || r->rc)
				break;
		}
		e = scan(r, p);
		end = end_at(e, stop);
		length = (size_t)(e - p);
		if (end == END_NONE)
			break;
		if (length > NC_LINE_MAX) {
			keep(r, p, length);
			hand_carry(r, end);
		} else {
			hand(r, p, length + end_length[end], end);
		}
		p = e + end_length[end];
	}
	return p;
}

int nc_reader_feed(struct nc_reader *r, const void *bytes, size_t n)
{
	const char *p = bytes, *end = p + n, *stop;

	while (p < end && !r->rc) {
		stop = end - p > SLICE ? p + SLICE : end;
		count(&r->shape, p, (size_t)(stop - p));
		while (p < stop && (r->n || r->over || r->cr) && !r->rc)
			p = carry(r, p, stop);
		if (p < stop && !r->rc)
			p = in_place(r, p, stop);
		while (p < stop && !r->rc)
			p = carry(r, p, stop);
	}
	return r->rc;
}

int nc_reader_finish(struct nc_reader *r, struct nc_shape *shape)
{
	while (r->cr && !r->rc) {
		hand_carry(r, END_CR);
		r->cr--;
	}
	if (!r->rc && (r->n || r->over))
		hand_carry(r, END_NONE);
	if (!r->begun)
		r->shape.leader = r->fill;
	else
		r->shape.trailer = r->fill;
	*shape = r->shape;
	return r->rc;
}
