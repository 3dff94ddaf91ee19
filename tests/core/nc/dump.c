#include "dump.h"

#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static const char *const fault_names[] = {
    [NC_FAULT_CHARACTER] = "character",
    [NC_FAULT_CHARACTER_COMMENT] = "comment",
    [NC_FAULT_LOWER] = "lower",
    [NC_FAULT_TAB] = "tab",
    [NC_FAULT_NUL] = "nul",
    [NC_FAULT_NESTED] = "nested",
    [NC_FAULT_OPEN] = "open",
    [NC_FAULT_NUMBER] = "number",
    [NC_FAULT_WORD] = "word",
    [NC_FAULT_LONG] = "long",
};

static void word(struct text *t, const struct nc_word *w)
{
	uint64_t m = (uint64_t)(w->mantissa < 0 ? -w->mantissa : w->mantissa), unit = 1;

	text_printf(t, "%s%c", w->flags & NC_COMMA ? "," : "", w->letter);
	if (w->flags & (NC_COMPUTED | NC_HUGE)) {
		text_putc(t, w->flags & NC_HUGE ? '^' : '*');
		return;
	}
	for (unsigned i = 0; i < w->scale; i++)
		unit *= 10;
	text_printf(t, "%s%" PRIu64, w->mantissa < 0 ? "-" : "", m / unit);
	if (w->flags & NC_POINT)
		text_putc(t, '.');
	if (w->scale)
		text_printf(t, "%0*" PRIu64, w->scale, m % unit);
}

static void words(struct text *t, const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++) {
		if (i)
			text_putc(t, ' ');
		if (b->word[i].flags & NC_NAME)
			text_printf(t, "%c<%.*s>", b->word[i].letter, (int)b->word[i].mantissa,
			    b->text + b->name_col - 1);
		else
			word(t, &b->word[i]);
	}
	if (b->flags & NC_CALL)
		text_printf(t, "%s(%.*s)@%u", b->words ? " " : "", (int)b->call_length, b->call,
		    b->call_col);
}

static void faults(struct text *t, const struct nc_block *b)
{
	for (size_t i = 0; i < b->faults; i++)
		text_printf(t, "%s%s@%ux%u", i ? " " : "", fault_names[b->fault[i].kind],
		    b->fault[i].col, b->fault[i].count);
}

static int dump(void *ctx, const struct nc_block *b)
{
	struct text *t = ctx;

	text_printf(t, "L%" PRIu64 " @%" PRIu64 " f%x s%d u%u n%zu ", b->line, b->offset, b->flags,
	    b->skip, b->uncertain_col, b->length);
	words(t, b);
	text_puts(t, " !");
	faults(t, b);
	for (size_t i = 0; i < b->faults; i++)
		text_printf(t, ",%02x", b->fault[i].byte);
	for (size_t i = 0; i < b->words; i++)
		text_printf(t, ",%u", b->word[i].col);
	text_puts(t, " {");
	if (b->comment)
		text_visible(t, b->comment, b->comment_length);
	text_puts(t, "} ");
	text_visible(t, b->text, b->length < 200 ? b->length : 200);
	text_putc(t, '\n');
	return 0;
}

static void read_with(
    nc_block_fn *fn, struct text *t, struct nc_shape *shape, const char *p, size_t n, size_t step)
{
	struct nc_reader *r = nc_reader_new(fn, t);

	assert_non_null(r);
	nc_reader_call(r, "MEET");
	while (n) {
		size_t k = step && step < n ? step : n;
		/* a piece of its own, so that a look beyond its end is found */
		char *piece = malloc(k);
		assert_non_null(piece);
		memcpy(piece, p, k);
		assert_int_equal(nc_reader_feed(r, piece, k), 0);
		free(piece);
		p += k;
		n -= k;
	}
	assert_int_equal(nc_reader_finish(r, shape), 0);
	nc_reader_free(r);
}

void dump_read(struct text *t, const void *bytes, size_t n, size_t step)
{
	struct nc_shape s;

	read_with(dump, t, &s, bytes, n, step);
	text_printf(t,
	    "%" PRIu64 " bytes %" PRIu64 " lines %" PRIu64 " blocks %" PRIu64 " lf %" PRIu64
	    " crlf %" PRIu64 " cr %" PRIu64 " crcrlf %" PRIu64 " between %" PRIu64 " lead %" PRIu64
	    " trail %" PRIu64 " high%s%s%s\n",
	    s.bytes, s.lines, s.blocks, s.lf, s.crlf, s.cr, s.crcrlf, s.blank_between, s.leader,
	    s.trailer, s.high, s.odd_parity ? " odd" : "", s.bom ? " bom" : "",
	    s.final_line_end ? " end" : "");
	assert_false(t->failed);
}

static int only_words(void *ctx, const struct nc_block *b)
{
	words(ctx, b);
	return 0;
}

static int only_faults(void *ctx, const struct nc_block *b)
{
	faults(ctx, b);
	return 0;
}

static const char *only(nc_block_fn *fn, const char *line)
{
	static char s[2000];
	struct text t = {0};
	struct nc_shape shape;

	read_with(fn, &t, &shape, line, strlen(line), 0);
	assert_false(t.failed);
	assert_true(t.n < sizeof s);
	strcpy(s, t.s ? t.s : "");
	text_free(&t);
	return s;
}

const char *dump_words(const char *line)
{
	return only(only_words, line);
}

const char *dump_faults(const char *line)
{
	return only(only_faults, line);
}

static int nothing(void *ctx, const struct nc_block *b)
{
	return 0;
}

struct nc_shape dump_shape(const void *bytes, size_t n)
{
	struct nc_shape s;

	read_with(nothing, NULL, &s, bytes, n, 0);
	return s;
}
