#include "serial_text.h"

#include <string.h>
#include "channel_word.h"
#include "iso.h"
#include "several.h"

static bool seven_bits(const struct line_serial *settings)
{
	return settings->code != LINE_CODE_ASCII || line_seven(settings->framing);
}

/* EIA has one end of block, and no CR. */
static const char *eob_form(const struct serial_text *t)
{
	switch (t->code.kind == LINE_CODE_EIA ? LINE_EOB_LF : t->eob) {
	case LINE_EOB_CRLF:
		return "\r\n";
	case LINE_EOB_LFCRCR:
		return "\n\r\r";
	case LINE_EOB_LF:
		break;
	}
	return "\n";
}

/* Bytes of the line end at p, 0 when there is none. */
static size_t line_end(const uint8_t *p, size_t n)
{
	if (p[0] == ISO_LF)
		return 1;
	return p[0] == ISO_CR && n > 1 && p[1] == ISO_LF ? 2 : 0;
}

static enum serial_text_fault fault_of(const struct serial_code *code, uint8_t byte, bool seven)
{
	if (byte == ISO_NUL)
		return SERIAL_TEXT_NUL;
	if (byte > 0x7F && seven)
		return SERIAL_TEXT_HIGH;
	/* A control that takes bit 8 for parity reads 0x94 as DC4. */
	if (iso_is_device(iso_decode(byte)))
		return SERIAL_TEXT_DEVICE;
	if (serial_code_byte(code, byte) < 0)
		return byte >= 'a' && byte <= 'z' ? SERIAL_TEXT_LOWER : SERIAL_TEXT_NO_CODE;
	return SERIAL_TEXT_OK;
}

/* A lone % with nothing but line ends and filler after it closes the program, unless it opens it
 * too. without: in front of it when it has a line of its own, else behind. */
static size_t find_body_end(const uint8_t *program, size_t begin, size_t end, bool without)
{
	size_t i = end;

	while (i > begin && strchr("\n\r \t\x1A\x7F", program[i - 1]))
		i--;
	if (i <= begin + 1 || program[i - 1] != '%')
		return end;
	return without && program[i - 2] == ISO_LF ? i - 1 : i;
}

/* Right behind the block of the opening %, or behind the % itself when that block is a program's
 * too. */
static void find_word_place(struct serial_text *t)
{
	size_t i = t->begin, end;
	uint64_t number;

	t->word_at = t->begin;
	while (i < t->end && strchr("\n\r \t\x7F", t->program[i]))
		i++;
	if (i == t->end || t->program[i] != '%')
		return;
	for (end = i + 1; end < t->end && !line_end(t->program + end, t->end - end);)
		end++;
	t->word_splits =
	    end == t->end || several_number(t->program + i + 1, end - i - 1, &number);
	t->word_at = t->word_splits ? i + 1 : end + line_end(t->program + end, t->end - end);
}

static int take_word(struct serial_text *t, const struct line_serial *settings)
{
	size_t n = strlen(settings->channel_word);

	if (!n)
		return 0;
	if (channel_word_fault(settings))
		return -1;
	memcpy(t->word, settings->channel_word, n + 1);
	find_word_place(t);
	t->characters += n + (t->word_splits + 1u) * strlen(eob_form(t));
	return 0;
}

static int survey(struct serial_text *t, bool seven, struct serial_text_refusal *refusal)
{
	size_t form = strlen(eob_form(t));

	for (size_t i = t->begin, width; i < t->end; i += width ? width : 1) {
		enum serial_text_fault fault = SERIAL_TEXT_OK;

		width = line_end(t->program + i, t->end - i);
		if (width == 0)
			fault = fault_of(&t->code, t->program[i], seven);
		if (fault != SERIAL_TEXT_OK) {
			*refusal = (struct serial_text_refusal){.fault = fault,
			    .offset = i,
			    .line = t->blocks + 1,
			    .byte = t->program[i]};
			return -1;
		}
		t->blocks += width > 0;
		t->characters += width ? form : 1;
	}
	return 0;
}

int serial_text_init(struct serial_text *t, const struct line_serial *settings, const void *program,
    size_t size, struct serial_text_refusal *refusal)
{
	*refusal = (struct serial_text_refusal){.fault = SERIAL_TEXT_OK};
	*t = (struct serial_text){
	    .program = program,
	    .leader = settings->leader,
	    .trailer = settings->trailer,
	    .dc2 = settings->dc2_dc4,
	    .dc4 = settings->dc2_dc4,
	    .eob = settings->eob,
	    .end = size,
	};
	if (serial_code_init(&t->code, settings) < 0 ||
	    (settings->code == LINE_CODE_EIA && line_seven(settings->framing))) {
		refusal->fault = SERIAL_TEXT_CODES;
		return -1;
	}
	while (t->begin < t->end && t->program[t->begin] == ISO_NUL)
		t->begin++;
	if (t->begin == t->end) {
		refusal->fault = SERIAL_TEXT_EMPTY;
		return -1;
	}
	while (t->program[t->end - 1] == ISO_NUL)
		t->end--;
	t->at = t->begin;
	t->body_end = find_body_end(t->program, t->begin, t->end, settings->patient);
	t->characters = (uint64_t)t->leader + t->trailer + t->dc2 + t->dc4;
	if (take_word(t, settings) < 0) {
		refusal->fault = SERIAL_TEXT_WORD;
		return -1;
	}
	return survey(t, seven_bits(settings), refusal);
}

static bool word_is_next(const struct serial_text *t)
{
	return *t->word && t->at == t->word_at && t->eob_at == 0;
}

/* The next character of the word's block, and of the end of block before it. */
static int next_of_word(struct serial_text *t)
{
	const char *form = eob_form(t);
	size_t ends = strlen(form), before = t->word_splits ? ends : 0, n = strlen(t->word);
	size_t i = t->word_out++;
	bool last = i + 1 == before + n + ends;
	int c = i < before ? form[i] : i < before + n ? t->word[i - before] : form[i - before - n];

	t->block_ended = (last || (i + 1 == before && before > 0)) && t->at < t->end;
	if (last)
		*t->word = '\0';
	return c;
}

static int next_of_program(struct serial_text *t)
{
	const char *form = eob_form(t);
	size_t width = line_end(t->program + t->at, t->end - t->at);
	int c;

	if (width == 0)
		return t->program[t->at++];
	c = form[t->eob_at++];
	if (form[t->eob_at] == '\0') {
		t->eob_at = 0;
		t->at += width;
		t->block++;
		t->block_ended = t->at < t->end;
	}
	return c;
}

static int next_plain(struct serial_text *t)
{
	if (t->dc2) {
		t->dc2 = false;
		return ISO_DC2;
	}
	if (t->leader > 0) {
		t->leader--;
		return ISO_NUL;
	}
	if (word_is_next(t))
		return next_of_word(t);
	if (t->at < t->end)
		return next_of_program(t);
	if (t->trailer > 0) {
		t->trailer--;
		return ISO_NUL;
	}
	if (t->dc4) {
		t->dc4 = false;
		return ISO_DC4;
	}
	return -1;
}

int serial_text_next(struct serial_text *t)
{
	int c;

	t->block_ended = false;
	c = next_plain(t);
	if (c < 0)
		return -1;
	t->character++;
	return serial_code_byte(&t->code, (uint8_t)c);
}

bool serial_text_in_tail(const struct serial_text *t)
{
	return t->at >= t->body_end;
}

const char *serial_text_says(enum serial_text_fault fault)
{
	switch (fault) {
	case SERIAL_TEXT_OK:
		return "";
	case SERIAL_TEXT_MEMORY:
		return "no memory for the transfer; try again";
	case SERIAL_TEXT_SETTINGS:
		return "baud, reserve and stall time must not be zero; correct the machine's line "
		       "settings";
	case SERIAL_TEXT_CODES:
		return "EIA code needs 8 bits (framing 8n1 or 8n2) and a code of its own for each "
		       "character; correct framing or eia in the machine's line settings";
	case SERIAL_TEXT_WORD:
		return "the channel word cannot be a block on this line; correct channel_word in the "
		       "machine's line settings";
	case SERIAL_TEXT_EMPTY:
		return "the program is empty: nothing to send";
	case SERIAL_TEXT_HIGH:
		return "the line has 7 bits and cannot carry this byte; take it out of the program";
	case SERIAL_TEXT_DEVICE:
		return "the control would take this byte as a device control (DC1 to DC4); take it "
		       "out";
	case SERIAL_TEXT_NUL:
		return "NUL inside the program: it is damaged; get it again from its source";
	case SERIAL_TEXT_NO_CODE:
		return "EIA code has no such character; take it out, or name the control's code "
		       "for "
		       "it in the setting eia";
	case SERIAL_TEXT_LOWER:
		return "EIA code has capital letters only; write this one as a capital";
	}
	return "";
}
