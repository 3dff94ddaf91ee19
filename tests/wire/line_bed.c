#include "line_bed.h"

#include <stdlib.h>
#include <string.h>
#include "store.h"

enum {
	MS = 1000000,      /* ns */
	READ_AFTER = 1000, /* ms from the load's beginning until the operator sets the control to
	                      read */
	FIFO = 256,
};

const enum line_framing line_bed_framings[LINE_BED_FRAMINGS] = {
    LINE_7E1, LINE_7E2, LINE_7O1, LINE_8N1, LINE_8N2, LINE_8E1};
const char *const line_bed_framing_names[LINE_BED_FRAMINGS] = {[LINE_7E1] = "7E1",
    [LINE_7E2] = "7E2",
    [LINE_7O1] = "7O1",
    [LINE_8N1] = "8N1",
    [LINE_8N2] = "8N2",
    [LINE_8E1] = "8E1"};
const char *const line_bed_code_names[LINE_BED_CODES] = {"ASCII", "ISO", "EIA"};

static uint64_t char_ns(const struct line_bed *b)
{
	return 1000ULL * MS * line_bits(b->set.framing) / b->set.baud;
}

/* Noise on a character's way. */
static uint32_t spoil(struct line_bed *b, uint32_t bits)
{
	unsigned n = line_bits(b->set.framing);

	for (unsigned i = 0; b->control.noise && i < n; i++)
		if (chance(&b->seed) % b->control.noise == 0)
			bits ^= 1u << i;
	return bits;
}

/* What a port makes of a character. False: nothing comes. *wrong: that is told. */
static bool port_takes(enum line_bed_wrong how, enum frame_fault fault, uint8_t *byte, bool *wrong)
{
	*wrong = fault != FRAME_OK && how == LINE_BED_TOLD;
	if (fault != FRAME_OK && fault != FRAME_NONE && how == LINE_BED_REPLACED)
		*byte = '?';
	return fault != FRAME_NONE && (fault == FRAME_OK || how != LINE_BED_DROPPED);
}

/* From the control to us, these bits. False: nothing comes. */
static bool bits_to_us(struct line_bed *b, uint32_t bits, uint8_t *byte)
{
	enum frame_fault fault = frame_take(b->set.framing, spoil(b, bits), byte);
	bool wrong, comes = port_takes(b->control.our_port, fault, byte, &wrong);

	b->wrong += wrong;
	return comes;
}

static bool to_us(struct line_bed *b, uint8_t *byte)
{
	return bits_to_us(b, frame_send(b->control.framing, *byte), byte);
}

static void say(struct line_bed *b, uint8_t character)
{
	uint8_t byte = code_send(b->control.code, character);

	if (b->send && to_us(b, &byte))
		serial_send_feed(b->send, b->now, &byte, 1);
}

/* The control's brake. */
static void brake(void *ctx, bool stop)
{
	struct line_bed *b = ctx;

	if ((b->control.mute && stop) || !b->send)
		return;
	if (b->control.words)
		say(b, stop ? CODE_DC3 : CODE_DC1);
	if (b->control.ready_line)
		serial_send_line(b->send, b->now, !stop);
}

static void end_load(struct line_bed *b, const char *alarm)
{
	if (!alarm && b->counts.overrun)
		alarm = "overrun";
	else if (alarm)
		reader_break(&b->reader);
	b->alarm = alarm;
	b->loads += !alarm;
	b->reading = false;
	line_clear(b->line);
	brake(b, true);
}

static void power_off(struct line_bed *b)
{
	reader_break(&b->reader);
	b->alarm = "power-off";
	b->reading = false;
	b->dead = true;
	line_clear(b->line);
	if (!b->send)
		return;
	if (b->set.flow != LINE_FLOW_XON && b->set.flow != LINE_FLOW_NONE)
		serial_send_line(b->send, b->now, false);
	if (b->set.watch != LINE_WATCH_NONE)
		serial_send_watched(b->send, b->now, false);
}

static bool heard(void *ctx, uint64_t at, uint8_t *byte)
{
	struct line_bed *b = ctx;
	enum frame_fault fault;
	bool wrong, comes;
	uint32_t bits;

	b->arrived++;
	bits = spoil(b, frame_send(b->set.framing, *byte));
	if (b->reading && ++b->heard == b->control.flip)
		bits ^= 2;
	fault = frame_take(b->control.framing, bits, byte);
	comes = port_takes(b->control.its_port, fault, byte, &wrong);
	if (comes && b->came_n < LINE_BED_CAME)
		b->came[b->came_n++] = *byte;
	if (!b->reading || !comes || b->heard == b->control.drop)
		return false;
	if (wrong) {
		end_load(b, fault == FRAME_PARITY ? "parity" : "framing");
		return false;
	}
	if (b->heard == b->control.cut_at && b->send)
		b->control.cut(b->send, b->now);
	if (b->heard == b->control.turn)
		*byte ^= 3;
	if (b->heard == b->control.power)
		power_off(b);
	else if (b->heard == b->control.hold)
		line_hold(b->line, true, at);
	return b->reading;
}

static void taken(void *ctx, uint8_t byte)
{
	struct line_bed *b = ctx;
	int times = ++b->taken == b->control.twice ? 2 : 1;

	for (; times > 0 && b->reading; times--) {
		switch (reader_take(&b->reader, byte)) {
		case READER_MORE:
			break;
		case READER_CHANNEL:
			b->channel = (unsigned)b->reader.word;
			b->reader.store = b->store[b->channel];
			reader_goes_on(&b->reader);
			break;
		case READER_END:
			end_load(b, NULL);
			break;
		case READER_FULL:
			b->alarm = "memory-full";
			line_hold(b->line, true, b->now * MS);
			break;
		case READER_PARITY:
			end_load(b, "parity");
			break;
		case READER_BLANK:
			end_load(b, "blank");
			break;
		case READER_NO_NUMBER:
			end_load(b, "number-missing");
			break;
		case READER_SAME_NUMBER:
			end_load(b, "number-in-use");
			break;
		case READER_TROUBLE:
			fail_msg("the bench control has no memory");
		}
	}
}

static void overrun(void *ctx)
{
}

struct line_bed_control line_bed_fitting(const struct line_serial *set)
{
	static const enum code codes[] = {
	    [LINE_CODE_ASCII] = CODE_ASCII, [LINE_CODE_ISO] = CODE_ISO, [LINE_CODE_EIA] = CODE_EIA};
	static const enum punch_eob eobs[] = {[LINE_EOB_LF] = PUNCH_LF,
	    [LINE_EOB_CRLF] = PUNCH_CRLF,
	    [LINE_EOB_LFCRCR] = PUNCH_LFCRCR};

	return (struct line_bed_control){
	    .framing = set->framing,
	    /* With 7 bits the ports make and check parity: the reader sees the characters alone. */
	    .code = line_seven(set->framing) ? CODE_ASCII : codes[set->code],
	    .eob = eobs[set->eob],
	    .words = set->flow == LINE_FLOW_XON || set->flow == LINE_FLOW_BOTH,
	    .ready_line = set->flow == LINE_FLOW_RTSCTS || set->flow == LINE_FLOW_DTRDSR ||
	                  set->flow == LINE_FLOW_BOTH,
	    .asks = set->wait_dc1,
	    .slow = set->flow != LINE_FLOW_NONE,
	    .memory = 100000,
	};
}

void line_bed_init(
    struct line_bed *b, const struct line_serial *set, const struct line_bed_control *control)
{
	struct line_ears ears = {heard, taken, overrun, brake, b};
	struct line_settings line;

	*b = (struct line_bed){.set = *set, .control = *control, .seed = 4417};
	line = (struct line_settings){
	    .char_ns = char_ns(b),
	    .drain_ns = control->slow ? 2 * char_ns(b) : 0,
	    .fifo = FIFO,
	    .buffer = LINE_BED_BUFFER,
	    .reserve = LINE_BED_BUFFER / 2,
	    .resume = LINE_BED_BUFFER / 8,
	};
	b->line = line_new(&line, &ears);
	assert_non_null(b->line);
	for (size_t i = 0; i < LINE_BED_CHANNELS; i++) {
		b->store[i] = store_new("bed", NULL, control->memory, false);
		assert_non_null(b->store[i]);
	}
}

void line_bed_end(struct line_bed *b)
{
	serial_send_free(b->send);
	line_free(b->line);
	for (size_t i = 0; i < LINE_BED_CHANNELS; i++)
		store_free(b->store[i]);
	*b = (struct line_bed){0};
}

void line_bed_load(struct line_bed *b, unsigned channel, const char *program, size_t n)
{
	struct serial_text_refusal refusal;

	/* With words its operator has the first channel selected, whatever comes. */
	b->channel = b->control.channel_word[0] ? 0 : channel;
	if (b->control.channel_word[channel])
		strcpy(b->set.channel_word, b->control.channel_word[channel]);
	b->came_n = 0;
	b->alarm = "never set to read";
	b->send = serial_send_new(&b->set, program, n, b->now, &refusal);
	assert_non_null(b->send);
	if (b->control.ready_line)
		serial_send_line(b->send, b->now, false);
	reader_init(&b->reader, b->store[b->channel], b->control.code, false);
	if (b->control.channel_word[0])
		reader_words(&b->reader, b->control.channel_word, LINE_BED_CHANNELS);
}

static void set_to_read(struct line_bed *b)
{
	b->reading = true;
	b->alarm = "load not ended";
	b->heard = b->taken = 0;
	b->counts = (struct line_counts){0};
	line_clear(b->line);
	line_count_load(b->line, &b->counts);
	reader_start(&b->reader);
	if (b->control.asks && !b->control.words)
		say(b, CODE_DC1);
	brake(b, false);
}

/* All that happens at this millisecond. */
static void turn(struct line_bed *b)
{
	uint8_t out[FIFO];
	size_t n;

	line_advance(b->line, b->now * MS);
	serial_send_queued(b->send, b->now, b->fed - b->arrived);
	serial_send_tick(b->send, b->now);
	n = serial_send_take(b->send, out, line_room(b->line), b->now);
	line_feed(b->line, b->now * MS, out, n, false);
	b->fed += n;
}

static uint64_t next(const struct line_bed *b)
{
	uint64_t sender = serial_send_deadline(b->send), line = line_next(b->line);

	line = line == LINE_NEVER ? LINE_NEVER : line / MS + 1;
	return line < sender ? line : sender;
}

/* Run one sender to its end. */
static void run(struct line_bed *b, uint64_t read_at, struct serial_send_outcome *o)
{
	for (;;) {
		uint64_t at;

		if (!b->control.deaf && read_at && b->now >= read_at) {
			set_to_read(b);
			read_at = 0;
		}
		turn(b);
		serial_send_outcome(b->send, o);
		if (o->state == SERIAL_SEND_DONE || o->state == SERIAL_SEND_FAILED)
			break;
		at = next(b);
		if (read_at && at > read_at && !b->control.deaf)
			at = read_at;
		assert_true(at != UINT64_MAX);
		b->now = at > b->now ? at : b->now + 1;
	}
}

void line_bed_run(struct line_bed *const *beds, size_t n, struct serial_send_outcome *outcomes)
{
	for (size_t i = 0; i < n; i++) {
		struct line_bed *b = beds[i];
		bool at_once = !b->control.asks && !b->control.words && !b->control.ready_line;

		if (at_once && !b->control.deaf)
			set_to_read(b);
		run(b, at_once ? 0 : b->now + READ_AFTER, &outcomes[i]);
		serial_send_free(b->send);
		b->send = NULL;
		/* What the line still has. */
		b->now += 5000;
		line_advance(b->line, b->now * MS);
	}
}

/* The k-th character of the tape comes over the line to our receiver. */
static void hear_one(struct line_bed *b, struct serial_receive *r, uint8_t byte, uint64_t k)
{
	const struct line_bed_back *f = &b->control.back;
	uint32_t bits = frame_send(b->control.framing, byte);
	bool blind = f->blind && k >= f->blind && k < f->blind + f->blind_n;

	if (k == f->drop)
		return;
	if (k == f->flip)
		bits ^= 2;
	if (!bits_to_us(b, bits, &byte))
		return;
	b->wrong += blind && b->control.our_port == LINE_BED_TOLD;
	if (blind)
		return;
	if (k == f->turn)
		byte ^= 3;
	for (int times = k == f->twice ? 2 : 1; times > 0; times--)
		serial_receive_feed(r, b->now, &byte, 1);
}

static void listen(struct line_bed *b, struct serial_receive *r, const uint8_t *tape, size_t n)
{
	const struct line_bed_back *f = &b->control.back;
	uint64_t begin = b->now * MS;

	for (size_t i = 0; i < n && (!f->cut || i < f->cut); i++) {
		b->now = (begin + (i + 1) * char_ns(b)) / MS;
		hear_one(b, r, tape[i], i + 1);
		serial_receive_tick(r, b->now);
		if (i + 1 == f->gone)
			serial_receive_lost(r, b->now);
	}
}

/* The same tape with EIA's shifts, which carry nothing: UC in front of each block, LC behind it. */
static uint8_t *with_shifts(uint8_t *tape, size_t *n)
{
	static const uint8_t uc = 0x7C, lc = 0x7A, eob = 0x80;
	uint8_t *more = malloc(3 * *n);
	size_t k = 0;

	assert_non_null(more);
	for (size_t i = 0; i < *n; i++) {
		if (tape[i] == eob)
			more[k++] = lc;
		more[k++] = tape[i];
		if (tape[i] == eob)
			more[k++] = uc;
	}
	free(tape);
	*n = k;
	return more;
}

struct serial_receive *line_bed_punch(struct line_bed *b, unsigned channel)
{
	const struct punch_settings set = {.code = b->control.code,
	    .eob = b->control.eob,
	    .leader = 20,
	    .trailer = 20,
	    .word = b->control.channel_word[channel]};
	struct serial_receive *r = serial_receive_new(&b->set, 100000, b->now);
	uint8_t *tape = NULL;
	size_t n = 0;

	assert_non_null(r);
	if (b->reading)
		reader_break(&b->reader); /* he resets the control first */
	b->reading = false;
	line_clear(b->line);
	if (!b->dead)
		tape = punch_stream(b->store[channel], STORE_NEWEST, &set, &n);
	if (tape && b->control.back.shifts)
		tape = with_shifts(tape, &n);
	listen(b, r, tape, tape ? n : 0);
	free(tape);
	for (uint64_t at; (at = serial_receive_deadline(r)) != SERIAL_RECEIVE_NEVER;) {
		b->now = at;
		serial_receive_tick(r, at);
	}
	return r;
}
