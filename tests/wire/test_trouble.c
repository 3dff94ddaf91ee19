/*
 * Goal: each thing that goes wrong on a line, or is set wrong on either side, ends in its named
 * outcome, for every framing and code; and "done" is never said of a program that the control does
 * not hold to the byte.
 */
#include "line_bed.h"

#include <stdio.h>
#include <string.h>
#include "canonical.h"
#include "store.h"
#include "yoke/carry.h"

enum { LEADER = 10, MIDDLE = 150, A_ONE = 33, MEMORY = 120, ROUNDS = 200 };

static const char PROGRAM[] =
    "%\nO4417(BUSH 4417-C)\n"
    "N10 G0 G40 G80 X62.5 Z2.75 M8\nN20 G1 Z-48.2 F0.18\nN30 X64.1 Z-49.\nN40 G0 X150. Z90.\n"
    "N50 T0303 S1800 M3\nN60 G0 X40. Z3.\nN70 G1 Z-12.5 F0.1\nN80 X42.7 Z-13.\nN90 G0 X150. Z90.\n"
    "N100 M30\n%\n";

/* A_ONE is the digit of N10, behind the leader: with two bits turned over it is another digit in
 * all codes. */
static const char *name_of(enum carry_error e)
{
#define X(id, name, passes, text) [CARRY_ERROR_##id] = name,
	static const char *const names[] = {CARRY_ERROR_LIST(X)};
#undef X
	return names[e];
}

static struct line_serial settings(
    enum line_framing framing, enum line_code code, enum line_flow flow)
{
	return (struct line_serial){
	    .baud = 9600,
	    .framing = framing,
	    .code = code,
	    .flow = flow,
	    .wait_dc1 = flow == LINE_FLOW_XON || flow == LINE_FLOW_BOTH,
	    .leader = LEADER,
	    .trailer = 10,
	    .reserve = 16,
	    .first_ms = 10000,
	    .stall_ms = 10000,
	    .read_back_ms = 10000,
	    .silence_ms = 1000,
	};
}

/* The outcome that a carriage has for an end of the sender. */
static enum carry_error sent_error(enum serial_send_reason reason)
{
	static const enum carry_error errors[] = {
	    [SERIAL_SEND_OK] = CARRY_ERROR_NONE,
	    [SERIAL_SEND_STALL] = CARRY_ERROR_STALL,
	    [SERIAL_SEND_NO_DC1] = CARRY_ERROR_NO_START,
	    [SERIAL_SEND_LOST] = CARRY_ERROR_LOST,
	    [SERIAL_SEND_CANCELLED] = CARRY_ERROR_CANCELLED,
	    [SERIAL_SEND_TOTAL] = CARRY_ERROR_TIME,
	    [SERIAL_SEND_UNPLUGGED] = CARRY_ERROR_UNPLUGGED,
	    [SERIAL_SEND_DROPPED] = CARRY_ERROR_DROPPED,
	    [SERIAL_SEND_BREAK] = CARRY_ERROR_BREAK,
	};

	return errors[reason];
}

/* The same for what was punched; wrong: characters of which the port says so. */
static enum carry_error heard_error(
    const struct serial_receive_outcome *o, uint64_t wrong, const char *program, size_t n)
{
	struct canonical sent = {0}, back = {0};
	uint32_t worst = serial_capture_worst(o->findings);
	bool same;

	if (o->state == SERIAL_RECEIVE_FAILED)
		return o->reason == SERIAL_RECEIVE_NOTHING ? CARRY_ERROR_NOTHING
		                                           : CARRY_ERROR_DAMAGED;
	assert_int_equal(o->state, SERIAL_RECEIVE_DONE);
	if (wrong > o->raw_size / 4 || worst & SERIAL_CAPTURE_FRAMING)
		return CARRY_ERROR_FRAMING;
	if (wrong || worst)
		return CARRY_ERROR_DAMAGED;
	assert_int_equal(canonical_make(&sent, program, n), 0);
	assert_int_equal(canonical_make(&back, o->text, o->text_size), 0);
	same = canonical_difference(&sent, &back) == 0;
	canonical_free(&sent);
	canonical_free(&back);
	return same ? CARRY_ERROR_NONE : CARRY_ERROR_DIFFERS;
}

static enum carry_error punched(struct line_bed *b)
{
	uint64_t before = b->wrong;
	struct serial_receive *r = line_bed_punch(b, 0);
	struct serial_receive_outcome o;
	enum carry_error e;

	serial_receive_outcome(r, &o);
	e = heard_error(&o, b->wrong - before, PROGRAM, strlen(PROGRAM));
	serial_receive_free(r);
	return e;
}

/* A carriage with read-back. */
static enum carry_error carried(struct line_bed *b, struct serial_send_outcome *o)
{
	line_bed_load(b, 0, PROGRAM, strlen(PROGRAM));
	line_bed_run(&b, 1, o);
	return o->state == SERIAL_SEND_DONE ? punched(b) : sent_error(o->reason);
}

/*
 * True when the control holds the program's blocks to the byte, and nothing else. Its closing % is
 * no part of them: a control that missed it gives an alarm, and has every block.
 */
static bool held(const struct line_bed *b)
{
	const struct program *p = store_at(b->store[0], 0);
	size_t n = strlen(PROGRAM) - 5; /* without the lines of % and the last line end */

	return p && !store_at(b->store[0], 1) && p->len >= n &&
	       memcmp(p->text, PROGRAM + 2, n) == 0 &&
	       strcmp(p->text + n, p->len == n ? "" : "\n") == 0;
}

/* True when this is no line: EIA has eight tracks. */
static bool impossible(enum line_framing f, enum line_code code)
{
	return code == LINE_CODE_EIA && line_seven(f);
}

/* One fault in the middle of the program, unless said otherwise. */
struct trouble {
	const char *name;
	enum carry_error end;
	enum carry_error unseen; /* where nothing checks parity; NONE: the same */
	enum line_flow flow;
	enum line_watch watch;
	uint32_t total_ms;
	struct line_bed_control fault; /* added to a control that fits */
};

static const struct trouble troubles[] = {
    {"a character dropped", CARRY_ERROR_DIFFERS, .fault = {.drop = MIDDLE}},
    {"a character doubled", CARRY_ERROR_DIFFERS, .fault = {.twice = MIDDLE}},
    {"two bits turned over", CARRY_ERROR_DIFFERS, .fault = {.turn = A_ONE}},
    {"one bit turned over", CARRY_ERROR_STALL, CARRY_ERROR_DIFFERS, .fault = {.flip = MIDDLE}},
    {"one bit turned over, nobody brakes", CARRY_ERROR_DIFFERS, CARRY_ERROR_DIFFERS, LINE_FLOW_NONE,
        .fault = {.flip = MIDDLE}},
    {"memory full, DC3 for ever", CARRY_ERROR_STALL, .fault = {.memory = MEMORY}},
    {"memory full, ready line off", CARRY_ERROR_STALL, .flow = LINE_FLOW_RTSCTS,
        .fault = {.memory = MEMORY}},
    {"memory full, nobody brakes", CARRY_ERROR_DIFFERS, .flow = LINE_FLOW_NONE,
        .fault = {.memory = MEMORY}},
    {"DC3 for ever", CARRY_ERROR_STALL, .fault = {.hold = MIDDLE}},
    {"DC3 for ever and ready line off", CARRY_ERROR_STALL, .flow = LINE_FLOW_BOTH,
        .fault = {.hold = MIDDLE}},
    {"DSR off for ever", CARRY_ERROR_STALL, .flow = LINE_FLOW_DTRDSR, .fault = {.hold = MIDDLE}},
    {"DC3 that does not arrive", CARRY_ERROR_DIFFERS, .fault = {.mute = true}},
    {"power loss that nobody tells", CARRY_ERROR_NOTHING, .fault = {.power = MIDDLE}},
    {"power loss, DSR watched", CARRY_ERROR_DROPPED, .watch = LINE_WATCH_DSR,
        .fault = {.power = MIDDLE}},
    {"power loss, DCD watched", CARRY_ERROR_DROPPED, .flow = LINE_FLOW_DTRDSR,
        .watch = LINE_WATCH_DCD, .fault = {.power = MIDDLE}},
    {"power loss, ready line off", CARRY_ERROR_STALL, .flow = LINE_FLOW_RTSCTS,
        .fault = {.power = MIDDLE}},
    {"never set to read", CARRY_ERROR_NO_START, .fault = {.deaf = true}},
    {"never set to read, ready line off", CARRY_ERROR_NO_START, .flow = LINE_FLOW_DTRDSR,
        .fault = {.deaf = true}},
    {"never set to read, nobody brakes", CARRY_ERROR_NOTHING, .flow = LINE_FLOW_NONE,
        .fault = {.deaf = true}},
    {"connection lost", CARRY_ERROR_LOST, .fault = {.cut_at = MIDDLE, .cut = serial_send_lost}},
    {"adapter unplugged", CARRY_ERROR_UNPLUGGED,
        .fault = {.cut_at = MIDDLE, .cut = serial_send_unplugged}},
    {"break", CARRY_ERROR_BREAK, .fault = {.cut_at = MIDDLE, .cut = serial_send_break}},
    {"cancelled", CARRY_ERROR_CANCELLED, .fault = {.cut_at = MIDDLE, .cut = serial_send_cancel}},
    {"slower than it may be", CARRY_ERROR_TIME, .total_ms = 300},
};

static struct line_bed_control with_fault(
    const struct line_serial *set, const struct line_bed_control *fault)
{
	struct line_bed_control c = line_bed_fitting(set), fits = c;

	c = *fault;
	c.framing = fits.framing;
	c.code = fits.code;
	c.words = fits.words;
	c.ready_line = fits.ready_line;
	c.asks = fits.asks;
	c.slow = fits.slow;
	c.memory = fault->memory ? fault->memory : fits.memory;
	return c;
}

static void ends_named(const struct trouble *t, enum line_framing framing, enum line_code code)
{
	bool unseen =
	    code == LINE_CODE_ASCII && (framing == LINE_8N1 || framing == LINE_8N2) && t->unseen;
	struct line_serial set = settings(framing, code, t->flow);
	struct line_bed_control control;
	struct serial_send_outcome o;
	struct line_bed b;
	enum carry_error end, want = unseen ? t->unseen : t->end;

	set.watch = t->watch;
	set.total_ms = t->total_ms;
	control = with_fault(&set, &t->fault);
	line_bed_init(&b, &set, &control);
	end = carried(&b, &o);
	if (end != want)
		fail_msg("%s, %s, %s: ended in '%s', not in '%s'; the control: %s", t->name,
		    line_bed_framing_names[framing], line_bed_code_names[code], name_of(end),
		    name_of(want), b.alarm ? b.alarm : "no alarm");
	assert_int_not_equal(end, CARRY_ERROR_NONE);
	if (end == CARRY_ERROR_NO_START)
		assert_int_equal(o.characters, 0);
	else if (o.state == SERIAL_SEND_FAILED) /* the place is told */
		assert_true(o.bytes > 0 && o.bytes < o.total && o.block < o.blocks);
	assert_false(held(&b));
	line_bed_end(&b);
}

static void each_trouble_ends_in_its_outcome(void **state)
{
	unsigned n = 0;

	for (size_t i = 0; i < sizeof(troubles) / sizeof(*troubles); i++)
		for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++)
			for (enum line_code code = LINE_CODE_ASCII; code <= LINE_CODE_EIA; code++) {
				if (impossible(line_bed_framings[f], code))
					continue;
				ends_named(&troubles[i], line_bed_framings[f], code);
				n++;
			}
	print_message("[ trouble  ] %zu faults, %u carriages, none ended in done\n",
	    sizeof(troubles) / sizeof(*troubles), n);
}

/* Without any fault the same carriage is done: else the table above would prove nothing. */
static void without_trouble_it_is_done(void **state)
{
	for (unsigned f = 0; f < LINE_BED_FRAMINGS; f++)
		for (enum line_flow flow = LINE_FLOW_XON; flow <= LINE_FLOW_NONE; flow++)
			for (enum line_code code = LINE_CODE_ASCII; code <= LINE_CODE_EIA; code++) {
				struct line_serial set = settings(line_bed_framings[f], code, flow);
				struct line_bed_control control = line_bed_fitting(&set);
				struct serial_send_outcome o;
				struct line_bed b;

				if (impossible(line_bed_framings[f], code))
					continue;
				line_bed_init(&b, &set, &control);
				assert_int_equal(carried(&b, &o), CARRY_ERROR_NONE);
				assert_true(held(&b));
				line_bed_end(&b);
			}
}

static void tell_tally(const char *what, const unsigned *tally)
{
	print_message("[ trouble  ] %s:", what);
	for (unsigned i = 0; i < CARRY_ERROR_COUNT; i++)
		if (tally[i])
			print_message(" %s %u", i ? name_of(i) : "done", tally[i]);
	print_message("\n");
}

/* Noise both ways, in every bit alike: done is said only when the control has the program. */
static void noise(void **state)
{
	static const uint64_t one_in[] = {100, 1000, 10000, 100000};

	for (size_t i = 0; i < sizeof(one_in) / sizeof(*one_in); i++) {
		unsigned tally[CARRY_ERROR_COUNT] = {0};
		char what[40];

		for (uint32_t round = 0; round < ROUNDS * LINE_BED_FRAMINGS * LINE_BED_CODES;
		     round++) {
			enum line_code code = round / LINE_BED_FRAMINGS % LINE_BED_CODES;
			struct line_serial set =
			    settings(line_bed_framings[round % LINE_BED_FRAMINGS], code,
			        round / LINE_BED_FRAMINGS / LINE_BED_CODES % (LINE_FLOW_NONE + 1));
			struct line_bed_control control = line_bed_fitting(&set);
			struct serial_send_outcome o;
			struct line_bed b;
			enum carry_error end;

			if (impossible(set.framing, code))
				continue;
			control.noise = one_in[i];
			line_bed_init(&b, &set, &control);
			b.seed = 1 + round;
			end = carried(&b, &o);
			if (end == CARRY_ERROR_NONE)
				assert_true(held(&b));
			tally[end]++;
			line_bed_end(&b);
		}
		snprintf(what, sizeof(what), "one bit in %u wrong", (unsigned)one_in[i]);
		tell_tally(what, tally);
		assert_true(i > 0 || tally[CARRY_ERROR_NONE] == 0);
	}
}

/* Two framings whose characters are the same but for the number of stop bits. */
static bool alike(enum line_framing a, enum line_framing b)
{
	static const int kind[] = {[LINE_7E1] = 1,
	    [LINE_7E2] = 1,
	    [LINE_7O1] = 2,
	    [LINE_8N1] = 3,
	    [LINE_8N2] = 3,
	    [LINE_8E1] = 4};

	return kind[a] == kind[b];
}

/* Our framing and the control's, each with each: sending. */
static void wrong_framing_sent(void **state)
{
	unsigned tally[CARRY_ERROR_COUNT] = {0};

	for (unsigned i = 0; i < LINE_BED_FRAMINGS * LINE_BED_FRAMINGS * (LINE_FLOW_NONE + 1);
	     i++) {
		struct line_serial set = settings(line_bed_framings[i % LINE_BED_FRAMINGS],
		    LINE_CODE_ASCII, i / LINE_BED_FRAMINGS / LINE_BED_FRAMINGS);
		struct line_bed_control control = line_bed_fitting(&set);
		struct serial_send_outcome o;
		struct line_bed b;
		enum carry_error end;

		control.framing = line_bed_framings[i / LINE_BED_FRAMINGS % LINE_BED_FRAMINGS];
		line_bed_init(&b, &set, &control);
		end = carried(&b, &o);
		if ((end == CARRY_ERROR_NONE) != alike(set.framing, control.framing) ||
		    (end == CARRY_ERROR_NONE && !held(&b)))
			fail_msg("we %s, the control %s: %s", line_bed_framing_names[set.framing],
			    line_bed_framing_names[control.framing], name_of(end));
		tally[end]++;
		line_bed_end(&b);
	}
	tell_tally("each framing to each", tally);
}

/* A control that has the program punches it with other settings than ours: named, never taken. */
static enum carry_error fetched(const struct line_serial *set, const struct line_bed_control *now)
{
	struct line_bed_control control = line_bed_fitting(set);
	struct serial_send_outcome o;
	struct line_bed b;
	enum carry_error end;

	line_bed_init(&b, set, &control);
	assert_int_equal(carried(&b, &o), CARRY_ERROR_NONE);
	b.control = *now;
	end = punched(&b);
	line_bed_end(&b);
	return end;
}

static void wrong_framing_fetched(void **state)
{
	for (unsigned i = 0; i < LINE_BED_FRAMINGS * LINE_BED_FRAMINGS; i++) {
		struct line_serial set = settings(
		    line_bed_framings[i % LINE_BED_FRAMINGS], LINE_CODE_ASCII, LINE_FLOW_XON);
		struct line_bed_control control = line_bed_fitting(&set);
		enum carry_error end;

		control.framing = line_bed_framings[i / LINE_BED_FRAMINGS];
		end = fetched(&set, &control);
		if (end !=
		    (alike(set.framing, control.framing) ? CARRY_ERROR_NONE : CARRY_ERROR_FRAMING))
			fail_msg("we %s, the control %s: %s", line_bed_framing_names[set.framing],
			    line_bed_framing_names[control.framing], name_of(end));
	}
}

/* The code: ISO set and ASCII punched can be read, unchecked; every other pair is named. */
static void wrong_code_fetched(void **state)
{
	for (unsigned i = 0; i < LINE_BED_CODES * LINE_BED_CODES; i++) {
		enum line_code ours = i % LINE_BED_CODES, its = i / LINE_BED_CODES;
		struct line_serial set = settings(LINE_8N2, ours, LINE_FLOW_XON);
		struct line_serial other = settings(LINE_8N2, its, LINE_FLOW_XON);
		struct line_bed_control control = line_bed_fitting(&other);
		bool readable = ours == its || (ours == LINE_CODE_ISO && its == LINE_CODE_ASCII);
		enum carry_error end = fetched(&set, &control);

		if (end != (readable ? CARRY_ERROR_NONE : CARRY_ERROR_FRAMING))
			fail_msg("we %s, the control %s: %s", line_bed_code_names[ours],
			    line_bed_code_names[its], name_of(end));
	}
}

/* The code, sending: what the control cannot read is never done. */
static void wrong_code_sent(void **state)
{
	unsigned tally[CARRY_ERROR_COUNT] = {0};

	for (unsigned i = 0; i < LINE_BED_CODES * LINE_BED_CODES * (LINE_FLOW_NONE + 1); i++) {
		enum line_code ours = i % LINE_BED_CODES, its = i / LINE_BED_CODES % LINE_BED_CODES;
		enum line_flow flow = i / LINE_BED_CODES / LINE_BED_CODES;
		struct line_serial set = settings(LINE_8N2, ours, flow);
		struct line_serial other = settings(LINE_8N2, its, flow);
		struct line_bed_control control = line_bed_fitting(&other);
		struct serial_send_outcome o;
		struct line_bed b;
		enum carry_error end;

		line_bed_init(&b, &set, &control);
		end = carried(&b, &o);
		if ((end == CARRY_ERROR_NONE) != (ours == its) || held(&b) != (ours == its))
			fail_msg("we %s, the control %s: %s", line_bed_code_names[ours],
			    line_bed_code_names[its], name_of(end));
		tally[end]++;
		line_bed_end(&b);
	}
	tell_tally("each code to each", tally);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(without_trouble_it_is_done),
	    cmocka_unit_test(each_trouble_ends_in_its_outcome),
	    cmocka_unit_test(noise),
	    cmocka_unit_test(wrong_framing_sent),
	    cmocka_unit_test(wrong_framing_fetched),
	    cmocka_unit_test(wrong_code_sent),
	    cmocka_unit_test(wrong_code_fetched),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
