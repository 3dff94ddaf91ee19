/*
 * Goal: whatever the framing, brake, code, end of block and layout of channels, a program of every
 * printable character arrives at the control to the byte and comes back equal in its canonical
 * form; and what cannot be carried is refused with its reason before anything is sent.
 */
#include "line_bed.h"

#include <stdio.h>
#include <string.h>
#include "canonical.h"
#include "channel_word.h"
#include "store.h"

/* One port, and the operator selects the channel; or a word in the stream does. */
enum layout { A_PORT_PER_CHANNEL = 0, ONE_PORT, ONE_PORT_WORDS, LAYOUTS };

enum { FLOWS = 5, EOBS = 3, PROGRAM_MAX = 2000 };

static const char *const flow_names[] = {"XON/XOFF", "RTS/CTS", "DTR/DSR", "both", "none"};
static const char *const eob_names[] = {"LF", "CR LF", "LF CR CR"};
static const char *const layout_names[] = {"a port per channel", "one port", "one port, words"};

/* Invented; characters that every code has. */
static const char *const words[LINE_BED_CHANNELS] = {"CHANNEL 1", "CHANNEL 2"};

static const enum code codes[] = {CODE_ASCII, CODE_ISO, CODE_EIA};

/* True when a character can stand inside a block: % cannot, and EIA does not have all. The bench
 * control's table is its own, see code.c there. */
static bool in_block(enum line_code code, int c)
{
	return c != '%' && (code != LINE_CODE_EIA || code_send(CODE_EIA, (uint8_t)c) != CODE_NUL);
}

/* A program with all printable characters of a code, each beginning its block once, unless it would
 * begin another program there. */
static size_t write_program(char *text, enum line_code code, unsigned number)
{
	size_t n = (size_t)sprintf(text, "%%\nO%04u\n", number);

	for (unsigned first = 0; first < 8; first++) {
		n += (size_t)sprintf(text + n, "N%u", first);
		for (int c = ' '; c <= '~'; c++) {
			if (in_block(code, c) && c % 8 == (int)(first + number) % 8)
				text[n++] = (char)c;
		}
		text[n++] = '.';
		text[n++] = '\n';
	}
	for (int c = '~'; c > ' '; c--)
		if (in_block(code, c))
			n += (size_t)sprintf(text + n, c == 'O' || c == ':' ? "/%c\n" : "%c\n", c);
	n += (size_t)sprintf(text + n, "M30\n%%\n");
	assert_true(n < PROGRAM_MAX);
	return n;
}

/* The bits of a character per framing are those of the published table of serial timing; each byte
 * survives its own framing, and one wrong bit is found where there is parity. */
static void frames(void **state)
{
	static const unsigned bits[LINE_BED_FRAMINGS] = {10, 11, 10, 10, 11, 11};

	for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++) {
		unsigned data = line_seven(line_bed_framings[f]) ? 7 : 8;
		bool parity = line_bed_framings[f] != LINE_8N1 && line_bed_framings[f] != LINE_8N2;

		assert_int_equal(line_bits(line_bed_framings[f]), bits[f]);
		for (unsigned c = 0; c < 1u << data; c++) {
			uint32_t frame = frame_send(line_bed_framings[f], (uint8_t)c);
			uint8_t back = 0;

			assert_int_equal(frame_take(line_bed_framings[f], frame, &back), FRAME_OK);
			assert_int_equal(back, c);
			assert_int_equal(
			    frame_take(line_bed_framings[f], frame | 1, &back), FRAME_NONE);
			for (unsigned k = 1; k <= data; k++)
				assert_int_equal(
				    frame_take(line_bed_framings[f], frame ^ 1u << k, &back),
				    parity ? FRAME_PARITY : FRAME_OK);
			frame ^= 1u << (1 + data + parity);
			assert_int_equal(
			    frame_take(line_bed_framings[f], frame, &back), FRAME_STOP);
		}
	}
	/* 7E2 and the ISO code are the same bits: 'C' has three ones. */
	assert_int_equal(frame_send(LINE_7E2, 'C'), frame_send(LINE_8N1, 0xC3));
}

static void every_character_is_in_the_program(void **state)
{
	char text[PROGRAM_MAX];

	for (enum line_code code = LINE_CODE_ASCII; code <= LINE_CODE_EIA; code++) {
		size_t n = write_program(text, code, 4417), distinct = 0;

		for (int c = ' '; c <= '~'; c++)
			distinct += memchr(text, c, n) != NULL;
		/* ISO 646 has 95 graphic characters, blank included. EIA RS-244-A: 10 digits, 26
		 * letters, blank + - . , / & ( ) and ER for %. */
		assert_int_equal(distinct, code == LINE_CODE_EIA ? 46 : 95);
	}
}

static void compare_text(
    const char *what, const char *want, size_t want_n, const void *got, size_t n)
{
	if (n != want_n || memcmp(want, got, n) != 0)
		fail_msg("%s: %zu bytes where %zu were sent, or other ones:\n%.*s", what, n, want_n,
		    (int)n, (const char *)got);
}

static size_t put(uint8_t *tape, size_t n, enum code code, const char *characters)
{
	while (*characters)
		tape[n++] = code_send(code, (uint8_t)*characters++);
	return n;
}

/*
 * What must have gone over the line, written with the bench control's own table. The end behind the
 * closing % may be left out: by then the control has stopped reading.
 */
static void check_line(
    const struct line_bed *b, const char *program, size_t program_n, const char *word)
{
	static const char *const eobs[] = {"\n", "\r\n", "\n\r\r"};
	const char *eob = eobs[b->set.code == LINE_CODE_EIA ? LINE_EOB_LF : b->set.eob];
	static uint8_t tape[LINE_BED_CAME];
	size_t n = 0, whole;

	n = put(tape, n, b->control.code, b->set.dc2_dc4 ? "\x12" : "");
	for (uint32_t i = 0; i < b->set.leader; i++)
		tape[n++] = 0;
	for (size_t i = 0; i < program_n; i++) {
		char c[2] = {program[i]};

		n = put(tape, n, b->control.code, c[0] == '\n' ? eob : c);
		/* Its own block, behind that of the opening %. */
		if (i == 1 && word)
			n = put(tape, put(tape, n, b->control.code, word), b->control.code, eob);
	}
	whole = n - strlen(eob);
	for (uint32_t i = 0; i < b->set.trailer; i++)
		tape[n++] = 0;
	n = put(tape, n, b->control.code, b->set.dc2_dc4 ? "\x14" : "");
	assert_true(n < LINE_BED_CAME);
	assert_in_range(b->came_n, b->set.flow == LINE_FLOW_NONE ? n : whole, n);
	assert_memory_equal(b->came, tape, b->came_n);
}

static void arrived(const struct line_bed *b, const struct serial_send_outcome *o, unsigned channel,
    const char *program, size_t n)
{
	/* At higher rates the reserve, given out once a millisecond, is less than the control
	 * takes; and pauses let it keep up. */
	bool braked =
	    b->set.flow != LINE_FLOW_NONE && b->set.baud <= 230400 && b->set.block_pause == 0;
	const struct program *p = store_at(b->store[channel], 0);

	assert_int_equal(o->state, SERIAL_SEND_DONE);
	assert_int_equal(o->bytes, n);
	assert_int_equal(o->block, o->blocks);
	if (b->alarm)
		fail_msg("the control: alarm %s", b->alarm);
	assert_int_equal(b->counts.overrun, 0);
	assert_true(b->counts.after_most <= b->set.reserve + 2);
	assert_true(!braked || (o->holds > 0 && b->counts.stops > 0));
	assert_true(b->set.flow != LINE_FLOW_NONE || o->holds == 0);
	assert_non_null(p);
	assert_null(store_at(b->store[channel], 1));
	assert_true(p->whole);
	check_line(b, program, n, b->control.channel_word[channel]);
	/* The control keeps it without the lines of %. */
	compare_text("in the control", program + 2, n - 4, p->text, p->len);
}

static void comes_back(struct line_bed *b, unsigned channel, const char *program, size_t n)
{
	struct serial_receive *r = line_bed_punch(b, channel);
	struct serial_receive_outcome o;
	struct canonical sent = {0}, back = {0};
	struct channel_word told;

	serial_receive_outcome(r, &o);
	assert_int_equal(o.state, SERIAL_RECEIVE_DONE);
	/* With 7 bits it is the port that checks the parity of ISO. */
	if (b->set.code == LINE_CODE_ISO && line_seven(b->set.framing))
		o.findings &= ~(uint32_t)SERIAL_CAPTURE_NO_PARITY;
	if (o.findings)
		fail_msg(
		    "findings %x: %s", o.findings, serial_capture_says(o.findings & -o.findings));
	assert_true(o.usable);
	assert_int_equal(b->wrong, 0);
	assert_int_equal(canonical_make(&sent, program, n), 0);
	assert_int_equal(
	    channel_word_read(&told, o.text, o.text_size, words, LINE_BED_CHANNELS), 0);
	assert_true(told.first == (b->control.channel_word[0] ? channel : CHANNEL_WORD_NONE));
	assert_true(told.second == CHANNEL_WORD_NONE);
	assert_int_equal(canonical_make(&back, told.text, told.size), 0);
	channel_word_free(&told);
	assert_int_equal(canonical_difference(&sent, &back), 0);
	compare_text(
	    "back from the control", (const char *)sent.bytes, sent.size, back.bytes, back.size);
	canonical_free(&sent);
	canonical_free(&back);
	serial_receive_free(r);
}

/* Both channels there and back: each over its port, or one after the other over the same one. */
static void carry(const struct line_serial *set, enum layout layout)
{
	struct line_bed_control control = line_bed_fitting(set);
	struct line_bed bed[LINE_BED_CHANNELS];
	struct line_bed *use[LINE_BED_CHANNELS] = {&bed[0], layout != A_PORT_PER_CHANNEL ? &bed[0] : &bed[1]};
	size_t ports = layout == A_PORT_PER_CHANNEL ? 2 : 1;
	char text[LINE_BED_CHANNELS][PROGRAM_MAX];
	size_t n[LINE_BED_CHANNELS];

	for (size_t i = 0; layout == ONE_PORT_WORDS && i < LINE_BED_CHANNELS; i++)
		control.channel_word[i] = words[i];
	for (size_t i = 0; i < ports; i++)
		line_bed_init(&bed[i], set, &control);
	for (unsigned i = 0; i < LINE_BED_CHANNELS; i++) {
		struct serial_send_outcome o;

		n[i] = write_program(text[i], set->code, 4417 + i);
		line_bed_load(use[i], i, text[i], n[i]);
		line_bed_run(&use[i], 1, &o);
		arrived(use[i], &o, i, text[i], n[i]);
	}
	for (unsigned i = 0; i < LINE_BED_CHANNELS; i++)
		comes_back(use[i], i, text[i], n[i]);
	for (size_t i = 0; i < ports; i++) {
		assert_int_equal(bed[i].loads, LINE_BED_CHANNELS / ports);
		line_bed_end(&bed[i]);
	}
}

static struct line_serial settings(
    enum line_framing framing, enum line_flow flow, enum line_code code, enum line_eob eob)
{
	return (struct line_serial){
	    .baud = 9600,
	    .framing = framing,
	    .code = code,
	    .eob = eob,
	    .flow = flow,
	    .leader = 30,
	    .trailer = 30,
	    .reserve = 16,
	    .first_ms = 10000,
	    .stall_ms = 10000,
	    .read_back_ms = 10000,
	    .silence_ms = 1000,
	};
}

/* Why nothing can be sent with these settings; OK when it can. */
static enum serial_text_fault refusal_of(const struct line_serial *set)
{
	struct serial_text_refusal refusal;
	char text[PROGRAM_MAX];
	size_t n = write_program(text, set->code, 4417);
	struct serial_send *s = serial_send_new(set, text, n, 0, &refusal);

	assert_int_equal(s == NULL, refusal.fault != SERIAL_TEXT_OK);
	serial_send_free(s);
	return refusal.fault;
}

/* EIA has eight tracks, and no layout nor brake changes that: the only thing that cannot be. */
static bool cell(struct line_serial *set, enum layout layout)
{
	bool can = set->code != LINE_CODE_EIA || !line_seven(set->framing);
	enum serial_text_fault fault = refusal_of(set);

	/* With one port the control says when it wants the next one; with ports of their own, or with
	 * words, as its flow lets it. */
	set->wait_dc1 =
	    layout == ONE_PORT || set->flow == LINE_FLOW_XON || set->flow == LINE_FLOW_BOTH;
	assert_int_equal(fault, can ? SERIAL_TEXT_OK : SERIAL_TEXT_CODES);
	if (can)
		carry(set, layout);
	return can;
}

/* The combination at hand, told when the test fails in it. */
static char place[100];

static int tell_place(void **state)
{
	if (*place)
		print_error("in the combination: %s\n", place);
	return 0;
}

static void matrix(void **state)
{
	unsigned carried = 0, refused = 0;

	for (unsigned i = 0; i < LINE_BED_FRAMINGS * FLOWS * LINE_BED_CODES * EOBS * LAYOUTS; i++) {
		unsigned rest = i / LAYOUTS;
		enum layout layout = i % LAYOUTS;
		enum line_eob eob = rest % EOBS;
		enum line_code code = rest / EOBS % LINE_BED_CODES;
		enum line_flow flow = rest / EOBS / LINE_BED_CODES % FLOWS;
		struct line_serial set = settings(
		    line_bed_framings[rest / EOBS / LINE_BED_CODES / FLOWS], flow, code, eob);

		snprintf(place, sizeof(place), "%s, %s, %s, %s, %s",
		    line_bed_framing_names[set.framing], flow_names[flow],
		    line_bed_code_names[code], eob_names[eob], layout_names[layout]);
		if (cell(&set, layout))
			carried++;
		else
			refused++;
	}
	*place = '\0';
	print_message(
	    "[  matrix  ] %u combinations carried there and back, %u refused\n", carried, refused);
	assert_int_equal(carried, 675);
	assert_int_equal(refused, 135);
}

/* From the slowest line to the fastest; the matrix above ran at 9,600. */
static void every_rate(void **state)
{
	static const uint32_t rates[] = {110, 300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600,
	    115200, 230400, 460800, 921600};

	for (size_t i = 0; i < sizeof(rates) / sizeof(*rates); i++)
		for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++)
			for (enum line_flow flow = LINE_FLOW_XON; flow <= LINE_FLOW_NONE; flow++) {
				struct line_serial set = settings(
				    line_bed_framings[f], flow, LINE_CODE_ISO, LINE_EOB_LF);

				snprintf(place, sizeof(place), "%u baud, %s, %s", rates[i],
				    line_bed_framing_names[set.framing], flow_names[flow]);
				set.baud = rates[i];
				assert_true(cell(&set, ONE_PORT));
			}
	*place = '\0';
}

/* What stands around and between the blocks: leader, trailer, DC2 and DC4, pauses, in each code and
 * with each end of block. */
static void every_form(void **state)
{
	for (unsigned i = 0; i < LINE_BED_CODES * EOBS * 16; i++) {
		struct line_serial set = settings(
		    LINE_8N2, LINE_FLOW_XON, i / 16 % LINE_BED_CODES, i / 16 / LINE_BED_CODES);

		snprintf(place, sizeof(place), "%s, %s, form %u", line_bed_code_names[set.code],
		    eob_names[set.eob], i % 16);
		set.leader = i & 1 ? 0 : 200;
		set.trailer = i & 2 ? 0 : 200;
		set.dc2_dc4 = i & 4;
		set.block_pause = i & 8 ? 40 : 0;
		assert_true(cell(&set, A_PORT_PER_CHANNEL));
	}
	*place = '\0';
}

/* Each printable character that a code does not have is refused with its place. */
static void what_eia_has_not(void **state)
{
	struct line_serial set = settings(LINE_8N2, LINE_FLOW_XON, LINE_CODE_EIA, LINE_EOB_LF);
	unsigned refused = 0;

	for (int c = ' '; c <= '~'; c++) {
		char text[] = "%\nO1\nN1 ?\nM30\n%\n";
		bool lower = c >= 'a' && c <= 'z';
		struct serial_text_refusal refusal;
		struct serial_send *s;

		*strchr(text, '?') = (char)c;
		s = serial_send_new(&set, text, strlen(text), 0, &refusal);
		if (code_send(codes[LINE_CODE_EIA], (uint8_t)c) != CODE_NUL) {
			assert_non_null(s);
		} else {
			assert_null(s);
			assert_int_equal(
			    refusal.fault, lower ? SERIAL_TEXT_LOWER : SERIAL_TEXT_NO_CODE);
			assert_int_equal(refusal.offset, 8);
			assert_int_equal(refusal.line, 3);
			refused++;
		}
		serial_send_free(s);
	}
	assert_int_equal(refused, 95 - 46);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(frames),
	    cmocka_unit_test(every_character_is_in_the_program),
	    cmocka_unit_test(what_eia_has_not),
	    cmocka_unit_test_teardown(matrix, tell_place),
	    cmocka_unit_test_teardown(every_rate, tell_place),
	    cmocka_unit_test_teardown(every_form, tell_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
