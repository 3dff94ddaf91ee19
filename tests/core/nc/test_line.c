/*
 * Goal: lines, comments, block skip, program numbers and % are read as NISTIR 6556 and ISO 6983-1
 * say; damage that happens to files on their way is seen for what it is.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "dump.h"

/* The blocks of a program, kept apart from the reader. */
struct kept {
	struct {
		uint64_t line, offset;
		uint32_t flags, uncertain;
		int skip;
		size_t length;
		char comment[40];
		bool has_comment;
	} v[40];
	size_t n;
};

static int keep(void *ctx, const struct nc_block *b)
{
	struct kept *k = ctx;

	assert_true(k->n < 40);
	k->v[k->n].line = b->line;
	k->v[k->n].offset = b->offset;
	k->v[k->n].flags = b->flags;
	k->v[k->n].uncertain = b->uncertain_col;
	k->v[k->n].skip = b->skip;
	k->v[k->n].length = b->length;
	k->v[k->n].has_comment = b->comment != NULL;
	assert_true(b->comment_length < 40);
	if (b->comment)
		memcpy(k->v[k->n].comment, b->comment, b->comment_length);
	k->n++;
	return 0;
}

static struct kept kept;

static struct kept *blocks(const char *text)
{
	struct nc_reader *r = nc_reader_new(keep, &kept);
	struct nc_shape s;

	memset(&kept, 0, sizeof kept);
	assert_int_equal(nc_reader_feed(r, text, strlen(text)), 0);
	assert_int_equal(nc_reader_finish(r, &s), 0);
	nc_reader_free(r);
	return &kept;
}

/* NISTIR 6556, 3.3.4: from ( to the first ); it closes in its line; no ( inside. */
static void comments(void **state)
{
	assert_string_equal(dump_words("N70 (M206 MOVED) X1."), "N70 X1.");
	assert_string_equal(dump_faults("N70 (M206 MOVED) X1."), "");
	assert_string_equal(blocks("(MSG, TURN PART)")->v[0].comment, "MSG, TURN PART");
	assert_string_equal(blocks("G0 (FIRST) X1. (SECOND)")->v[0].comment, "FIRST");
	assert_true(blocks("()")->v[0].has_comment);
	assert_string_equal(dump_faults("N60 (CHECK GAUGE M205"), "open@5x1");
	assert_string_equal(dump_words("N60 (CHECK GAUGE M205"), "N60");
	assert_int_equal(blocks("N60 (CHECK GAUGE M205")->v[0].uncertain, 5);
	assert_string_equal(dump_faults("N50 (BORE (2 OF 3) SIZE) M204"), "nested@11x1 word@20x2");
	assert_string_equal(dump_words("N50 (BORE (2 OF 3) SIZE) M204"), "N50 M204");
	assert_int_equal(blocks("N50 (BORE (2 OF 3) SIZE) M204")->v[0].uncertain, 19);
	assert_true(blocks("N50 (A (B) M204")->v[0].flags & NC_UNCERTAIN);
	assert_false(blocks("N50 (A) M204")->v[0].flags & NC_UNCERTAIN);
}

/* Common practice: ; begins a comment up to the end of the line. */
static void semicolon(void **state)
{
	assert_string_equal(dump_words("G0 X1. ; M204 (X"), "G0 X1.");
	assert_string_equal(dump_faults("G0 X1. ; M204 (X"), "");
	assert_string_equal(blocks("G0;OFF\nX1.")->v[0].comment, "OFF");
}

/* NISTIR 6556, 3.3: / first; 3.3.1: N after it. Levels /2 to /9: common practice, as is / after N.
 */
static void block_skip(void **state)
{
	assert_int_equal(blocks("/N10 G0")->v[0].skip, 1);
	assert_int_equal(blocks(" / N10 G0")->v[0].skip, 1);
	assert_int_equal(blocks("/1 G0")->v[0].skip, 1);
	assert_int_equal(blocks("/2N10 G0")->v[0].skip, 2);
	assert_int_equal(blocks("/ 9 G0")->v[0].skip, 9);
	assert_int_equal(blocks("N10 /3 G0")->v[0].skip, 3);
	assert_int_equal(blocks("N10 G0")->v[0].skip, 0);
	assert_string_equal(dump_words("/2N10 G0"), "N10 G0");
	assert_string_equal(dump_faults("N10 G0 / X1."), "word@8x1");
	assert_string_equal(dump_faults("/0 G0"), "word@1x1");
	assert_string_equal(dump_faults("/12 G0"), "word@1x1");
	assert_string_equal(dump_faults("//G0"), "word@2x1");
}

/* ISO 6983-1: % begins a program; common practice: O or : and a number, also on the same line. */
static void numbers(void **state)
{
	assert_int_equal(blocks("%")->v[0].flags, NC_PERCENT);
	assert_int_equal(blocks("%O1234(NAME)")->v[0].flags, NC_PERCENT);
	assert_string_equal(blocks("%O1234(NAME)")->v[0].comment, "NAME");
	assert_string_equal(dump_words("%O1234(NAME)"), "O1234");
	assert_string_equal(dump_words("O4417(BUSH)(REV C)"), "O4417");
	assert_string_equal(dump_words(":4417"), "O4417");
	assert_int_equal(blocks(":4417")->v[0].flags, NC_COLON);
	assert_int_equal(blocks("O4417")->v[0].flags, 0);
	assert_string_equal(dump_words("%:1234 (NAME)"), "O1234");
	/* a name behind % is no block (ISO 6983-1), whatever it looks like */
	assert_string_equal(dump_words("%J4417 M201"), "");
	assert_string_equal(dump_faults("%J4417 M201"), "");
	assert_string_equal(dump_words("% bush-upper.2 (A)"), "");
	assert_string_equal(dump_faults("% bush-upper.2 (A)"), "");
	assert_string_equal(blocks("% bush-upper.2 (A)")->v[0].comment, "A");
	assert_string_equal(dump_words("%OIL RING"), "");
	assert_string_equal(dump_faults("% REV C UPPER)"), "word@14x1");
	assert_string_equal(dump_faults("%Q\x0f (A)"), "character@3x1");
	assert_string_equal(dump_faults("N10 %"), "word@5x1");
	assert_string_equal(dump_faults("G0 X1. %"), "word@8x1");
}

/* Common practice: ,C and ,R are a chamfer and a rounding, not an axis and a radius. */
static void comma(void **state)
{
	assert_string_equal(dump_words("G1 X10.,C1.5"), "G1 X10. ,C1.5");
	assert_string_equal(dump_words("G1 X10. , R2."), "G1 X10. ,R2.");
	assert_string_equal(dump_faults("G1 , 5"), "word@4x2");
}

/* NISTIR 6556, 3.3: what is not allowed is an error. */
static void stray(void **state)
{
	assert_string_equal(dump_faults("G0 X1. @"), "character@8x1");
	assert_string_equal(dump_faults("12 G0"), "word@1x1");
	assert_string_equal(dump_faults("HELLO G0"), "word@1x1");
	assert_string_equal(dump_words("HELLO G0"), "G0");
	assert_string_equal(dump_faults("g0\tX1.\x01"), "lower@1x1 tab@3x1 character@7x1");
	assert_string_equal(dump_faults("]=*"), "word@1x1");
}

static void blank(void **state)
{
	assert_int_equal(blocks("  \t (X) ")->v[0].flags, NC_BLANK);
	assert_int_equal(blocks("\nG0\n\n")->n, 3);
	assert_int_equal(blocks("\nG0\n\n")->v[0].flags, NC_BLANK);
	assert_int_equal(blocks("\nG0\n\n")->v[1].flags, 0);
	assert_false(blocks("/")->v[0].flags & NC_BLANK);
	assert_false(blocks("@")->v[0].flags & NC_BLANK);
}

/* NISTIR 6556, appendix C.1: sequence numbers may have gaps, repeat and run backwards. */
static void gaps(void **state)
{
	assert_string_equal(dump_words("N0170 G0 Z3"), "N170 G0 Z3");
	assert_int_equal(blocks("N0170 G0\nN0190 G1\nN0190 G1\nN10 G2\n")->n, 4);
}

static void places(void **state)
{
	const struct kept *k = blocks("%\r\nO1\r\n\r\nG0 X1.\nM30");

	assert_int_equal(k->n, 5);
	assert_int_equal(k->v[1].line, 2);
	assert_int_equal(k->v[1].offset, 3);
	assert_int_equal(k->v[3].offset, 9);
	assert_int_equal(k->v[3].length, 6);
	assert_int_equal(k->v[4].line, 5);
	assert_int_equal(k->v[4].offset, 16);
}

/* A text-mode transfer that converts line ends twice (common practice). */
static void line_ends(void **state)
{
	static const char doubled[] = "%\r\r\nO4417(REV C)\r\r\nG0X40.\r\r\nM30\r\r\n%\r\r\n";
	static const char spaced[] = "%\n\nO4417\n\nG0X40.\n\nM30\n\n%\n\n";
	struct nc_shape s = dump_shape(doubled, sizeof doubled - 1);

	assert_int_equal(s.crcrlf, 5);
	assert_int_equal(s.lines, 5);
	assert_int_equal(s.blocks, 5);
	s = dump_shape(spaced, sizeof spaced - 1);
	assert_int_equal(s.lf, 10);
	assert_int_equal(s.blank_between, 4);
	s = dump_shape("A1\rB1\rC1", 8);
	assert_int_equal(s.cr, 2);
	assert_int_equal(s.lines, 3);
	assert_false(s.final_line_end);
	s = dump_shape("A1\r\nB1\nC1\r\r", 11);
	assert_int_equal(s.crlf, 1);
	assert_int_equal(s.lf, 1);
	assert_int_equal(s.cr, 2);
	assert_true(s.final_line_end);
	s = dump_shape("A1\n\n\nB1\n", 8);
	assert_int_equal(s.blank_between, 0);
}

/* An editor's invisible mark, typographic characters, tab and lower case (common practice). */
static void invisible(void **state)
{
	static const char bytes[] =
	    "\xEF\xBB\xBF%\nO4417(REV C)\n"
	    "(ROUGH 30\xC2\xB0 \xE2\x80\x9CLEFT\xE2\x80\x9D)\ng0\tx40.\nM30\n%\n";
	struct nc_shape s = dump_shape(bytes, sizeof bytes - 1);
	const struct kept *k = blocks(bytes);

	assert_true(s.bom);
	assert_int_equal(s.lines, 6);
	assert_int_equal(k->v[0].flags, NC_PERCENT);
	assert_int_equal(k->v[0].offset, 3);
	assert_string_equal(
	    dump_faults("(ROUGH 30\xC2\xB0 \xE2\x80\x9CLEFT\xE2\x80\x9D)"), "comment@10x3");
	assert_string_equal(dump_faults("g0\tx40."), "lower@1x2 tab@3x1");
	assert_string_equal(dump_faults("\n\xEF\xBB\xBF%"), "character@1x1 word@4x1");
	/* bytes that are no UTF-8 count one by one */
	assert_string_equal(dump_faults("(\xB0\xB0\xE2\x80)"), "comment@2x4");
	assert_string_equal(dump_faults("X1.\xC2\xB0"), "character@4x1");
}

/* Seven bits with even parity, read as eight; the bytes and what they decode to are those of ISO
 * 646 with track 8. */
static void parity(void **state)
{
	static const unsigned char bytes[] = {0xA5, 0x0A, 0xCF, 0xB4, 0xB4, 0xB1, 0xB7, 0x0A, 0x47,
	    0x30, 0xD8, 0xB4, 0x30, 0x2E, 0x0A, 0x4D, 0x33, 0x30, 0x0A, 0xA5, 0x0A};
	struct nc_shape s = dump_shape(bytes, sizeof bytes);

	assert_int_equal(s.bytes, 21);
	assert_false(s.odd_parity);
	assert_int_equal(s.high, 9);
	/* the same text without parity: by hand, % O 4 4 1 7 X 4 % are odd */
	s = dump_shape("%\nO4417\nG0X40.\nM30\n%\n", 21);
	assert_true(s.odd_parity);
	assert_int_equal(s.high, 0);
}

/* What a paper tape had at both ends, and what controls still send (common practice). */
static void filler(void **state)
{
	char bytes[400];
	size_t n = 0;
	struct nc_shape s;

	memset(bytes, 0, 120);
	n = 120;
	memcpy(bytes + n, "%\r\nO4417\r\nM30\r\n%\r\n", 18);
	n += 18;
	for (int i = 0; i < 80; i++) {
		bytes[n++] = 0;
		bytes[n++] = 0x7F;
	}
	s = dump_shape(bytes, n);
	assert_int_equal(s.leader, 120);
	assert_int_equal(s.trailer, 160);
	assert_int_equal(s.blocks, 4);
	assert_true(s.final_line_end);
	s = dump_shape("M30\n%\n\x1A", 7);
	assert_int_equal(s.trailer, 1);
	assert_int_equal(s.leader, 0);
	s = dump_shape("M30\n%\0\0", 7);
	assert_int_equal(s.trailer, 2);
	s = dump_shape("\0\0", 2);
	assert_int_equal(s.leader, 2);
	assert_int_equal(s.blocks, 0);
}

static int count_nul(void *ctx, const struct nc_block *b)
{
	uint32_t *n = ctx;

	for (size_t i = 0; i < b->faults; i++)
		if (b->fault[i].kind == NC_FAULT_NUL)
			n[b->line] += b->fault[i].count;
	return 0;
}

/* NUL inside the body is damage: within a block, and between two blocks, where the later one tells.
 */
static void damage(void **state)
{
	static const char bytes[] = "%\nG0 X4\0000.\n\0\0\nM30\n%\0\n\n\0M30\n";
	uint32_t n[12] = {0};
	struct nc_reader *r = nc_reader_new(count_nul, n);
	struct nc_shape s;

	assert_int_equal(nc_reader_feed(r, bytes, sizeof bytes - 1), 0);
	assert_int_equal(nc_reader_finish(r, &s), 0);
	nc_reader_free(r);
	assert_int_equal(n[2], 1);
	assert_int_equal(n[3], 0);
	assert_int_equal(n[4], 2);
	assert_int_equal(n[5], 0);
	assert_int_equal(n[7], 2);
	assert_int_equal(s.leader, 0);
	assert_int_equal(s.trailer, 0);
}

static int stop(void *ctx, const struct nc_block *b)
{
	return ++*(int *)ctx == 2 ? 7 : 0;
}

/* A callback that stops the reader stops it for good. */
static void stopping(void **state)
{
	int n = 0;
	struct nc_reader *r = nc_reader_new(stop, &n);
	struct nc_shape s;

	assert_int_equal(nc_reader_feed(r, "A1\nB1\nC1\nD", 10), 7);
	assert_int_equal(nc_reader_feed(r, "E1\n", 3), 7);
	assert_int_equal(nc_reader_finish(r, &s), 7);
	assert_int_equal(n, 2);
	nc_reader_free(r);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(comments),
	    cmocka_unit_test(semicolon),
	    cmocka_unit_test(block_skip),
	    cmocka_unit_test(numbers),
	    cmocka_unit_test(comma),
	    cmocka_unit_test(stray),
	    cmocka_unit_test(blank),
	    cmocka_unit_test(gaps),
	    cmocka_unit_test(places),
	    cmocka_unit_test(line_ends),
	    cmocka_unit_test(invisible),
	    cmocka_unit_test(parity),
	    cmocka_unit_test(filler),
	    cmocka_unit_test(damage),
	    cmocka_unit_test(stopping),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
