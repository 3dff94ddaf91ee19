/*
 * Goal: the bench control's own parts keep the rules of tape code, serial line, reader and punch,
 * checked against published values in simulated time, so that a test against the bench is a test
 * against the rules.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "code.h"
#include "line.h"
#include "punch.h"
#include "reader.h"
#include "store.h"

/*
 * ISO 840 / EIA RS-358, even parity in track 8. Source: published table of EIA, ASCII and ISO tape
 * codes, each value compared with the parity rule; DC1 to DC4 from a control builder's description
 * of its reader interface (DC3 has four holes).
 */
static const struct {
	const char *chars;
	uint8_t bytes[16];
} iso[] = {
    {"0123456789", {0x30, 0xb1, 0xb2, 0x33, 0xb4, 0x35, 0x36, 0xb7, 0xb8, 0x39}},
    {"ABCDEFGHIJKLM",
        {0x41, 0x42, 0xc3, 0x44, 0xc5, 0xc6, 0x47, 0x48, 0xc9, 0xca, 0x4b, 0xcc, 0x4d}},
    {"NOPQRSTUVWXYZ",
        {0x4e, 0xcf, 0x50, 0xd1, 0xd2, 0x53, 0xd4, 0x55, 0x56, 0xd7, 0xd8, 0x59, 0x5a}},
    {"%+-./:(),*=#[]&@", {0xa5, 0x2b, 0x2d, 0x2e, 0xaf, 0x3a, 0x28, 0xa9, 0xac, 0xaa, 0xbd, 0xa3,
                             0xdb, 0xdd, 0xa6, 0xc0}},
    {"$ \b\t\n\r\x11\x12\x13\x14\x7f",
        {0x24, 0xa0, 0x88, 0x09, 0x0a, 0x8d, 0x11, 0x12, 0x93, 0x14, 0xff}},
};

static void test_iso_table(void **state)
{
	uint8_t c;

	for (size_t i = 0; i < sizeof(iso) / sizeof(*iso); i++) {
		for (size_t k = 0; iso[i].chars[k]; k++) {
			uint8_t want = (uint8_t)iso[i].chars[k];

			assert_int_equal(code_send(CODE_ISO, want), iso[i].bytes[k]);
			assert_true(code_take(CODE_ISO, iso[i].bytes[k], &c));
			assert_int_equal(c, want);
			assert_false(code_take(CODE_ISO, iso[i].bytes[k] ^ 0x10, &c));
		}
	}
	assert_true(code_take(CODE_ISO, 0, &c));
	assert_int_equal(code_send(CODE_ASCII, 'O'), 'O');
	assert_false(code_take(CODE_ASCII, 0xcf, &c));
}

/* The stream of checkable tape code in both directions; ISO bytes computed from the table above. */
static const char job[] = "%\nO1234(JOB)\nN10G0X50.Z2.\nM30\n%\n";
static const uint8_t job_iso[] = {0xa5, 0x0a, 0xcf, 0xb1, 0xb2, 0x33, 0xb4, 0x28, 0xca, 0xcf, 0x42,
    0xa9, 0x0a, 0x4e, 0xb1, 0x30, 0x47, 0x30, 0xd8, 0x35, 0x30, 0x2e, 0x5a, 0xb2, 0x2e, 0x0a, 0x4d,
    0x33, 0x30, 0x0a, 0xa5, 0x0a};

static struct store *memory(size_t bytes)
{
	struct store *s = store_new("upper", NULL, bytes, false);

	assert_non_null(s);
	return s;
}

/* Gives all of it to a fresh reader; the answer to the last character, or the first that is not
 * "more". */
static enum reader_answer read_all(struct store *s, enum code code, const void *bytes, size_t n)
{
	struct reader r;
	enum reader_answer a = READER_MORE;

	reader_init(&r, s, code, false);
	reader_start(&r);
	for (size_t i = 0; i < n && a == READER_MORE; i++)
		a = reader_take(&r, ((const uint8_t *)bytes)[i]);
	if (a != READER_END)
		reader_break(&r);
	return a;
}

static void test_iso_stream(void **state)
{
	const struct punch_settings set = {.code = CODE_ISO, .leader = 3, .trailer = 2};
	struct store *s = memory(1000);
	const struct program *p;
	uint8_t *tape;
	size_t len;

	assert_int_equal(read_all(s, CODE_ISO, job_iso, sizeof(job_iso)), READER_END);
	p = store_find(s, 1234);
	assert_non_null(p);
	assert_true(p->whole);
	assert_int_equal(p->len, strlen(job) - 4);
	assert_memory_equal(p->text, job + 2, p->len);

	tape = punch_stream(s, STORE_NEWEST, &set, &len);
	assert_non_null(tape);
	assert_int_equal(len, 1 + 3 + sizeof(job_iso) + 2 + 1);
	assert_memory_equal(tape, "\x12\0\0\0", 4);
	assert_memory_equal(tape + 4, job_iso, sizeof(job_iso));
	assert_memory_equal(tape + len - 3, "\0\0\x14", 3);
	free(tape);
	assert_null(punch_stream(s, 4321, &set, &len));
	assert_int_equal(errno, ENOENT);
	store_free(s);
}

static void test_all_in_one_stream(void **state)
{
	static const char first[] = "%\nO1\nM30\n%\n", second[] = "%\nO2\nM99\n%\n";
	static const char one[] = "\x12\0%\nO1\nM30\nO2\nM99\n%\n\0\x14",
	                  each[] = "\x12\0%\nO1\nM30\n%\n\0\0%\nO2\nM99\n%\n\0\x14";
	struct punch_settings set = {.code = CODE_ASCII, .leader = 1, .trailer = 1};
	struct store *s = memory(1000);
	uint8_t *tape;
	size_t len;

	assert_int_equal(read_all(s, CODE_ASCII, first, sizeof(first) - 1), READER_END);
	assert_int_equal(read_all(s, CODE_ASCII, second, sizeof(second) - 1), READER_END);
	tape = punch_stream(s, STORE_ALL, &set, &len);
	assert_non_null(tape);
	assert_int_equal(len, sizeof(one) - 1);
	assert_memory_equal(tape, one, len);
	free(tape);
	set.own_percent = true;
	tape = punch_stream(s, STORE_ALL, &set, &len);
	assert_non_null(tape);
	assert_int_equal(len, sizeof(each) - 1);
	assert_memory_equal(tape, each, len);
	free(tape);
	store_free(s);
}

/* A control that knows its channels by words goes on in the channel of the word; the block is no part
 * of the program, and comes in front of it when it is punched. */
static void test_channel_words(void **state)
{
	static const char *const words[] = {"TO1", "O LOWER"};
	static const char load[] = "%\nO LOWER\nO4417\nM30\n%\n", unknown[] = "%\nTO3\nO4417\n",
	                  none[] = "%\nO1\nM30\n%\n", punched[] = "\x12%\nTO1\nO1\nM30\n%\n\x14";
	struct punch_settings set = {.code = CODE_ASCII, .word = words[0]};
	struct store *s[2] = {memory(1000), memory(1000)};
	enum reader_answer a = READER_MORE;
	struct reader r[2];
	size_t i = 0, len;
	uint8_t *tape;

	for (int k = 0; k < 2; k++) {
		reader_init(&r[k], s[k], CODE_ASCII, false);
		reader_words(&r[k], words, 2);
	}
	reader_start(&r[0]);
	while (a == READER_MORE)
		a = reader_take(&r[0], (uint8_t)load[i++]);
	assert_int_equal(a, READER_CHANNEL);
	assert_int_equal(r[0].word, 1);
	reader_goes_on(&r[1]);
	for (a = READER_MORE; a == READER_MORE;)
		a = reader_take(&r[1], (uint8_t)load[i++]);
	assert_int_equal(a, READER_END);
	assert_null(store_at(s[0], 0));
	assert_string_equal(store_find(s[1], 4417)->text, "O4417\nM30\n");

	reader_start(&r[0]);
	for (i = 0, a = READER_MORE; a == READER_MORE;)
		a = reader_take(&r[0], (uint8_t)unknown[i++]);
	assert_int_equal(a, READER_NO_NUMBER);
	/* Without a word it is for the channel that was selected. */
	reader_start(&r[0]);
	for (i = 0, a = READER_MORE; a == READER_MORE;)
		a = reader_take(&r[0], (uint8_t)none[i++]);
	assert_int_equal(a, READER_END);
	tape = punch_stream(s[0], STORE_NEWEST, &set, &len);
	assert_non_null(tape);
	assert_int_equal(len, sizeof(punched) - 1);
	assert_memory_equal(tape, punched, len);
	free(tape);
	store_free(s[0]);
	store_free(s[1]);
}

/*
 * EIA RS-244-A, odd parity in track 5. Source: published tables of EIA, ASCII and ISO tape codes,
 * compared with the rule; ER, TAB, BS and & as most of them have it.
 */
static void test_eia_table(void **state)
{
	static const struct {
		const char *chars;
		uint8_t bytes[16];
	} rows[] = {
	    {"0123456789", {0x20, 0x01, 0x02, 0x13, 0x04, 0x15, 0x16, 0x07, 0x08, 0x19}},
	    {"ABCDEFGHI", {0x61, 0x62, 0x73, 0x64, 0x75, 0x76, 0x67, 0x68, 0x79}},
	    {"JKLMNOPQR", {0x51, 0x52, 0x43, 0x54, 0x45, 0x46, 0x57, 0x58, 0x49}},
	    {"STUVWXYZ", {0x32, 0x23, 0x34, 0x25, 0x26, 0x37, 0x38, 0x29}},
	    {"+-./,() %&", {0x70, 0x40, 0x6b, 0x31, 0x3b, 0x1a, 0x4a, 0x10, 0x0b, 0x0e}},
	    {"\t\b\n\x7f\x11\x12\x13\x14", {0x3e, 0x2a, 0x80, 0x7f, 0x11, 0x12, 0x93, 0x14}},
	};
	int known = 0;
	uint8_t c;

	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++)
		for (size_t k = 0; rows[i].chars[k]; k++) {
			assert_int_equal(
			    code_send(CODE_EIA, (uint8_t)rows[i].chars[k]), rows[i].bytes[k]);
			assert_true(code_take(CODE_EIA, rows[i].bytes[k], &c));
			assert_int_equal(c, (uint8_t)rows[i].chars[k]);
			known++;
		}
	for (unsigned b = 0; b < 256; b++)
		known -= code_take(CODE_EIA, (uint8_t)b, &c);
	/* Blank, UC and LC. */
	assert_int_equal(known, -3);
	assert_int_equal(code_send(CODE_EIA, '#'), 0);
}

static void test_eia_stream(void **state)
{
	/* Computed from the table above. */
	static const uint8_t tape_eia[] = {0x0b, 0x80, 0x46, 0x01, 0x02, 0x13, 0x04, 0x1a, 0x51,
	    0x46, 0x62, 0x4a, 0x80, 0x45, 0x01, 0x20, 0x67, 0x20, 0x37, 0x15, 0x20, 0x6b, 0x29,
	    0x02, 0x6b, 0x80, 0x54, 0x13, 0x20, 0x80, 0x0b, 0x80};
	const struct punch_settings set = {.code = CODE_EIA, .eob = PUNCH_LFCRCR, .leader = 1};
	struct store *s = memory(1000);
	const struct program *p;
	uint8_t *tape;
	size_t len;

	assert_int_equal(read_all(s, CODE_EIA, tape_eia, sizeof(tape_eia)), READER_END);
	p = store_find(s, 1234);
	assert_non_null(p);
	assert_int_equal(p->len, strlen(job) - 4);
	assert_memory_equal(p->text, job + 2, p->len);
	tape = punch_stream(s, 1234, &set, &len);
	assert_non_null(tape);
	assert_int_equal(len, sizeof(tape_eia) + 3);
	assert_memory_equal(tape, "\x12\0", 2);
	assert_memory_equal(tape + 2, tape_eia, sizeof(tape_eia));
	free(tape);
	/* Filler outside is none inside; delete is ignored; ISO is no EIA. */
	assert_int_equal(
	    read_all(s, CODE_EIA, "\0\0\x0b\x80\x46\x01\x7f\x80\x54\0\x13", 11), READER_BLANK);
	assert_int_equal(
	    read_all(s, CODE_EIA, "\0\x0b\x80\x46\x01\x7f\x80\x54\x13\x20\x80\x0b", 12),
	    READER_END);
	assert_int_equal(read_all(s, CODE_EIA, "\x0b\x80\xcf", 3), READER_PARITY);
	store_free(s);
}

static void test_punch_end_of_block(void **state)
{
	static const struct {
		enum punch_eob eob;
		const char *text;
	} form[] = {{PUNCH_LF, "%\nO7\nM30\n%\n"}, {PUNCH_CRLF, "%\r\nO7\r\nM30\r\n%\r\n"},
	    {PUNCH_LFCRCR, "%\n\r\rO7\n\r\rM30\n\r\r%\n\r\r"}};
	struct store *s = memory(1000);

	assert_int_equal(read_all(s, CODE_ASCII, "%\nO7\nM30%", 9), READER_END);
	for (size_t i = 0; i < 3; i++) {
		const struct punch_settings set = {.code = CODE_ASCII, .eob = form[i].eob};
		size_t len;
		uint8_t *tape = punch_stream(s, 7, &set, &len);

		assert_non_null(tape);
		assert_int_equal(len, strlen(form[i].text) + 2);
		assert_memory_equal(tape + 1, form[i].text, len - 2);
		free(tape);
	}
	store_free(s);
}

/* Common practice of readers; the case "leader, trailer, filler bytes". */
static void test_reader_finds_the_program(void **state)
{
	static const struct {
		const char *in;
		size_t len;
		enum reader_answer answer;
		const char *text; /* of program 12, NULL: there is none */
	} c[] = {
	    {"\0\0\0junk%\nO12\nM30\n%", 18, READER_END, "O12\nM30\n"},
	    {"%\r\nO12\r\nM30\r\n%", 15, READER_END, "O12\nM30\n"},
	    {"%\n\r\rO12\n\r\rM30\n\r\r%", 18, READER_END, "O12\nM30\n"},
	    {"\nO12\nM30\n%", 10, READER_END, "O12\nM30\n"},
	    {"\n%\nO12\nM30\n%", 12, READER_END, "O12\nM30\n"},
	    {"%O0012(NAME)\nM30\n%", 18, READER_END, "O0012(NAME)\nM30\n"},
	    {"%NAME\n:12\nM30\n%", 15, READER_END, "O12\nM30\n"},
	    {"%\nO12\nX\0004\0010\x7f.\n%", 16, READER_END, "O12\nX40.\n"},
	    {"%\nO12\n\nM30\n\n%", 13, READER_END, "O12\n\nM30\n\n"},
	    {"%\nO12\nM30%", 10, READER_END, "O12\nM30\n"},
	    {"%\nO12%", 6, READER_END, "O12\n"},
	    {"%\nO12\nM98 P13\nO13\nM99\n%", 23, READER_END, "O12\nM98 P13\n"},
	    {"%\nG0X1.\nO12\n%", 13, READER_NO_NUMBER, NULL},
	    {"%\nO\n", 4, READER_NO_NUMBER, NULL},
	    {"%\nO123456789\n", 13, READER_NO_NUMBER, NULL},
	    {"%\nO12\nG0\xd8", 9, READER_PARITY, "O12\nG0"},
	    {"%\nO12\nG0", 8, READER_MORE, "O12\nG0"},
	    {"O12 without a start", 19, READER_MORE, NULL},
	};

	for (size_t i = 0; i < sizeof(c) / sizeof(*c); i++) {
		struct store *s = memory(1000);
		const struct program *p;

		assert_int_equal(read_all(s, CODE_ASCII, c[i].in, c[i].len), c[i].answer);
		p = store_find(s, 12);
		assert_true((p != NULL) == (c[i].text != NULL));
		if (p) {
			assert_string_equal(p->text, c[i].text);
			assert_true(p->whole == (c[i].answer == READER_END));
		}
		store_free(s);
	}
}

static void test_memory(void **state)
{
	struct store *s = memory(12);

	assert_int_equal(read_all(s, CODE_ASCII, "%\nO1\nG0X1.\nM30\n%", 16), READER_FULL);
	assert_false(store_find(s, 1)->whole);
	assert_int_equal(store_used(s), 12);
	/* The same number again takes the old one's place. */
	assert_int_equal(read_all(s, CODE_ASCII, "%\nO1\nM30\n%", 10), READER_END);
	assert_int_equal(store_used(s), 7);
	assert_int_equal(store_edit(s, "M30", "M02 (E)"), 1);
	assert_string_equal(store_find(s, 1)->text, "O1\nM02 (E)\n");
	assert_int_equal(store_edit(s, "M02", "M000002"), -2);
	assert_int_equal(store_edit(s, "M30", "M99"), -1);
	assert_int_equal(store_edit(s, "", "M99"), -1);
	assert_int_equal(store_delete(s, STORE_ALL), 1);
	assert_int_equal(store_used(s), 0);
	store_free(s);
}

/* The line, in simulated time. */

struct bed {
	struct line *line;
	uint8_t got[6000];
	size_t got_len, lost;
	bool stopped;
};

static bool bed_heard(void *ctx, uint64_t at, uint8_t *byte)
{
	return true;
}

static void bed_taken(void *ctx, uint8_t byte)
{
	struct bed *b = ctx;

	assert_true(b->got_len < sizeof(b->got));
	b->got[b->got_len++] = byte;
}

static void bed_overrun(void *ctx)
{
	((struct bed *)ctx)->lost++;
}

static void bed_flow(void *ctx, bool stop)
{
	((struct bed *)ctx)->stopped = stop;
}

static uint64_t char_ns(unsigned bits, unsigned baud)
{
	return 1000000000ULL * bits / baud;
}

/*
 * Sends n characters and lets the line run dry. The sender keeps at most `limit` characters in the
 * FIFO, and sends nothing while DC3 is in force. Returns the time of the last event, ns.
 */
static uint64_t run_bed(
    struct bed *b, const struct line_settings *set, size_t n, size_t limit, bool honours)
{
	const struct line_ears ears = {bed_heard, bed_taken, bed_overrun, bed_flow, b};
	uint64_t now = 0, next;
	size_t sent = 0;

	*b = (struct bed){.line = line_new(set, &ears)};
	assert_non_null(b->line);
	do {
		while (sent < n && !(honours && b->stopped) && line_room(b->line) > 0 &&
		       set->fifo - line_room(b->line) < limit) {
			uint8_t c = (uint8_t)(sent++ % 251);

			line_feed(b->line, now, &c, 1, false);
		}
		next = line_next(b->line);
		if (next != LINE_NEVER) {
			now = next;
			line_advance(b->line, now);
		}
	} while (next != LINE_NEVER);
	assert_true(line_settled(b->line));
	line_free(b->line);
	return now;
}

static void assert_whole(const struct bed *b, size_t n)
{
	assert_int_equal(b->lost, 0);
	assert_int_equal(b->got_len, n);
	for (size_t i = 0; i < n; i++)
		assert_int_equal(b->got[i], i % 251);
}

/* RS-232 character times: start + data + parity + stop bits. Values: milliseconds of a character,
 * computed. */
static void test_character_times(void **state)
{
	static const struct {
		unsigned bits, baud;
		double ms;
	} t[] = {{11, 300, 36.667}, {11, 1200, 9.167}, {11, 4800, 2.292}, {11, 9600, 1.146},
	    {11, 38400, 0.286}, {10, 9600, 1.0417}, {12, 9600, 1.25}};
	struct bed b;

	for (size_t i = 0; i < sizeof(t) / sizeof(*t); i++) {
		const struct line_settings set = {.char_ns = char_ns(t[i].bits, t[i].baud),
		    .fifo = 16,
		    .buffer = 64,
		    .resume = 8};
		double ms = (double)run_bed(&b, &set, 1000, 16, true) / 1e6;

		assert_whole(&b, 1000);
		assert_true(ms > t[i].ms * 1000 * 0.998 && ms < t[i].ms * 1000 * 1.002);
	}
}

/*
 * The case "the control is overrun although it sent XOFF": 100-byte buffer, DC3 at 40 free, 200
 * characters a second taken, 872 on the line. What is below the sender leaves after DC3: 16 fit,
 * 256 and 4096 do not, unless the sender keeps few characters there.
 */
static void test_overrun_by_fifo(void **state)
{
	static const size_t fifo[] = {16, 256, 4096};
	struct bed b;

	for (size_t i = 0; i < 3; i++) {
		struct line_settings set = {.char_ns = char_ns(11, 9600),
		    .drain_ns = 5000000,
		    .fifo = fifo[i],
		    .buffer = 100,
		    .reserve = 40,
		    .resume = 25,
		    .brake = true};

		run_bed(&b, &set, 5000, SIZE_MAX, false);
		if (fifo[i] == 16) {
			assert_whole(&b, 5000);
		} else {
			assert_true(b.lost > 0);
			assert_int_equal(b.got_len + b.lost, 5000);
		}
		set.brake = false;
		run_bed(&b, &set, 5000, SIZE_MAX, true);
		assert_true((b.lost > 0) == (fifo[i] != 16));
		run_bed(&b, &set, 5000, 16, true);
		assert_whole(&b, 5000);
		run_bed(&b, &set, 5000, 16, false);
		assert_true(b.lost > 0);
	}
}

/* What comes after DC3 is what was in the FIFO; the reserve of R bytes is then enough for a FIFO of
 * R. */
static void test_counts_after_dc3(void **state)
{
	const struct line_settings set = {.char_ns = 1000,
	    .drain_ns = 10000,
	    .fifo = 30,
	    .buffer = 100,
	    .reserve = 30,
	    .resume = 10};
	struct bed b = {0};
	const struct line_ears ears = {bed_heard, bed_taken, bed_overrun, bed_flow, &b};
	struct line_counts n = {0};
	uint8_t bytes[30] = {0};
	uint64_t now = 0;

	b.line = line_new(&set, &ears);
	assert_non_null(b.line);
	line_count_load(b.line, &n);
	while (!b.stopped) {
		line_feed(b.line, now, bytes, line_room(b.line), false);
		now = line_next(b.line);
		line_advance(b.line, now);
	}
	line_feed(b.line, now, bytes, line_room(b.line), false);
	line_advance(b.line, now + 30 * set.char_ns);
	assert_int_equal(n.stops, 1);
	assert_int_equal(n.after_most, 30);
	assert_int_equal(n.after_dc3, 30);
	assert_int_equal(n.overrun, 0);
	line_advance(b.line, now + 100 * set.drain_ns);
	assert_false(b.stopped);
	assert_int_equal(b.got_len, n.received);
	line_free(b.line);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_iso_table),
	    cmocka_unit_test(test_iso_stream),
	    cmocka_unit_test(test_all_in_one_stream),
	    cmocka_unit_test(test_channel_words),
	    cmocka_unit_test(test_eia_table),
	    cmocka_unit_test(test_eia_stream),
	    cmocka_unit_test(test_punch_end_of_block),
	    cmocka_unit_test(test_reader_finds_the_program),
	    cmocka_unit_test(test_memory),
	    cmocka_unit_test(test_character_times),
	    cmocka_unit_test(test_overrun_by_fifo),
	    cmocka_unit_test(test_counts_after_dc3),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
