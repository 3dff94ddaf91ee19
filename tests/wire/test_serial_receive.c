/* Goal: what a control punches is taken down whole, told apart from noise, and never trusted when
 * it should not be. */
#include "wire_test.h"

#include <stdlib.h>
#include <string.h>
#include "serial_receive.h"

static struct line_serial listening(void)
{
	return (struct line_serial){
	    .baud = 9600, .framing = LINE_8N1, .read_back_ms = 60000, .silence_ms = 2000};
}

static struct serial_receive *heard(const struct line_serial *settings, const void *bytes, size_t n)
{
	struct serial_receive *r = serial_receive_new(settings, 1 << 20, 1000);

	assert_non_null(r);
	serial_receive_feed(r, 1500, bytes, n);
	return r;
}

static struct serial_receive_outcome outcome_of(const struct serial_receive *r)
{
	struct serial_receive_outcome o;

	serial_receive_outcome(r, &o);
	return o;
}

/* The text that bytes become after the silence, with its findings. */
static void becomes(const struct line_serial *settings, const void *bytes, size_t n,
    const char *text, uint32_t findings)
{
	struct serial_receive *r = heard(settings, bytes, n);
	struct serial_receive_outcome o;

	serial_receive_tick(r, 3500);
	o = outcome_of(r);
	assert_int_equal(o.state, SERIAL_RECEIVE_DONE);
	assert_int_equal(o.findings, findings);
	assert_int_equal(o.usable, (findings & SERIAL_CAPTURE_UNUSABLE) == 0);
	assert_int_equal(o.raw_size, n);
	assert_memory_equal(o.raw, bytes, n);
	assert_int_equal(o.text_size, strlen(text));
	if (o.text_size > 0)
		assert_memory_equal(o.text, text, o.text_size);
	serial_receive_free(r);
}

static void plain_text(void **state)
{
	struct line_serial s = listening();

	becomes(&s, BYTES("%\r\nO4417\r\nM30\r\n%\r\n"), "%\nO4417\nM30\n%\n", 0);
	becomes(&s, BYTES("\x12\0\0\0%\n\r\rM30\n\r\r%\n\r\r\0\0\0"), "%\nM30\n%\n", 0);
	becomes(&s, BYTES("\x12%\n\x13\x11\nM30\n\x13\n%\x13\n\x14"), "%\n\nM30\n\n%\n", 0);
	/* 50 % in a comment closes nothing. */
	becomes(&s, BYTES("%\n(FEED 50%)\nM30\n%\n"), "%\n(FEED 50%)\nM30\n%\n", 0);
	becomes(&s, BYTES("%\n(FEED 50%)\nM30\n"), "%\n(FEED 50%)\nM30\n", SERIAL_CAPTURE_NO_END);
}

/*
 * The trade's case "high-bit garbage on read-back": 7 bits with even parity read as 8N1. The text
 * can be read, is not taken for a program, and the capture is kept.
 */
static void even_parity_read_as_eight(void **state)
{
	static const char stream[] =
	    "\xA5\x0A\xCF\xB4\xB4\xB1\xB7\x0A\x47\x30\xD8\xB4\x30\x2E\x0A\x4D\x33"
	    "\x30\x0A\xA5\x0A";
	struct line_serial s = listening();

	becomes(&s, BYTES(stream), "%\nO4417\nG0X40.\nM30\n%\n", SERIAL_CAPTURE_EVEN);
	assert_non_null(strstr(serial_capture_says(SERIAL_CAPTURE_EVEN), "7E"));
	/* The same stream is right where the ISO code is set. */
	s.code = LINE_CODE_ISO;
	becomes(&s, BYTES(stream), "%\nO4417\nG0X40.\nM30\n%\n", 0);
}

static void odd_parity_and_noise(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r;

	becomes(&s, BYTES("\x25\x8A\x4F\x34\x34\x31\x37\x8A\xCD\xB3\xB0\x8A\x25\x8A"),
	    "%\nO4417\nM30\n%\n", SERIAL_CAPTURE_ODD);
	becomes(&s, BYTES("\xA5\x8A\xCF\x34\x9B\xFE\x0A\x25\x0A"), "", SERIAL_CAPTURE_NOISE);
	/* 7 bits with mark parity: bit 8 always set. */
	becomes(&s, BYTES("\xA5\x8A\xCF\xB4\x8A\xCD\xB3\xB0\x8A\xA5\x8A"), "%\nO4\nM30\n%\n",
	    SERIAL_CAPTURE_MARK);
	assert_non_null(strstr(serial_capture_says(SERIAL_CAPTURE_MARK), "mark parity"));
	assert_non_null(strstr(serial_capture_says(SERIAL_CAPTURE_NOISE), "wrong speed"));
	/* One wrong bit in ISO code is a parity error. */
	s.code = LINE_CODE_ISO;
	r = heard(&s, BYTES("\xA5\x0A\xCF\xB4\xB4\xB1\xB6\x0A\x4D\x33\x30\x0A\xA5\x0A"));
	serial_receive_tick(r, 3500);
	assert_int_equal(outcome_of(r).findings, SERIAL_CAPTURE_PARITY | SERIAL_CAPTURE_DAMAGED);
	assert_int_equal(serial_capture_worst(outcome_of(r).findings), SERIAL_CAPTURE_PARITY);
	assert_false(outcome_of(r).usable);
	assert_int_equal(outcome_of(r).damage_line, 2);
	serial_receive_free(r);
	/* A DC3 without parity is no damage, nor are a device server's words before. */
	becomes(&s, BYTES("Port 3\r\n\xA5\x0A\xCF\xB4\x0A\x4D\x33\x30\x0A\xA5\x0A"),
	    "%\nO4\nM30\n%\n", SERIAL_CAPTURE_BEFORE);
	becomes(&s, BYTES("\x13\xA5\x0A\xCF\xB4\xB4\xB1\xB7\x0A\x4D\x33\x30\x0A\xA5\x0A"),
	    "%\nO4417\nM30\n%\n", 0);
	becomes(&s, BYTES("%\nM30\n%\n"), "%\nM30\n%\n", SERIAL_CAPTURE_NO_PARITY);
}

static void accents_are_no_noise(void **state)
{
	struct line_serial s = listening();

	becomes(&s, BYTES("%\nO4417(BORE 30\xC2\xB0 LEFT)\nM30\n%\n"),
	    "%\nO4417(BORE 30\xC2\xB0 LEFT)\nM30\n%\n", SERIAL_CAPTURE_EIGHT_BIT);
}

/* The trade's case "leader, trailer, filler bytes", and its variant with one NUL between X4 and 0.
 */
static void filler_and_damage(void **state)
{
	struct line_serial s = listening();
	uint8_t stream[512] = {0};
	struct serial_receive *r;

	memcpy(stream + 120, BYTES("%\r\nO4417\r\nG0X40.\r\nM30\r\n%\r\n"));
	for (int i = 0; i < 80; i++)
		stream[149 + 2 * i] = 0x7F;
	becomes(&s, stream, 309, "%\nO4417\nG0X40.\nM30\n%\n", 0);

	r = heard(&s, BYTES("%\r\nO4417\r\nG0X4\0000.\r\nM30\r\n%\r\n"));
	serial_receive_tick(r, 9999);
	assert_int_equal(outcome_of(r).findings, SERIAL_CAPTURE_DAMAGED);
	assert_false(outcome_of(r).usable);
	assert_int_equal(outcome_of(r).damage_line, 3);
	serial_receive_free(r);
}

/* Where ASCII is set, a wrong framing is named even when a byte of it is damaged too, with a long
 * leader before. */
static void wrong_framing_with_damage(void **state)
{
	static const char even[] =
	    "\xA5\x0A\xCF\xB4\xB4\xB1\xB7\x0A\x47\x30\xD8\xB5\x30\x2E\x0A\x4D\x33\x30\x0A\xA5\x0A";
	struct line_serial s = listening();
	uint8_t stream[1000 + sizeof(even)] = {0};
	struct serial_receive *r;

	memcpy(stream + 1000, BYTES(even));
	r = heard(&s, stream, sizeof(stream) - 1);
	serial_receive_tick(r, 3500);
	assert_int_equal(outcome_of(r).findings, SERIAL_CAPTURE_EVEN);
	serial_receive_free(r);
	for (size_t i = 0; i < sizeof(even) - 1; i++)
		stream[1000 + i] ^= 0x80;
	r = heard(&s, stream, sizeof(stream) - 1);
	serial_receive_tick(r, 3500);
	assert_int_equal(outcome_of(r).findings, SERIAL_CAPTURE_ODD);
	serial_receive_free(r);
}

/*
 * One wrong bit makes DC1 to DC4 of the digits 1 to 4, and a capture that leaves device controls
 * out gave X42 for X412, without a word: even in codes with parity, since a DC3 may come without
 * it.
 */
static void a_device_inside_is_damage(void **state)
{
	static const char *const streams[] = {"%\nG0X4\x11"
	                                      "2\nM30\n%\n",
	    "%\nG0X41\x12\nM30\n%\n",
	    "%\n\x13"
	    "1200\nM30\n%\n"};
	struct line_serial s = listening();

	for (size_t i = 0; i < sizeof(streams) / sizeof(*streams); i++) {
		struct serial_receive *r = heard(&s, streams[i], strlen(streams[i]));

		serial_receive_tick(r, 9999);
		assert_int_equal(outcome_of(r).findings, SERIAL_CAPTURE_DEVICE);
		assert_false(outcome_of(r).usable);
		assert_int_equal(outcome_of(r).damage_line, 2);
		serial_receive_free(r);
	}
}

static void what_stands_before(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r = heard(&s, BYTES("\0READY\r\n%\nM30\n%\n"));

	serial_receive_tick(r, 9999);
	assert_int_equal(outcome_of(r).findings, SERIAL_CAPTURE_BEFORE);
	assert_int_equal(outcome_of(r).before, 5);
	assert_memory_equal(outcome_of(r).text, "%\nM30\n%\n", 8);
	serial_receive_free(r);
	becomes(&s, BYTES("O4417\nM30\n"), "O4417\nM30\n",
	    SERIAL_CAPTURE_NO_START | SERIAL_CAPTURE_NO_END);
}

/* A machine that hears a stream in chunks of its own size, with so many ms before each chunk. */
static struct serial_receive *heard_in(const char *stream, size_t n, size_t chunk, uint64_t pause)
{
	struct line_serial s = listening();
	struct serial_receive *r = serial_receive_new(&s, 1 << 20, 0);
	uint64_t now = 0;

	assert_non_null(r);
	for (size_t at = 0; at < n; at += chunk) {
		now += pause;
		serial_receive_tick(r, now);
		serial_receive_feed(r, now, stream + at, n - at < chunk ? n - at : chunk);
	}
	return r;
}

#define TAPE "\0\0\0\x7F"
#define O1 "O0001\nM30\n"
#define O2 "O4417(JOB)\nG1 F0.2\nM30\n"

/*
 * All programs in one stream, in the forms that operators get from controls: one % at either end, a
 * % of its own for each with tape between, or one shared. Only the first program was taken.
 */
static void several_programs(void **state)
{
	static const char one[] = "%\n" O1 O2 "%\n" TAPE, shared[] = "%\n" O1 "%\n" O2 "%\n",
	                  own[] = "%\n" O1 "%\n" TAPE TAPE "%\n" O2 "%\n",
	                  cr[] = "%\r\n" O1 "%\r\n" TAPE "\r\n" TAPE "%\r\n" O2 "%\r\n";
	const struct {
		const char *stream;
		size_t n;
		const char *text;
	} form[] = {{BYTES(one), "%\n" O1 O2 "%\n"}, {BYTES(shared), "%\n" O1 "%\n" O2 "%\n"},
	    {BYTES(own), "%\n" O1 "%\n%\n" O2 "%\n"}, {BYTES(cr), "%\n" O1 "%\n%\n" O2 "%\n"}};

	for (size_t f = 0; f < sizeof(form) / sizeof(*form); f++)
		for (size_t chunk = 1; chunk <= form[f].n; chunk++) {
			/* Each pause is just shorter than the silence that ends a text. */
			struct serial_receive *r = heard_in(form[f].stream, form[f].n, chunk, 1999);
			struct serial_receive_outcome o = outcome_of(r);

			assert_int_equal(o.state, SERIAL_RECEIVE_CLOSING);
			serial_receive_tick(r, serial_receive_deadline(r) - 1);
			assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_CLOSING);
			serial_receive_tick(r, serial_receive_deadline(r));
			o = outcome_of(r);
			assert_int_equal(o.state, SERIAL_RECEIVE_DONE);
			assert_int_equal(o.findings, 0);
			assert_int_equal(o.text_size, strlen(form[f].text));
			assert_memory_equal(o.text, form[f].text, o.text_size);
			serial_receive_free(r);
		}
}

/* The silence between two programs ends the stream; so does DC4, and what follows it is counted. */
static void where_a_stream_of_several_ends(void **state)
{
	static const char both[] = "%\n" O1 "%\n\x14\n\0"
	                           "%\n" O2 "%\n";
	struct line_serial s = listening();
	struct serial_receive *r = heard_in(BYTES("%\n" O1 "%\n"), 100, 1);

	serial_receive_tick(r, 2001);
	serial_receive_feed(r, 2001, BYTES("%\n" O2 "%\n"));
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_DONE);
	assert_int_equal(outcome_of(r).text_size, strlen("%\n" O1 "%\n"));
	assert_int_equal(outcome_of(r).after, strlen("%%O4417(JOB)G1F0.2M30"));
	serial_receive_free(r);
	r = heard(&s, BYTES(both));
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_DONE);
	assert_int_equal(outcome_of(r).text_size, strlen("%\n" O1 "%\n"));
	assert_int_equal(outcome_of(r).after, strlen("%%O4417(JOB)G1F0.2M30"));
	serial_receive_free(r);
}

/* The second program is cut off although the first was closed: that is no whole stream. Words of a
 * device server behind the last % are no program. */
static void the_last_of_several_is_cut(void **state)
{
	struct line_serial s = listening();

	becomes(&s, BYTES("%\n" O1 "%\n%\nO4417\nG1"), "%\n" O1 "%\n%\nO4417\nG1\n",
	    SERIAL_CAPTURE_NO_END);
	becomes(
	    &s, BYTES("%\n" O1 "%\nO4417\nG1"), "%\n" O1 "%\nO4417\nG1\n", SERIAL_CAPTURE_NO_END);
	becomes(&s, BYTES("%\n" O1 "%\nConnection closed\n"), "%\n" O1 "%\nConnection closed\n", 0);
}

/* Tape between two programs is no damage; a NUL in the second one is, and its line is the line of
 * the whole. */
static void damage_in_the_second_program(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r = heard(&s, BYTES("%\n" O1 "%\n" TAPE "\n" TAPE "%\nO2\nG\0"
	                                           "1\nM30\n%\n"));

	serial_receive_tick(r, 9999);
	assert_int_equal(outcome_of(r).findings, SERIAL_CAPTURE_DAMAGED);
	assert_int_equal(outcome_of(r).damage_line, 7);
	serial_receive_free(r);
	/* Behind a % that opens a program they stand in its place. */
	r = heard(&s, BYTES("%\n\0\0\0O1\nM30\n%\n"));
	serial_receive_tick(r, 9999);
	assert_int_equal(outcome_of(r).damage_line, 2);
	serial_receive_free(r);
}

static void each_state(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r = serial_receive_new(&s, 1000, 1000);

	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_WAITING);
	assert_int_equal(serial_receive_deadline(r), 61000);
	serial_receive_feed(r, 5000, BYTES("\0\0\x14"));
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_LEADER);
	assert_int_equal(serial_receive_deadline(r), 61000);
	serial_receive_feed(r, 6000, BYTES("%"));
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_BODY);
	assert_int_equal(serial_receive_deadline(r), 8000);
	serial_receive_tick(r, 7999);
	serial_receive_feed(r, 7999, BYTES("\nM30\n%"));
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_CLOSING);
	assert_int_equal(serial_receive_deadline(r), 9999);
	assert_int_equal(outcome_of(r).text_size, 0);
	serial_receive_feed(r, 8000, BYTES("\n\0\x14never read"));
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_DONE);
	assert_true(serial_receive_deadline(r) == SERIAL_RECEIVE_NEVER);
	assert_int_equal(outcome_of(r).raw_size, 13);
	assert_memory_equal(outcome_of(r).text, "%\nM30\n%\n", 8);
	serial_receive_cancel(r, 9000);
	serial_receive_lost(r, 9000);
	serial_receive_tick(r, 99000);
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_DONE);
	serial_receive_free(r);
}

static void nothing_came(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r = serial_receive_new(&s, 1000, 0);

	serial_receive_tick(r, 59999);
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_WAITING);
	serial_receive_tick(r, 60000);
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_FAILED);
	assert_int_equal(outcome_of(r).reason, SERIAL_RECEIVE_NOTHING);
	serial_receive_feed(r, 60001, BYTES("%"));
	assert_int_equal(outcome_of(r).raw_size, 0);
	serial_receive_free(r);

	/* A leader alone is no program; it only earns patience until it stops. */
	r = serial_receive_new(&s, 1000, 0);
	serial_receive_feed(r, 59000, BYTES("\0\0\0\n"));
	serial_receive_tick(r, 60999);
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_LEADER);
	serial_receive_tick(r, 61000);
	assert_int_equal(outcome_of(r).reason, SERIAL_RECEIVE_NOTHING);
	assert_int_equal(outcome_of(r).raw_size, 4);
	serial_receive_free(r);
}

/* A line that floats, or a control that is off, gives filler without end: the wait for a program
 * ends all the same, and not with the memory. */
static void a_leader_without_end(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r = serial_receive_new(&s, 1 << 20, 0);
	uint64_t now = 0;

	for (; outcome_of(r).state <= SERIAL_RECEIVE_LEADER && now < 10000000; now += 100) {
		serial_receive_feed(r, now, BYTES("\0\xFF\x7F"));
		serial_receive_tick(r, now);
	}
	assert_int_equal(outcome_of(r).reason, SERIAL_RECEIVE_NOTHING);
	assert_in_range(now, 60000 + SERIAL_RECEIVE_LEADER_MS, 60200 + SERIAL_RECEIVE_LEADER_MS);
	serial_receive_free(r);
}

static void too_big(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r = serial_receive_new(&s, 10000, 0);

	for (int i = 0; i < 10000; i++)
		serial_receive_feed(r, 1, BYTES("X"));
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_BODY);
	serial_receive_feed(r, 1, BYTES("XX"));
	assert_int_equal(outcome_of(r).reason, SERIAL_RECEIVE_TOO_BIG);
	assert_int_equal(outcome_of(r).raw_size, 10000);
	assert_false(outcome_of(r).usable);
	serial_receive_free(r);
	assert_null(serial_receive_new(&s, 0, 0));
	serial_receive_free(NULL);
}

static void lost_and_cancelled(void **state)
{
	struct line_serial s = listening();
	struct serial_receive *r = heard(&s, BYTES("%\nM3"));

	serial_receive_lost(r, 2000);
	assert_int_equal(outcome_of(r).reason, SERIAL_RECEIVE_LOST);
	assert_int_equal(outcome_of(r).raw_size, 4);
	assert_int_equal(outcome_of(r).text_size, 0);
	serial_receive_free(r);
	r = heard(&s, BYTES(""));
	serial_receive_cancel(r, 2000);
	assert_int_equal(outcome_of(r).reason, SERIAL_RECEIVE_CANCELLED);
	serial_receive_free(r);
}

static void everything_is_told(void **state)
{
	assert_string_equal(serial_receive_says(SERIAL_RECEIVE_OK), "");
	for (int r = SERIAL_RECEIVE_NOTHING; r <= SERIAL_RECEIVE_CANCELLED; r++)
		assert_true(strlen(serial_receive_says((enum serial_receive_reason)r)) > 0);
	for (int f = SERIAL_CAPTURE_DAMAGED; f <= SERIAL_CAPTURE_DEVICE; f <<= 1)
		assert_true(strlen(serial_capture_says((enum serial_capture_finding)f)) > 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(plain_text),
	    cmocka_unit_test(even_parity_read_as_eight),
	    cmocka_unit_test(odd_parity_and_noise),
	    cmocka_unit_test(accents_are_no_noise),
	    cmocka_unit_test(filler_and_damage),
	    cmocka_unit_test(wrong_framing_with_damage),
	    cmocka_unit_test(a_device_inside_is_damage),
	    cmocka_unit_test(what_stands_before),
	    cmocka_unit_test(several_programs),
	    cmocka_unit_test(where_a_stream_of_several_ends),
	    cmocka_unit_test(the_last_of_several_is_cut),
	    cmocka_unit_test(damage_in_the_second_program),
	    cmocka_unit_test(each_state),
	    cmocka_unit_test(nothing_came),
	    cmocka_unit_test(a_leader_without_end),
	    cmocka_unit_test(too_big),
	    cmocka_unit_test(lost_and_cancelled),
	    cmocka_unit_test(everything_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
