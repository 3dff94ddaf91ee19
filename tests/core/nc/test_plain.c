/*
 * Goal: plain blocks that come in runs are, block for block, what is read one by one: same lines,
 * same places, same numbers, same shape, whatever the text and whatever the chunks. And the bulk of
 * a plain program does come in runs.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "nc.h"
#include "plain_mask.h"
#include "plain_text.h"

/* Every letter but M and O. */
enum { LETTERS = 0x3FFFFFF & ~(1 << ('M' - 'A') | 1 << ('O' - 'A')) };

struct seen {
	const char *file;
	struct nc_plain_allowed allowed;
	uint64_t *plain; /* a bit for each line: it may be plain; or it came in a run */
	struct text text;
	size_t in_runs;
};

static void line(struct seen *s, uint64_t n, uint64_t offset, size_t length)
{
	text_printf(&s->text, "%llu @%llu %zu\n", (unsigned long long)n, (unsigned long long)offset,
	    length);
}

/* What nc.h says of plain blocks, asked of the words. */
static bool may_be_plain(const struct nc_plain_allowed *allowed, const struct nc_block *b)
{
	uint64_t value, letters = 0;

	if (b->flags || b->skip || b->faults || b->comment || !b->words || b->length > 127 ||
	    b->length > allowed->block_max)
		return false;
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];
		uint64_t bit = 1u << (w->letter - 'A');

		if (w->flags & ~(NC_POINT | NC_SIGN) || !(allowed->letters & bit))
			return false;
		if (allowed->points & bit && w->letter != 'N' && w->letter != 'G' &&
		    !(w->flags & NC_POINT) && w->mantissa != 0)
			return false;
		if (w->letter == 'N' &&
		    (i || w->flags || !nc_word_whole(w, &value) || value > allowed->sequence_max))
			return false;
		if (w->letter == 'G' && (w->flags || w->mantissa > 3 || w->digits > 2))
			return false;
		if (letters & bit && w->letter != 'G')
			return false;
		letters |= bit;
	}
	return true;
}

/* The first reading: every block for itself. */
static int block(void *ctx, const struct nc_block *b)
{
	struct seen *s = ctx;

	if (may_be_plain(&s->allowed, b))
		s->plain[b->line / 64] |= (uint64_t)1 << b->line % 64;
	line(s, b->line, b->offset, b->length);
	return 0;
}

/* The second one. */
static int block_again(void *ctx, const struct nc_block *b)
{
	struct seen *s = ctx;

	line(s, b->line, b->offset, b->length);
	return 0;
}

static int run(void *ctx, const struct nc_plain *r)
{
	struct seen *s = ctx;
	size_t bytes = 0, crlf = 0;

	assert_in_range(r->blocks, 1, NC_PLAIN_MAX);
	for (size_t i = 0; i < r->blocks; i++) {
		const struct nc_plain_text *t = &r->block[i];
		const char *text = r->text + t->at;

		assert_int_equal(t->at, bytes);
		assert_memory_equal(text, s->file + r->offset + t->at, t->length);
		assert_true(s->plain[(r->line + i) / 64] >> (r->line + i) % 64 & 1);
		line(s, r->line + i, r->offset + t->at, t->length);
		crlf += text[t->length] == '\r';
		bytes += t->length + (text[t->length] == '\r') + 1;
		if (r->first < 0)
			assert_true(*text != 'N');
		else
			assert_int_equal(
			    strtoll(text + 1, NULL, 10), r->first + (int64_t)i * r->step);
	}
	assert_int_equal(r->bytes, bytes);
	assert_int_equal(r->crlf, crlf);
	s->in_runs += r->blocks;
	return 0;
}

static void read_all(struct seen *s, struct nc_shape *shape, nc_block_fn *fn, nc_plain_fn *plain,
    const char *bytes, size_t n, size_t step)
{
	struct nc_reader *r = nc_reader_new(fn, s);

	assert_non_null(r);
	memset(shape, 0, sizeof *shape);
	nc_reader_plain(r, plain);
	nc_reader_allow(r, &s->allowed);
	while (n) {
		size_t k = step < n ? step : n;
		/* a piece of its own, so that a look beyond its end is found */
		char *piece = malloc(k);

		assert_non_null(piece);
		memcpy(piece, bytes, k);
		assert_int_equal(nc_reader_feed(r, piece, k), 0);
		free(piece);
		bytes += k;
		n -= k;
	}
	assert_int_equal(nc_reader_finish(r, shape), 0);
	nc_reader_free(r);
	assert_false(s->text.failed);
}

static void same_shape(const struct nc_shape *a, const struct nc_shape *b)
{
	assert_int_equal(a->bytes, b->bytes);
	assert_int_equal(a->lines, b->lines);
	assert_int_equal(a->blocks, b->blocks);
	assert_int_equal(a->lf, b->lf);
	assert_int_equal(a->crlf, b->crlf);
	assert_int_equal(a->cr, b->cr);
	assert_int_equal(a->crcrlf, b->crcrlf);
	assert_int_equal(a->cr_alone, b->cr_alone);
	assert_int_equal(a->blank_between, b->blank_between);
	assert_int_equal(a->leader, b->leader);
	assert_int_equal(a->trailer, b->trailer);
	assert_int_equal(a->high, b->high);
	assert_int_equal(a->odd_parity, b->odd_parity);
	assert_int_equal(a->bom, b->bom);
	assert_int_equal(a->final_line_end, b->final_line_end);
}

/* Returns how many blocks came in runs when read at once. */
static size_t compare(const struct nc_plain_allowed *allowed, const char *bytes, size_t n)
{
	static const size_t steps[] = {1 << 30, 1, 7, 63, 64, 65, 100, 129, 1000};
	struct seen one = {.file = bytes, .allowed = *allowed};
	struct nc_shape a, b;
	size_t whole = 0;

	one.plain = calloc(n / 64 + 2, 8);
	assert_non_null(one.plain);
	read_all(&one, &a, block, NULL, bytes, n, n);
	for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
		struct seen two = {.file = bytes, .allowed = *allowed, .plain = one.plain};

		read_all(&two, &b, block_again, run, bytes, n, steps[i]);
		assert_int_equal(two.text.n, one.text.n);
		assert_memory_equal(two.text.s, one.text.s, one.text.n);
		same_shape(&a, &b);
		whole = i ? whole : two.in_runs;
		text_free(&two.text);
	}
	text_free(&one.text);
	free(one.plain);
	return whole;
}

static void random_programs(void **state)
{
	uint64_t seed = 88172645463325252u;
	size_t in_runs = 0;

	for (int round = 0; round < 600; round++) {
		struct nc_plain_allowed allowed = {LETTERS,
		    plain_text_draw(&seed, 2) ? LETTERS & ~(1u << ('F' - 'A')) : 0,
		    plain_text_draw(&seed, 2) ? 256 : 10 + plain_text_draw(&seed, 20),
		    plain_text_draw(&seed, 2) ? 99999 : 500};
		struct text t = {0};

		if (plain_text_draw(&seed, 4) == 0)
			allowed.letters &= ~(1u << plain_text_draw(&seed, 26));
		plain_text_program(&t, &seed, 1 + plain_text_draw(&seed, 120));
		assert_false(t.failed);
		in_runs += compare(&allowed, t.s, t.n);
		text_free(&t);
	}
	assert_true(in_runs > 5000);
}

/* Every byte in the place of every other one. */
static void one_byte_changed(void **state)
{
	static const struct nc_plain_allowed allowed = {LETTERS, 1 << ('X' - 'A'), 256, 99999};
	static const char text[] = "X1.\nN10 G01 X-1.5 Y.25 F200\r\nN20G0X0Z+3.\nX1.\nX2.\nX3.\nX4."
	                           "\nX5.\nX6.\nX7.\nX8.\nX9.\nX10.\nX11.\nX12.\nX13.\nX14.\n";

	for (size_t at = 0; at < 50; at++) {
		for (int c = 0; c < 256; c++) {
			char bytes[sizeof text - 1];

			memcpy(bytes, text, sizeof bytes);
			bytes[at] = (char)c;
			compare(&allowed, bytes, sizeof bytes);
		}
	}
}

/* What is looked at together is 64 bytes: each oddity at each place in them, and across them. */
static void seams(void **state)
{
	static const char *const odd[] = {"X", "X.", "X-", "X1..2", "X1.2.3", "X--1.", "X1-",
	    "X.5.", "X5", "X-5", "X0", "X-00", "X05", "X1 2.", "X 1.", "X1. Y2. X3.", "XY1.", "G4",
	    "G1.", "G001", "G10", "G13", "G01", "G1G2", "G-1", "G0 1", "GX1.",
	    "X12345678901234567890.", "X1.2345678901234567890", "X123456789012.123456789012",
	    "X123456789012345.", "X1.\r", "X1.\rY", "X1.\r\r", "x1.", "N5", "N5.", "N5X1.", "X1.N5",
	    "G1N5", "M5", "X1.M5", "T1", "/X1.", "X1.(A)", "X1.\t", "", "X1.;", "G1 G2 X1. G3",
	    "X1.,C2.", "X1.Y2.Z3.X4.", "X#1", "%", "X1.\x7F", "X1.\xB0"};
	const struct nc_plain_allowed allowed = {
	    LETTERS & ~(1u << ('T' - 'A')), LETTERS & ~(1u << ('F' - 'A')), 256, 99999};

	for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
		for (int before = 0; before < 66; before++) {
			struct text t = {0};

			text_printf(&t, "X0.\nX1.%*s\n%s\n", before, "", odd[i]);
			for (int n = 0; n < 20; n++)
				text_puts(&t, "X1. Y2.\n");
			assert_false(t.failed);
			compare(&allowed, t.s, t.n);
			text_free(&t);
		}
	}
}

/* Blocks of any length, up to more words than a block may have. */
static void lengths(void **state)
{
	const struct nc_plain_allowed allowed = {LETTERS, 0, 1000, 99999};

	for (size_t n = 1; n < 150; n++) {
		struct text t = {0};

		text_puts(&t, "X0.\nX1.\n");
		for (size_t i = 0; i < n; i++)
			text_puts(&t, "G0");
		text_printf(&t, "\nX1.%*sY1.\n", (int)n, "");
		for (int i = 0; i < 20; i++)
			text_puts(&t, "X1. Y2.\n");
		assert_false(t.failed);
		compare(&allowed, t.s, t.n);
		text_free(&t);
	}
}

/* One block as CAM systems write them, in one of four ways. */
static void typical(struct text *t, int way, unsigned i)
{
	if (way == 0)
		text_printf(t, "X%u.5 Z-%u.\n", i, i % 100);
	else if (way == 1)
		text_printf(t, "N%05u G1 X12.5 Z-%u. F0.2\r\n", 5 * i, i % 100);
	else if (way == 2)
		text_printf(t, "N%u X%u.125\n", 10 * i, i % 77);
	else
		text_printf(t, "G01X%u.5Y%u.25Z1.F100\n", i % 300, i);
}

/* Straight text: all of it, but what is left where its bytes end. */
static void bulk(void **state)
{
	const struct nc_plain_allowed allowed = {LETTERS, 0, 256, 99999};
	const unsigned n = 2000;

	for (int way = 0; way < 4; way++) {
		struct text t = {0};

		for (unsigned i = 0; i < n; i++)
			typical(&t, way, i);
		assert_false(t.failed);
		assert_in_range(compare(&allowed, t.s, t.n), n - 20, n);
		text_free(&t);
	}
}

/* Lines before and behind a run that the shape of the file tells of. */
static void between_runs(void **state)
{
	static const char *const lines[] = {"\n", "\n\n", "\r", "X1.\r", "\r\r\n", "\x7F\n",
	    "X1.\x7F\n", "\r\n", " \n", "(C)\n", "\xEF\xBB\xBF\n"};
	const struct nc_plain_allowed allowed = {LETTERS, 0, 256, 99999};

	for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
		for (size_t k = 0; k < sizeof lines / sizeof *lines; k++) {
			struct text t = {0};

			text_puts(&t, lines[i]);
			for (int round = 0; round < 3; round++) {
				text_printf(&t, "X1.\nX2.\n%s", lines[i]);
				for (int n = 0; n < 20; n++)
					text_puts(&t, "X1. Y2.\n");
				text_puts(&t, lines[k]);
			}
			assert_false(t.failed);
			compare(&allowed, t.s, t.n);
			text_free(&t);
		}
	}
}

/* Nothing comes in a run unless it was asked for, and what the callback returns stops the reader.
 */
static int refuse(void *ctx, const struct nc_plain *r)
{
	*(size_t *)ctx += r->blocks;
	return 7;
}

static int nothing(void *ctx, const struct nc_block *b)
{
	return 0;
}

static void asked(void **state)
{
	static const char text[] = "X1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1."
	                           "\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\nX1.\n";
	const struct nc_plain_allowed allowed = {LETTERS, 0, 256, 99999};
	size_t blocks = 0;
	struct nc_reader *r = nc_reader_new(nothing, &blocks);

	assert_non_null(r);
	nc_reader_plain(r, refuse);
	assert_int_equal(nc_reader_feed(r, text, sizeof text - 1), 0);
	assert_int_equal(blocks, 0);
	nc_reader_allow(r, &allowed);
	assert_int_equal(nc_reader_feed(r, text, sizeof text - 1), 7);
	assert_true(blocks > 0);
	nc_reader_free(r);
}

/* The processor's way to the masks, and the plain one. */
static void masks(void **state)
{
	uint64_t seed = 1;
	struct nc_plain_mask a, b;
	char bytes[64];

	for (int round = 0; round < 4000; round++) {
		for (size_t i = 0; i < sizeof bytes; i++)
			bytes[i] = round < 4 ? (char)(round * 64 + (int)i)
			                     : (char)plain_text_draw(&seed, 256);
		nc_plain_mask(&a, bytes);
		nc_plain_mask_bytes(&b, bytes);
		assert_memory_equal(&a, &b, sizeof a);
		assert_int_equal(
		    nc_plain_each(bytes, bytes[0]), nc_plain_each_bytes(bytes, bytes[0]));
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(random_programs),
	    cmocka_unit_test(one_byte_changed),
	    cmocka_unit_test(seams),
	    cmocka_unit_test(lengths),
	    cmocka_unit_test(bulk),
	    cmocka_unit_test(between_runs),
	    cmocka_unit_test(asked),
	    cmocka_unit_test(masks),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
