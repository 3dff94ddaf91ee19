#include "carriage.h"

#include <string.h>
#include "canonical.h"
#include "store.h"

const char carriage_program[] =
    "%\nO4417(BUSH 4417-C)\n"
    "N10 G0 G40 G80 X62.5 Z2.75 M8\nN20 G1 Z-48.2 F0.18\nN30 X64.1 Z-49.\nN40 G0 X150. Z90.\n"
    "N50 T0303 S1800 M3\nN60 G0 X40. Z3.\nN70 G1 Z-12.5 F0.1\nN80 X42.7 Z-13.\nN90 G0 X150. Z90.\n"
    "N100 M30\n%\n";

const char *carriage_name(enum carry_error e)
{
#define X(id, name, passes, text) [CARRY_ERROR_##id] = name,
	static const char *const names[] = {CARRY_ERROR_LIST(X)};
#undef X
	return names[e];
}

struct line_serial carriage_settings(
    enum line_framing framing, enum line_code code, enum line_flow flow)
{
	return (struct line_serial){
	    .baud = 9600,
	    .framing = framing,
	    .code = code,
	    .flow = flow,
	    .wait_dc1 = flow == LINE_FLOW_XON || flow == LINE_FLOW_BOTH,
	    .leader = CARRIAGE_LEADER,
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
		       : o->reason == SERIAL_RECEIVE_LOST  ? CARRY_ERROR_LOST
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

enum carry_error carriage_punched(struct line_bed *b)
{
	uint64_t before = b->wrong;
	struct serial_receive *r = line_bed_punch(b, 0);
	struct serial_receive_outcome o;
	enum carry_error e;

	serial_receive_outcome(r, &o);
	e = heard_error(&o, b->wrong - before, carriage_program, strlen(carriage_program));
	serial_receive_free(r);
	return e;
}

enum carry_error carriage_run(struct line_bed *b, struct serial_send_outcome *o)
{
	line_bed_load(b, 0, carriage_program, strlen(carriage_program));
	line_bed_run(&b, 1, o);
	return o->state == SERIAL_SEND_DONE ? carriage_punched(b) : sent_error(o->reason);
}

bool carriage_held(const struct line_bed *b)
{
	const struct program *p = store_at(b->store[0], 0);
	size_t n = strlen(carriage_program) - 5; /* without the lines of % and the last line end */

	return p && !store_at(b->store[0], 1) && p->len >= n &&
	       memcmp(p->text, carriage_program + 2, n) == 0 &&
	       strcmp(p->text + n, p->len == n ? "" : "\n") == 0;
}

bool carriage_impossible(enum line_framing f, enum line_code code)
{
	return code == LINE_CODE_EIA && line_seven(f);
}

struct line_bed_control carriage_fault(
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
