/*
 * Goal: whatever bytes a program has, the reader hands out every line once, each where it stands in
 * the file and with places inside it, and the same whether the bytes come at once or in pieces, and
 * whether plain blocks come in runs or one by one.
 */
#include <stdlib.h>
#include <string.h>
#include "input.h"
#include "nc.h"

/* What was handed out, and of which file. */
struct seen {
	const uint8_t *file;
	size_t size;
	uint64_t line, end; /* last line, and where its text ended */
	uint64_t hash;
	const struct nc_plain *run; /* at hand */
};

/* FNV-1a, 64 bits. */
static void add(struct seen *s, const void *bytes, size_t n)
{
	const uint8_t *p = bytes;

	for (size_t i = 0; i < n; i++)
		s->hash = (s->hash ^ p[i]) * 1099511628211u;
}

static void add_number(struct seen *s, uint64_t n)
{
	add(s, &n, sizeof(n));
}

static void check_words(struct seen *s, const struct nc_block *b)
{
	uint32_t col = 0;

	must(b->words <= NC_WORDS_MAX && b->faults <= NC_FAULTS_MAX);
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];

		must(w->letter >= 'A' && w->letter <= 'Z');
		must(w->col > col && w->col <= b->length);
		if (w->flags & NC_NAME)
			must(w->letter == 'O' && b->name_col > w->col && w->mantissa > 0 &&
			     (uint64_t)w->mantissa < b->length - (b->name_col - 1));
		must(w->flags & (NC_COMPUTED | NC_HUGE) || w->scale <= 18);
		col = w->col;
		add_number(s, (uint64_t)w->letter << 32 | w->col);
		add_number(s, (uint64_t)w->flags << 16 | (uint64_t)w->scale << 8 | w->digits);
		add_number(s, (uint64_t)w->mantissa);
	}
	for (size_t i = 0; i < b->faults; i++) {
		const struct nc_fault *f = &b->fault[i];

		must(f->kind <= NC_FAULT_LONG && f->col >= 1 && f->col <= b->length + 1 &&
		     f->count > 0);
		for (size_t k = 0; k < i; k++)
			must(b->fault[k].kind != f->kind);
		add_number(s, (uint64_t)f->kind << 32 | f->col);
		add_number(s, (uint64_t)f->byte << 32 | f->count);
	}
}

static int block(void *ctx, const struct nc_block *b)
{
	struct seen *s = ctx;

	must(b->line == s->line + 1);
	must(b->offset >= s->end && b->offset + b->length <= s->size && b->length <= NC_LINE_MAX);
	must(b->length == 0 || memcmp(b->text, s->file + b->offset, b->length) == 0);
	must(!memchr(b->text, '\n', b->length) && !memchr(b->text, '\r', b->length));
	must(b->skip <= 9);
	must(!(b->flags & NC_UNCERTAIN) ||
	     (b->uncertain_col >= 1 && b->uncertain_col <= b->length + 1));
	if (b->comment)
		must(
		    b->comment >= b->text && b->comment + b->comment_length <= b->text + b->length);
	if (b->flags & NC_CALL)
		must(b->call > b->text && b->call + b->call_length < b->text + b->length &&
		     b->call_col >= 1 && b->call_col <= b->call - b->text);
	must(b->name_col <= b->length);
	check_words(s, b);
	add_number(s, b->flags & NC_CALL ? b->call_length : 0);
	add_number(s, (uint64_t)b->call_col << 32 | b->name_col);
	add_number(s, b->offset);
	add_number(s, (uint64_t)b->flags << 8 | b->skip);
	add_number(s, b->flags & NC_UNCERTAIN ? b->uncertain_col : 0);
	add_number(s, b->comment ? (uint64_t)(b->comment - b->text) + 1 : 0);
	add_number(s, b->comment ? b->comment_length : 0);
	s->line = b->line;
	s->end = b->offset + b->length;
	return 0;
}

/* A block of a run, read by itself. */
static int inside(void *ctx, const struct nc_block *b)
{
	struct seen *s = ctx;
	struct nc_block moved = *b;

	must(!b->faults && !b->flags && !b->skip && !b->comment && b->words);
	moved.line += s->run->line - 1;
	moved.offset += s->run->offset;
	return block(s, &moved);
}

static int run(void *ctx, const struct nc_plain *plain)
{
	struct seen *s = ctx;
	struct nc_reader *r = nc_reader_new(inside, s);
	struct nc_shape shape;

	must(r != NULL);
	s->run = plain;
	must(nc_reader_feed(r, plain->text, plain->bytes) == 0);
	must(nc_reader_finish(r, &shape) == 0);
	must(shape.lines == plain->blocks && shape.crlf == plain->crlf);
	nc_reader_free(r);
	return 0;
}

static void add_shape(struct seen *s, const struct nc_shape *h)
{
	const uint64_t v[] = {h->bytes, h->lines, h->blocks, h->lf, h->crlf, h->cr, h->crcrlf,
	    h->blank_between, h->leader, h->trailer, h->odd_parity, h->high, h->bom,
	    h->final_line_end};

	must(h->bytes == s->size && h->lines == s->line && h->blocks <= h->lines);
	must(h->lf + h->crlf + h->cr + h->crcrlf + 1 >= h->lines);
	must(h->leader + h->trailer <= h->bytes && h->high <= h->bytes);
	add(s, v, sizeof(v));
}

/* seed 0: at once. */
static uint64_t read_all(
    const uint8_t *data, size_t size, uint32_t seed, size_t most, uint32_t points, bool runs)
{
	/* all letters, but M and O */
	const struct nc_plain_allowed allowed = {0x3FFAFFF, points, 256, 99999};
	struct seen s = {.file = data, .size = size, .hash = 14695981039346656037u};
	struct nc_reader *r = nc_reader_new(block, &s);
	struct nc_shape shape;

	must(r != NULL);
	nc_reader_call(r, "MEET");
	nc_reader_plain(r, run);
	nc_reader_allow(r, runs ? &allowed : NULL);
	for (size_t at = 0; at < size;) {
		size_t n = seed ? input_step(&seed, most) : size;

		n = n < size - at ? n : size - at;
		must(nc_reader_feed(r, data + at, n) == 0);
		at += n;
	}
	must(nc_reader_finish(r, &shape) == 0);
	nc_reader_free(r);
	add_shape(&s, &shape);
	return s.hash;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	uint64_t whole = read_all(data, size, 0, 0, 0, false);

	must(read_all(data, size, 1, 1, 0, false) == whole);
	must(read_all(data, size, (uint32_t)size + 7, 9, 0, false) == whole);
	must(read_all(data, size, (uint32_t)size + 11, 200, 0, true) == whole);
	must(read_all(data, size, 0, 0, 0, true) == whole);
	must(read_all(data, size, 0, 0, 0x3FFAFFF, true) == whole);
	return 0;
}
