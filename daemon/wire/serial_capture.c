#include "serial_capture.h"

#include <stdlib.h>
#include "several.h"

/*
 * In a text without parity more 8-bit characters than one in so many are not text: noise puts a set
 * bit 8 into half of the bytes, accents in comments into few.
 */
enum { EIGHT_BIT_ONE_IN = 8 };

/* More bytes that do not fit the code than one in so many are noise, not damage. */
enum { WRONG_ONE_IN = 8 };

/* The bytes before the first % that are neither filler nor line end nor blank. */
static uint64_t text_before(const struct serial_code *code, const uint8_t *raw, size_t n)
{
	uint64_t found = 0;

	for (size_t i = 0; i < n; i++)
		found += serial_code_is_text(code, raw[i]);
	return found;
}

/* True when a byte cannot be what a control punched in ISO code; it may say DC3 without parity. */
static bool wrong_in_iso(uint8_t byte)
{
	return !iso_even(byte) && !iso_is_device(iso_decode(byte));
}

/*
 * Neither all even nor all odd: look at the text alone, without what a device server said before
 * it. Filler aside, parity that most bytes have is the line's, and the
 * others are damage; bit 8 must be in use for that, else half of all text would do. True when bit 8
 * must be taken off.
 */
static bool judge_mixed(struct serial_capture *c, const uint8_t *raw, size_t size, bool iso)
{
	struct eia_counts counts = {0};
	uint64_t few, wrong = 0;

	eia_count(&counts, raw, size);
	few = counts.bytes / WRONG_ONE_IN;
	for (size_t i = 0; i < size; i++)
		wrong += wrong_in_iso(raw[i]);
	if (counts.high > few && wrong <= few) {
		if (!iso)
			c->findings |= SERIAL_CAPTURE_EVEN;
		else if (wrong > 0)
			c->findings |= SERIAL_CAPTURE_PARITY;
		return true;
	}
	if (counts.high > few && counts.odd >= counts.bytes - few) {
		c->findings |= SERIAL_CAPTURE_ODD;
		return true;
	}
	c->findings |= iso || counts.high > counts.bytes / EIGHT_BIT_ONE_IN
	                   ? SERIAL_CAPTURE_NOISE
	                   : SERIAL_CAPTURE_EIGHT_BIT;
	return false;
}

/* What the parity of all says, given what was set; raw: from the first % on. True when bit 8 must
 * be taken off. */
static bool judge_parity(struct serial_capture *c, const struct iso_parity *parity,
    const uint8_t *raw, size_t size, bool iso)
{
	switch (iso_framing(parity)) {
	case ISO_FRAMING_NONE:
		break;
	case ISO_FRAMING_CLEAR:
		if (iso)
			c->findings |= SERIAL_CAPTURE_NO_PARITY;
		break;
	case ISO_FRAMING_EVEN:
		if (!iso)
			c->findings |= SERIAL_CAPTURE_EVEN;
		return true;
	case ISO_FRAMING_ODD:
		c->findings |= SERIAL_CAPTURE_ODD;
		return true;
	case ISO_FRAMING_MARK:
		c->findings |= SERIAL_CAPTURE_MARK;
		return true;
	case ISO_FRAMING_MIXED:
		return judge_mixed(c, raw, size, iso);
	}
	return false;
}

/* Whether it is EIA that came, and whole. */
static void judge_eia(
    struct serial_capture *c, const struct serial_code *code, const uint8_t *raw, size_t size)
{
	struct eia_counts counts = {0};
	size_t wrong = 0;

	eia_count(&counts, raw, size);
	for (size_t i = 0; i < size; i++)
		wrong += !eia_is_device(raw[i]) && eia_decode(&code->eia, raw[i]) == EIA_NOTHING;
	if (eia_guess(&counts) == EIA_GUESS_ISO)
		c->findings |= SERIAL_CAPTURE_ISO;
	else if (wrong > counts.bytes / WRONG_ONE_IN)
		c->findings |= SERIAL_CAPTURE_NOISE;
	else if (wrong > 0)
		c->findings |= SERIAL_CAPTURE_NO_CODE;
}

/* True when what came where ISO or ASCII is set is EIA. */
static bool is_eia(const uint8_t *raw, size_t size)
{
	struct eia_counts counts = {0};

	eia_count(&counts, raw, size);
	return eia_guess(&counts) == EIA_GUESS_EIA;
}

/* How bytes become characters. */
struct reading {
	const struct eia *eia; /* NULL: ISO or ASCII */
	bool parity;           /* bit 8 is parity: take it off */
	bool checked;          /* ... and a byte of odd parity is none */
};

enum { LEFT_OUT = -1, DEVICE = -2 };

/* The character of a byte, NUL for one that has none, LEFT_OUT for shifts and rubbed-out places of
 * EIA, or DEVICE. */
static int character_of(const struct reading *how, uint8_t byte)
{
	uint8_t plain = how->parity ? iso_decode(byte) : byte;
	int c;

	if (how->eia && eia_is_device(byte))
		return DEVICE;
	if (how->eia) {
		c = eia_decode(how->eia, byte);
		return c == EIA_SHIFT || c == ISO_DEL ? LEFT_OUT : c == EIA_NOTHING ? ISO_NUL : c;
	}
	if (iso_is_device(plain))
		return DEVICE;
	return how->checked && wrong_in_iso(byte) ? ISO_NUL : plain;
}

/* Copy one line, its end included; device controls only where there is text beside them. Returns
 * the bytes written; *used is the bytes of the line. */
static size_t strip_line(
    uint8_t *to, const struct reading *how, const uint8_t *raw, size_t size, size_t *used)
{
	bool text = false;
	size_t n = 0;
	int c = LEFT_OUT;

	for (*used = 0; *used < size && c != ISO_LF && c != ISO_CR; (*used)++) {
		c = character_of(how, raw[*used]);
		text = text || (c > ' ' && c != ISO_DEL);
	}
	for (size_t i = 0; i < *used; i++) {
		c = character_of(how, raw[i]);
		if (c >= 0 || (c == DEVICE && text))
			to[n++] = (uint8_t)(c >= 0 ? c : ISO_DC1);
	}
	return n;
}

/*
 * What is left of device controls stands in front of the text's last character, in a line with
 * text. It was none: one wrong bit makes them of the digits 1 to 4, in ISO and in EIA, and whoever
 * leaves them out loses a digit without a word.
 */
static void mark_devices(struct serial_capture *c)
{
	uint64_t line = 1;

	for (size_t i = 0; i < c->text.size; i++) {
		line += c->text.bytes[i] == ISO_LF;
		if (!iso_is_device(c->text.bytes[i]))
			continue;
		c->text.bytes[i] = ISO_NUL;
		c->findings |= SERIAL_CAPTURE_DEVICE;
		if (c->text.damage_line == 0 || c->text.damage_line > line)
			c->text.damage_line = line;
	}
}

int serial_capture_read(struct serial_capture *c, const uint8_t *raw, size_t size,
    const struct iso_parity *parity, const struct serial_code *code, bool opened, size_t opened_at,
    bool closed)
{
	size_t from = opened ? opened_at : 0, n = 0, used;
	struct reading how = {.eia = code->kind == LINE_CODE_EIA ? &code->eia : NULL};
	struct several programs;
	uint8_t *plain = NULL;

	*c = (struct serial_capture){0};
	if (code->kind == LINE_CODE_EIA)
		judge_eia(c, code, raw + from, size - from);
	else if (is_eia(raw, size))
		c->findings |= SERIAL_CAPTURE_EIA;
	else
		how.parity =
		    judge_parity(c, parity, raw + from, size - from, code->kind == LINE_CODE_ISO);
	how.checked = c->findings & SERIAL_CAPTURE_PARITY;
	c->before = text_before(code, raw, from);
	c->findings |= c->before > 0 ? SERIAL_CAPTURE_BEFORE : 0;
	c->findings |= opened ? 0 : SERIAL_CAPTURE_NO_START;
	c->findings |= closed ? 0 : SERIAL_CAPTURE_NO_END;
	if (c->findings & (SERIAL_CAPTURE_NOISE | SERIAL_CAPTURE_EIA | SERIAL_CAPTURE_ISO))
		return 0;
	plain = malloc(size);
	if (!plain)
		goto err;
	for (size_t at = from; at < size; at += used)
		n += strip_line(plain + n, &how, raw + at, size - at, &used);
	if (canonical_make(&c->text, plain, n) < 0)
		goto err;
	free(plain);
	plain = NULL;
	c->findings |= c->text.nuls > 0 ? SERIAL_CAPTURE_DAMAGED : 0;
	mark_devices(c);
	if (several_read(&programs, c->text.bytes, c->text.size) < 0)
		goto err;
	c->findings |= programs.cut ? SERIAL_CAPTURE_NO_END : 0;
	several_free(&programs);
	return 0;

err:
	free(plain);
	serial_capture_free(c);
	return -1;
}

void serial_capture_free(struct serial_capture *c)
{
	canonical_free(&c->text);
	*c = (struct serial_capture){0};
}

uint32_t serial_capture_worst(uint32_t findings)
{
	static const uint32_t order[] = {SERIAL_CAPTURE_EIA, SERIAL_CAPTURE_ISO,
	    SERIAL_CAPTURE_EVEN, SERIAL_CAPTURE_ODD, SERIAL_CAPTURE_MARK, SERIAL_CAPTURE_NOISE,
	    SERIAL_CAPTURE_NO_START, SERIAL_CAPTURE_NO_CODE, SERIAL_CAPTURE_PARITY,
	    SERIAL_CAPTURE_DEVICE, SERIAL_CAPTURE_DAMAGED, SERIAL_CAPTURE_NO_END};

	for (size_t i = 0; i < sizeof(order) / sizeof(order[0]); i++)
		if (findings & order[i])
			return order[i];
	return 0;
}

const char *serial_capture_says(enum serial_capture_finding finding)
{
	switch (finding) {
	case SERIAL_CAPTURE_DAMAGED:
		return "NUL inside the program: characters were lost on the way; punch it again";
	case SERIAL_CAPTURE_EVEN:
		return iso_framing_says(ISO_FRAMING_EVEN);
	case SERIAL_CAPTURE_ODD:
		return iso_framing_says(ISO_FRAMING_ODD);
	case SERIAL_CAPTURE_NOISE:
		return iso_framing_says(ISO_FRAMING_MIXED);
	case SERIAL_CAPTURE_NO_PARITY:
		return "ISO code is set, but no parity came: single wrong bits cannot be seen; set "
		       "the control to "
		       "ISO code, or the code to ASCII";
	case SERIAL_CAPTURE_EIGHT_BIT:
		return "8-bit characters in the text; compare it with care";
	case SERIAL_CAPTURE_BEFORE:
		return "characters before the first %: left out of the text, kept in the capture";
	case SERIAL_CAPTURE_NO_START:
		return "no % at all: the text may not be a whole program";
	case SERIAL_CAPTURE_NO_END:
		return "no closing %: the program may be cut off; punch it again";
	case SERIAL_CAPTURE_EIA:
		return "the control punched EIA while ISO or ASCII is set: odd parity, and blocks "
		       "that end with 80 hex; set the control's output to ISO, or code = eia in "
		       "the "
		       "machine's [line]";
	case SERIAL_CAPTURE_ISO:
		return "the control punched ISO or ASCII while EIA is set: blocks end with LF, "
		       "which "
		       "EIA does not have; set the control's output to EIA, or code = iso in the "
		       "machine's [line]";
	case SERIAL_CAPTURE_PARITY:
		return "wrong parity inside the program: bits were turned on the way; check cable "
		       "and "
		       "earth, punch it again";
	case SERIAL_CAPTURE_DEVICE:
		return "a device control (DC1 to DC4) inside the program, where a character was "
		       "turned into it on the way; check cable and earth, punch it again";
	case SERIAL_CAPTURE_MARK:
		return iso_framing_says(ISO_FRAMING_MARK);
	case SERIAL_CAPTURE_NO_CODE:
		return "bytes inside the program that are no code of EIA: bits were turned on the "
		       "way, or the control has other codes than the setting eia says; punch it "
		       "again";
	}
	return "";
}
