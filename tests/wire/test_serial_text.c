/* Goal: a program becomes exactly the characters that the control wants, or is refused with its
 * place before any is sent. */
#include "wire_test.h"

#include <string.h>
#include "serial_text.h"

static struct line_serial plain(void)
{
	return (struct line_serial){.baud = 9600, .reserve = 16, .stall_ms = 1000};
}

static void becomes(const struct line_serial *settings, const char *program, size_t n,
    const char *expected, size_t size)
{
	struct serial_text_refusal refusal;
	struct serial_text t;
	size_t i = 0;

	assert_int_equal(serial_text_init(&t, settings, program, n, &refusal), 0);
	assert_int_equal(t.characters, size);
	for (int c; (c = serial_text_next(&t)) >= 0; i++) {
		assert_true(i < size);
		assert_int_equal(c, (uint8_t)expected[i]);
		assert_false(t.block_ended && t.at == t.end);
	}
	assert_int_equal(i, size);
	assert_int_equal(t.character, size);
	assert_int_equal(t.block, t.blocks);
	assert_int_equal(t.at, t.end);
	assert_int_equal(serial_text_next(&t), -1);
}

static void line_ends(void **state)
{
	struct line_serial s = plain();

	becomes(&s, BYTES("%\nM30\r\n%"), BYTES("%\nM30\n%"));
	s.eob = LINE_EOB_CRLF;
	becomes(&s, BYTES("%\nM30\r\n%\n"), BYTES("%\r\nM30\r\n%\r\n"));
	s.eob = LINE_EOB_LFCRCR;
	becomes(&s, BYTES("%\nM30\r\n%\n"), BYTES("%\n\r\rM30\n\r\r%\n\r\r"));
}

/* Only LF and CR LF are line ends: any other CR is a byte of the program and goes as it is. */
static void a_lone_cr_stays(void **state)
{
	struct line_serial s = plain();

	becomes(&s, BYTES("A\rB\r\r\nC\r"), BYTES("A\rB\r\nC\r"));
	s.eob = LINE_EOB_CRLF;
	becomes(&s, BYTES("A\r\r\n"), BYTES("A\r\r\n"));
}

static void frame(void **state)
{
	struct line_serial s = plain();

	s.leader = 3;
	s.trailer = 2;
	becomes(&s, BYTES("%\n"), BYTES("\0\0\0%\n\0\0"));
	s.dc2_dc4 = true;
	becomes(&s, BYTES("%\n"), BYTES("\x12\0\0\0%\n\0\0\x14"));
	s.code = LINE_CODE_ISO;
	s.eob = LINE_EOB_LFCRCR;
	becomes(&s, BYTES("%\n"), BYTES("\x12\0\0\0\xA5\x0A\x8D\x8D\0\0\x14"));
}

/* A program that was once read from a tape brings a leader of its own: ours replaces it. */
static void filler_of_the_file(void **state)
{
	struct line_serial s = plain();

	becomes(&s, BYTES("\0\0\0%\nM30\n%\n\0\0"), BYTES("%\nM30\n%\n"));
}

/* Source: ISO 840 even parity over ISO 646; the whole stream recomputed from the published table.
 */
static void iso_stream(void **state)
{
	struct line_serial s = plain();

	s.code = LINE_CODE_ISO;
	becomes(&s, BYTES("%\nO1234(JOB)\nN10G0X50.Z2.\nM30\n%\n"),
	    BYTES("\xa5\x0a\xcf\xb1\xb2\x33\xb4\x28\xca\xcf\x42\xa9\x0a\x4e\xb1\x30\x47\x30\xd8\x35"
	          "\x30"
	          "\x2e\x5a\xb2\x2e\x0a\x4d\x33\x30\x0a\xa5\x0a"));
}

static void refused(const struct line_serial *settings, const char *program, size_t n,
    enum serial_text_fault fault, uint64_t offset, uint64_t line)
{
	struct serial_text_refusal refusal;
	struct serial_text t;

	assert_int_equal(serial_text_init(&t, settings, program, n, &refusal), -1);
	assert_int_equal(refusal.fault, fault);
	assert_int_equal(refusal.offset, offset);
	assert_int_equal(refusal.line, line);
	if (line > 0)
		assert_int_equal(refusal.byte, (uint8_t)program[offset]);
	assert_true(strlen(serial_text_says(fault)) > 0);
}

static void refusals(void **state)
{
	static const enum line_framing seven[] = {LINE_7E1, LINE_7E2, LINE_7O1};
	struct line_serial s = plain();

	refused(&s, BYTES(""), SERIAL_TEXT_EMPTY, 0, 0);
	refused(&s, BYTES("\0\0"), SERIAL_TEXT_EMPTY, 0, 0);
	refused(&s, BYTES("%\nG0\n\0X1\n%"), SERIAL_TEXT_NUL, 5, 3);
	refused(&s, BYTES("%\r\n\x11"), SERIAL_TEXT_DEVICE, 3, 2);
	refused(&s, BYTES("\x12"), SERIAL_TEXT_DEVICE, 0, 1);
	refused(&s, BYTES("A\x13"), SERIAL_TEXT_DEVICE, 1, 1);
	refused(&s, BYTES("A\x14"), SERIAL_TEXT_DEVICE, 1, 1);
	refused(&s, BYTES("A\x94"), SERIAL_TEXT_DEVICE, 1, 1);
	for (size_t i = 0; i < 3; i++) {
		s.framing = seven[i];
		refused(&s, BYTES("%\nM30\n(30\xC2\xB0)"), SERIAL_TEXT_HIGH, 9, 3);
	}
	s.framing = LINE_8N1;
	s.code = LINE_CODE_ISO;
	refused(&s, BYTES("%\n\x80"), SERIAL_TEXT_HIGH, 2, 2);
}

static void eight_bits_carry_eight_bits(void **state)
{
	struct line_serial s = plain();

	becomes(&s, BYTES("(30\xC2\xB0)\n"), BYTES("(30\xC2\xB0)\n"));
}

/* Where the tail begins: what the control may leave unread without loss. */
static void the_tail(void **state)
{
	static const struct {
		const char *program;
		size_t body_end;
		bool patient; /* the control is done with what stands in front of the closing % */
	} cases[] = {{"%\nM30\n%\r\n", 7, false}, {"%\nM30\n%", 7, false},
	    {"M30\n", 4, false}, {"%\n", 2, false}, {"%\nM30\n%\nX\n", 10, false},
	    {"%\nM30\n%\r\n", 6, true}, {"%\nM30\n%", 6, true}, {"M30\n", 4, true},
	    {"%\n", 2, true}, {"%\nM30\n%\nX\n", 10, true}, {"%\nM30%\n", 6, true}};
	struct line_serial s = plain();

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct serial_text_refusal refusal;
		struct serial_text t;

		s.patient = cases[i].patient;
		assert_int_equal(
		    serial_text_init(&t, &s, cases[i].program, strlen(cases[i].program), &refusal),
		    0);
		assert_int_equal(t.body_end, cases[i].body_end);
		assert_false(serial_text_in_tail(&t));
		for (size_t n = 0; n < cases[i].body_end; n++)
			serial_text_next(&t);
		assert_true(serial_text_in_tail(&t));
	}
}

/*
 * The word goes behind the block of the opening %, and in front of any program number. It is none of
 * the program's bytes and blocks.
 */
static void a_channel_word(void **state)
{
	static const struct {
		const char *program, *line;
	} cases[] = {{"%\nO1\nM30\n%\n", "%\nCH 2\nO1\nM30\n%\n"},
	    {"%\r\nO1\r\n%", "%\nCH 2\nO1\n%"},
	    {"%(TAPE 7)\nO1\n%\n", "%(TAPE 7)\nCH 2\nO1\n%\n"},
	    {"%O1(JOB)\nM30\n%\n", "%\nCH 2\nO1(JOB)\nM30\n%\n"},
	    {"%:1\n%\n", "%\nCH 2\n:1\n%\n"},
	    {"\n \n%\nO1\n%\n", "\n \n%\nCH 2\nO1\n%\n"},
	    /* Without a %, and with nothing but one. */
	    {"O1\nM30\n", "CH 2\nO1\nM30\n"}, {"G0\n%\n", "CH 2\nG0\n%\n"},
	    {"%\n", "%\nCH 2\n"}, {"%", "%\nCH 2\n"}, {"%X", "%\nCH 2\nX"}};
	struct line_serial s = plain();

	strcpy(s.channel_word, "CH 2");
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		becomes(&s, cases[i].program, strlen(cases[i].program), cases[i].line,
		    strlen(cases[i].line));
	s.leader = s.trailer = 1;
	s.dc2_dc4 = true;
	s.eob = LINE_EOB_LFCRCR;
	becomes(&s, BYTES("%\nO1\n%"), BYTES("\x12\0%\n\r\rCH 2\n\r\rO1\n\r\r%\0\x14"));
	/* 'C' has three ones, 'H' and '2' are made even too: ISO 840. */
	s.code = LINE_CODE_ISO;
	s.eob = LINE_EOB_LF;
	becomes(&s, BYTES("%\n"), BYTES("\x12\0\xA5\x0A\xC3\x48\xA0\xB2\x0A\0\x14"));
}

/* Where blocks end counts for pauses; what the word adds counts for nothing else. */
static void a_channel_word_is_no_part_of_the_program(void **state)
{
	static const char program[] = "%O1\nM30\n%\n";
	struct serial_text_refusal refusal;
	struct line_serial s = plain();
	struct serial_text with, without;
	unsigned ended = 0;

	assert_int_equal(serial_text_init(&without, &s, BYTES(program), &refusal), 0);
	strcpy(s.channel_word, "CH2");
	assert_int_equal(serial_text_init(&with, &s, BYTES(program), &refusal), 0);
	assert_int_equal(with.blocks, without.blocks);
	assert_int_equal(with.body_end, without.body_end);
	assert_int_equal(with.characters, without.characters + 5);
	for (int i = 0; i < 6; i++) {
		assert_int_equal(with.at, i > 0);
		assert_int_equal(with.block, 0);
		assert_true(serial_text_next(&with) >= 0);
		ended += with.block_ended;
	}
	assert_int_equal(with.at, 1);
	assert_int_equal(with.block, 0);
	assert_int_equal(ended, 2);
	strcpy(s.channel_word, "O2");
	refused(&s, BYTES(program), SERIAL_TEXT_WORD, 0, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(line_ends),
	    cmocka_unit_test(a_lone_cr_stays),
	    cmocka_unit_test(frame),
	    cmocka_unit_test(filler_of_the_file),
	    cmocka_unit_test(iso_stream),
	    cmocka_unit_test(refusals),
	    cmocka_unit_test(eight_bits_carry_eight_bits),
	    cmocka_unit_test(the_tail),
	    cmocka_unit_test(a_channel_word),
	    cmocka_unit_test(a_channel_word_is_no_part_of_the_program),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
