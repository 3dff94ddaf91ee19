/* Goal: programs go out and come in in EIA code without a character lost or changed; what EIA does
 * not have is refused with its place; the wrong code and damage are named. */
#include "wire_test.h"

#include <stdio.h>
#include <string.h>
#include "serial_receive.h"
#include "serial_send.h"
#include "serial_text.h"

static struct line_serial eia(void)
{
	return (struct line_serial){.baud = 9600,
	    .framing = LINE_8N2,
	    .code = LINE_CODE_EIA,
	    .reserve = 16,
	    .stall_ms = 1000,
	    .read_back_ms = 60000,
	    .silence_ms = 2000};
}

/*
 * The published test stream: RS-244-A by rule and table, with ER = 0B. The text is
 * % O1234(JOB) N10G0X50.Z2. M30 %.
 */
static const char job[] = "%\nO1234(JOB)\nN10G0X50.Z2.\nM30\n%\n";
static const uint8_t job_eia[] = {0x0b, 0x80, 0x46, 0x01, 0x02, 0x13, 0x04, 0x1a, 0x51, 0x46, 0x62,
    0x4a, 0x80, 0x45, 0x01, 0x20, 0x67, 0x20, 0x37, 0x15, 0x20, 0x6b, 0x29, 0x02, 0x6b, 0x80, 0x54,
    0x13, 0x20, 0x80, 0x0b, 0x80};
static const char job_iso[] =
    "\xa5\x0a\xcf\xb1\xb2\x33\xb4\x28\xca\xcf\x42\xa9\x0a\x4e\xb1\x30\x47\x30\xd8\x35\x30\x2e\x5a"
    "\xb2\x2e\x0a\x4d\x33\x30\x0a\xa5\x0a";

/* What goes on the line; its length. */
static size_t sent(const struct line_serial *s, const void *program, size_t n, uint8_t *out)
{
	struct serial_text_refusal refusal;
	struct serial_text t;
	size_t i = 0;

	assert_int_equal(serial_text_init(&t, s, program, n, &refusal), 0);
	for (int c; (c = serial_text_next(&t)) >= 0; i++)
		out[i] = (uint8_t)c;
	assert_int_equal(i, t.characters);
	assert_int_equal(t.block, t.blocks);
	return i;
}

static void the_stream_out(void **state)
{
	static const enum line_eob eobs[] = {LINE_EOB_LF, LINE_EOB_CRLF, LINE_EOB_LFCRCR};
	struct line_serial s = eia();
	uint8_t out[200];

	/* EIA has one end of block, whatever is set for other codes. */
	for (size_t i = 0; i < 3; i++) {
		s.eob = eobs[i];
		assert_int_equal(sent(&s, BYTES(job), out), sizeof(job_eia));
		assert_memory_equal(out, job_eia, sizeof(job_eia));
	}
	assert_int_equal(sent(&s, BYTES("%\r\nM30\r\n%"), out), 7);
	assert_memory_equal(out, "\x0b\x80\x54\x13\x20\x80\x0b", 7);
	s.leader = 2;
	s.trailer = 1;
	s.dc2_dc4 = true;
	s.eia[LINE_EIA_ER] = 0x5B;
	assert_int_equal(sent(&s, BYTES("%\n"), out), 7);
	assert_memory_equal(out, "\x12\0\0\x5b\x80\0\x14", 7);
}

static struct serial_receive_outcome outcome_of(const struct serial_receive *r)
{
	struct serial_receive_outcome o;

	serial_receive_outcome(r, &o);
	return o;
}

/* The text that bytes become after the silence, with its findings and the line of the damage. */
static void becomes(const struct line_serial *s, const void *bytes, size_t n, const char *text,
    uint32_t findings, uint64_t damage)
{
	struct serial_receive *r = serial_receive_new(s, 1 << 20, 0);
	struct serial_receive_outcome o;

	assert_non_null(r);
	serial_receive_feed(r, 10, bytes, n);
	serial_receive_tick(r, 5000);
	o = outcome_of(r);
	assert_int_equal(o.state, SERIAL_RECEIVE_DONE);
	assert_int_equal(o.findings, findings);
	assert_int_equal(o.usable, (findings & SERIAL_CAPTURE_UNUSABLE) == 0);
	assert_memory_equal(o.raw, bytes, o.raw_size);
	assert_int_equal(o.damage_line, damage);
	if (text) {
		assert_int_equal(o.text_size, strlen(text));
		if (o.text_size > 0)
			assert_memory_equal(o.text, text, o.text_size);
	}
	serial_receive_free(r);
}

static void the_stream_in(void **state)
{
	struct line_serial s = eia();
	struct serial_receive *r;
	uint8_t framed[100] = {0x12};
	size_t n = 21;

	becomes(&s, job_eia, sizeof(job_eia), job, 0, 0);
	/* DC2, leader, trailer of blanks and deletes, DC4: at DC4 it ends. */
	memcpy(framed + n, job_eia, sizeof(job_eia));
	n += sizeof(job_eia);
	memcpy(framed + n, "\0\x7f\0\x7f\x14", 5);
	n += 5;
	r = serial_receive_new(&s, 1000, 0);
	serial_receive_feed(r, 10, framed, n - 1);
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_CLOSING);
	serial_receive_feed(r, 11, framed + n - 1, 1);
	assert_int_equal(outcome_of(r).state, SERIAL_RECEIVE_DONE);
	assert_true(outcome_of(r).usable);
	assert_int_equal(outcome_of(r).text_size, strlen(job));
	assert_memory_equal(outcome_of(r).text, job, strlen(job));
	serial_receive_free(r);
	/* The words of a device server before it are no EIA, and no part of it. */
	becomes(&s, BYTES("hi\r\n\x0b\x80\x54\x13\x20\x80\x0b\x80"), "%\nM30\n%\n",
	    SERIAL_CAPTURE_BEFORE, 0);
}

/* 13 hex is the digit 3 (RS-244-A), and no DC3; DC3 is 93 hex there. */
static void three_is_no_dc3(void **state)
{
	struct line_serial s = eia();

	becomes(
	    &s, BYTES("\x0b\x80\x93\x11\x80\x13\x13\x13\x80\x0b\x93\x80"), "%\n\n333\n%\n", 0, 0);
	/* Inside a block a DC3 is the digit with one track more. */
	becomes(&s, BYTES("\x0b\x80\x13\x13\x93\x80\x0b\x80"), NULL, SERIAL_CAPTURE_DEVICE, 2);
}

/* Rubbed-out places and shifts are read over; a blank in the program is an error (a control's
 * manual), and so is a byte that is no code. */
static void filler_and_damage(void **state)
{
	struct line_serial s = eia();

	becomes(&s, BYTES("\x0b\x80\x54\x7f\x13\x7c\x20\x7a\x80\x0b\x80"), "%\nM30\n%\n", 0, 0);
	becomes(&s, BYTES("\x0b\x80\x54\x13\x20\x80\x54\0\x13\x20\x80\x0b\x80"), NULL,
	    SERIAL_CAPTURE_DAMAGED, 3);
	/* The lowest track of the 2 in line 2 is turned over: 03 has two holes. */
	becomes(&s, BYTES("\x0b\x80\x46\x01\x03\x13\x04\x80\x54\x13\x20\x80\x0b\x80"), NULL,
	    SERIAL_CAPTURE_DAMAGED | SERIAL_CAPTURE_NO_CODE, 2);
	assert_int_equal(serial_capture_worst(SERIAL_CAPTURE_DAMAGED | SERIAL_CAPTURE_NO_CODE),
	    SERIAL_CAPTURE_NO_CODE);
	/* Odd, and still no code: a control with other codes. */
	becomes(&s, BYTES("\x0b\x80\x46\x01\x2f\x13\x04\x80\x54\x13\x20\x80\x0b\x80"), NULL,
	    SERIAL_CAPTURE_DAMAGED | SERIAL_CAPTURE_NO_CODE, 2);
}

static void the_wrong_code_is_named(void **state)
{
	struct line_serial s = eia();
	const char *says;

	becomes(&s, BYTES(job_iso), "",
	    SERIAL_CAPTURE_ISO | SERIAL_CAPTURE_NO_START | SERIAL_CAPTURE_NO_END, 0);
	becomes(&s, BYTES("%\nO1\nM30\n%\n"), "",
	    SERIAL_CAPTURE_ISO | SERIAL_CAPTURE_NO_START | SERIAL_CAPTURE_NO_END, 0);
	says = serial_capture_says((enum serial_capture_finding)serial_capture_worst(
	    SERIAL_CAPTURE_ISO | SERIAL_CAPTURE_NO_START));
	assert_non_null(strstr(says, "the control punched ISO or ASCII while EIA is set"));

	for (int code = LINE_CODE_ASCII; code <= LINE_CODE_ISO; code++) {
		struct serial_receive *r;

		s.code = (enum line_code)code;
		r = serial_receive_new(&s, 1000, 0);
		serial_receive_feed(r, 0, job_eia, sizeof(job_eia));
		serial_receive_tick(r, 5000);
		assert_int_equal(serial_capture_worst(outcome_of(r).findings), SERIAL_CAPTURE_EIA);
		assert_false(outcome_of(r).usable);
		assert_int_equal(outcome_of(r).text_size, 0);
		assert_int_equal(outcome_of(r).raw_size, sizeof(job_eia));
		serial_receive_free(r);
	}
	assert_non_null(strstr(serial_capture_says(SERIAL_CAPTURE_EIA),
	    "the control punched EIA while ISO or ASCII is set"));
	/* Odd parity is not EIA: ISO 646 with odd parity, its LF is 8A. */
	becomes(&s, BYTES("\x25\x8A\x4F\x34\x34\x31\x37\x8A\xCD\xB3\xB0\x8A\x25\x8A"), NULL,
	    SERIAL_CAPTURE_ODD, 0);
}

static void wrong_speed_is_noise(void **state)
{
	struct line_serial s = eia();
	uint8_t noise[200];
	uint32_t seed = 99;

	noise[0] = 0x0B;
	for (size_t i = 1; i < sizeof(noise); i++)
		noise[i] = (uint8_t)(0x21 + chance(&seed) % 0xD0);
	for (size_t i = 1; i < sizeof(noise); i++)
		if (noise[i] == 0x0B || noise[i] == 0x8A)
			noise[i] = 0xF0;
	becomes(&s, noise, sizeof(noise), "", SERIAL_CAPTURE_NOISE | SERIAL_CAPTURE_NO_END, 0);
}

/* Each printable character, blank and tab: over the line and back, or refused with its place. */
static void every_printable(void **state)
{
	static const char has[] = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ%+-./(),& \t";
	static const uint8_t more[LINE_EIA_CODES] = {
	    [LINE_EIA_COLON] = 0x4F, /* any free odd codes will do */
	    [LINE_EIA_STAR] = 0x4C,
	    [LINE_EIA_EQUAL] = 0x5D,
	    [LINE_EIA_HASH] = 0x5E,
	    [LINE_EIA_LEFT] = 0x6D,
	    [LINE_EIA_RIGHT] = 0x6E,
	    [LINE_EIA_AT] = 0x2C,
	    [LINE_EIA_DOLLAR] = 0x2F,
	};
	struct line_serial s = eia();

	for (int set = 0; set < 2; set++) {
		if (set)
			memcpy(s.eia, more, sizeof(more));
		for (int c = ' ' - 1; c < 0x7F; c++) {
			uint8_t ch = c < ' ' ? '\t' : (uint8_t)c, out[64];
			char program[] = "%\nM30\n(A_B)\n%\n";
			struct serial_text_refusal no;
			struct serial_text t;

			program[8] = (char)ch;
			if (strchr(has, ch) || (set && strchr(":*=#[]@$", ch))) {
				size_t n = sent(&s, BYTES(program), out);

				becomes(&s, out, n, program, 0, 0);
				continue;
			}
			assert_int_equal(serial_text_init(&t, &s, BYTES(program), &no), -1);
			assert_int_equal(no.fault,
			    ch >= 'a' && ch <= 'z' ? SERIAL_TEXT_LOWER : SERIAL_TEXT_NO_CODE);
			assert_int_equal(no.offset, 8);
			assert_int_equal(no.line, 3);
			assert_int_equal(no.byte, ch);
			assert_true(strlen(serial_text_says(no.fault)) > 0);
		}
	}
}

static void refusals(void **state)
{
	static const struct {
		const char *program;
		size_t n;
		enum serial_text_fault fault;
		uint64_t offset, line;
	} cases[] = {
	    {BYTES("%\nA\rB\n%"), SERIAL_TEXT_NO_CODE, 3, 2},
	    {BYTES("%\nG0\n\0X1\n%"), SERIAL_TEXT_NUL, 5, 3},
	    {BYTES("%\n\x13\n%"), SERIAL_TEXT_DEVICE, 2, 2},
	    {BYTES("%\n(\xC3\xA4)\n%"), SERIAL_TEXT_HIGH, 3, 2},
	    {BYTES("%\nG0\n#1=2\n%"), SERIAL_TEXT_NO_CODE, 5, 3},
	};
	static const enum line_framing seven[] = {LINE_7E1, LINE_7E2, LINE_7O1};
	struct line_serial s = eia();
	struct serial_text_refusal no;
	struct serial_text t;

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		assert_int_equal(serial_text_init(&t, &s, cases[i].program, cases[i].n, &no), -1);
		assert_int_equal(no.fault, cases[i].fault);
		assert_int_equal(no.offset, cases[i].offset);
		assert_int_equal(no.line, cases[i].line);
	}
	for (size_t i = 0; i < 3; i++) {
		s.framing = seven[i];
		assert_int_equal(serial_text_init(&t, &s, BYTES(job), &no), -1);
		assert_int_equal(no.fault, SERIAL_TEXT_CODES);
	}
	s = eia();
	s.eia[LINE_EIA_ER] = 0x80;
	assert_int_equal(serial_text_init(&t, &s, BYTES(job), &no), -1);
	assert_int_equal(no.fault, SERIAL_TEXT_CODES);
	assert_null(serial_send_new(&s, BYTES(job), 0, &no));
	assert_null(serial_receive_new(&s, 1000, 0));
}

/* DC3 with any parity stops the sender: without, even, and mark (bit 8 always set). */
static void each_dc3_holds(void **state)
{
	static const uint8_t words[][2] = {{0x13, 0x11}, {0x93, 0x11}, {0x93, 0x91}, {0x13, 0x91}};

	for (size_t i = 0; i < 4; i++) {
		for (int code = LINE_CODE_ASCII; code <= LINE_CODE_EIA; code++) {
			struct line_serial s = eia();
			struct serial_send_outcome o;
			struct serial_text_refusal no;
			struct serial_send *m;
			uint8_t out[4];

			s.code = (enum line_code)code;
			m = serial_send_new(&s, BYTES(job), 0, &no);
			assert_non_null(m);
			assert_int_equal(serial_send_take(m, out, 4, 0), 4);
			serial_send_feed(m, 1, &words[i][0], 1);
			serial_send_outcome(m, &o);
			assert_int_equal(o.state, SERIAL_SEND_HELD);
			assert_int_equal(serial_send_take(m, out, 4, 100), 0);
			serial_send_feed(m, 200, &words[i][1], 1);
			serial_send_outcome(m, &o);
			assert_int_equal(o.state, SERIAL_SEND_SENDING);
			assert_int_equal(o.held_ms, 199);
			serial_send_free(m);
		}
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_stream_out),
	    cmocka_unit_test(the_stream_in),
	    cmocka_unit_test(three_is_no_dc3),
	    cmocka_unit_test(filler_and_damage),
	    cmocka_unit_test(the_wrong_code_is_named),
	    cmocka_unit_test(wrong_speed_is_noise),
	    cmocka_unit_test(every_printable),
	    cmocka_unit_test(refusals),
	    cmocka_unit_test(each_dc3_holds),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
