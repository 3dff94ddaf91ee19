/*
 * Goal: walking a run to a restart block gives the state that a plain reading of the text up to
 * that block gives: for random straight programs the two must be the same, word by word, and as
 * many wait codes must stand before it as its segment says.
 */
#include <stdio.h>
#include "modal.h"
#include "pair_help.h"
#include "yoke/restart.h"

static uint32_t seed;

static uint32_t pick(uint32_t n)
{
	seed = seed * 1664525u + 1013904223u; /* Numerical Recipes' generator */
	return (seed >> 8) % n;
}

static void random_body(struct text *t, bool turns, int meetings)
{
	static const char *const mills[] = {"G54", "G55", "G90", "G91", "G17", "G18", "G0 X1.",
	    "G1 X2. F100", "Z3.", "S500", "M3", "M5", "M8", "M9", "M7", "T4", "M6", "T5 M6",
	    "G43 H3", "G49", "G41 D1", "G40", "G81 Z-1. R1. F9.", "G80", "G94", "G21", "#1=3",
	    "G1 Y#1", "(TEXT)", "G92 X0."};
	static const char *const turn[] = {"T0101", "T0202", "T0200", "G96 S100", "G97 S900",
	    "G50 S2000", "M3", "M4", "M5", "G99", "G98", "G0 X10. Z1.", "G1 Z-5. F.2", "U1. W1.",
	    "G42", "G40", "G18", "M8", "M9", "G54", "G28 U0. W0.", "G90 X5. Z-3. F.1", "G0 X9.",
	    "(TEXT)", "G4 P1"};
	size_t n = turns ? sizeof(turn) / sizeof(*turn) : sizeof(mills) / sizeof(*mills);

	text_puts(t, "%\nO4417 (REV A)\n");
	for (int m = 0; m <= meetings; m++) {
		for (uint32_t i = pick(9); i > 0; i--)
			text_printf(
			    t, "%s\n", turns ? turn[pick((uint32_t)n)] : mills[pick((uint32_t)n)]);
		if (m < meetings)
			text_printf(t, "M%d\n", 201 + m);
	}
	text_puts(t, "M30\n%\n");
	assert_false(t->failed);
}

/* The state in front of a line, and how many wait codes stand before it. */
struct reading {
	uint64_t line;
	unsigned waits;
	struct modal modal;
};

static int read_block(void *ctx, const struct nc_block *b)
{
	struct reading *r = ctx;
	const struct nc_word *m = nc_block_word(b, 'M');

	if (b->line >= r->line)
		return 0;
	modal_block(&r->modal, b, NULL);
	r->waits += m && modal_code(m) >= 2000 && modal_code(m) < 3000;
	return 0;
}

static void same_word(const struct restart_word *w, const struct modal_number *n)
{
	assert_int_equal(w->programmed, n->state != MODAL_ABSENT);
	assert_int_equal(w->known, n->state == MODAL_KNOWN);
	assert_true(!w->known || w->v == n->v);
}

static void same_as_read(const struct checked *c, const struct restart_place *p, const char *text)
{
	struct reading r = {.line = p->at.line};
	struct nc_reader *reader = nc_reader_new(read_block, &r);
	const struct restart_state *s = &p->state;
	const struct modal *m = &r.modal;
	struct nc_shape shape;

	modal_begin(&r.modal, &c->profile, &c->profile.channel[p->channel]);
	assert_non_null(reader);
	assert_int_equal(nc_reader_feed(reader, text, strlen(text)), 0);
	assert_int_equal(nc_reader_finish(reader, &shape), 0);
	nc_reader_free(reader);
	assert_int_equal(p->first, r.waits);
	same_word(&s->tool, &m->tool);
	same_word(&s->tool_next, &m->tool_next);
	same_word(&s->offset, &m->offset);
	same_word(&s->h, &m->h);
	same_word(&s->feed, &m->feed);
	same_word(&s->speed, &m->speed);
	same_word(&s->clamp, &m->clamp);
	assert_int_equal(s->work_offset, m->work_offset);
	assert_int_equal(s->plane, m->plane);
	assert_int_equal(s->units, m->units);
	assert_int_equal(s->distance, m->distance);
	assert_int_equal(s->speed_mode, m->speed_mode);
	assert_int_equal(s->spindle, m->spindle);
	assert_int_equal(s->flood, m->flood);
	assert_int_equal(s->mist, m->mist);
	assert_int_equal(s->motion, m->motion);
	assert_true(m->compensation != 410 && m->compensation != 420);
	for (int i = 0; i < SETUP_AXES; i++)
		assert_int_equal(s->axis[i].shifted, m->place[i].shifted);
}

/* Two programs, and each of their places. Returns how many there are. */
static size_t check_pair(const char *upper, const char *lower)
{
	struct checked c;
	struct restart *r;
	size_t places;

	pair_help_two(&c, upper, lower);
	program_lend(c.program[0], upper, strlen(upper));
	program_lend(c.program[1], lower, strlen(lower));
	r = restart_new(c.report, NULL, 0);
	assert_non_null(r);
	assert_int_equal(r->end, RESTART_WHOLE);
	for (size_t i = 0; i < r->places; i++)
		same_as_read(&c, &r->place[i], r->place[i].channel == 0 ? upper : lower);
	places = r->places;
	restart_free(r);
	pair_help_free(&c);
	return places;
}

/* Straight programs without unknown values: 300 pairs. */
static void test_states(void **state)
{
	size_t places = 0;

	for (uint32_t k = 0; k < 300; k++) {
		struct text upper = {0}, lower = {0};
		int meetings;

		seed = k;
		meetings = (int)pick(6);
		random_body(&upper, false, meetings);
		random_body(&lower, true, meetings);
		places += check_pair(upper.s, lower.s);
		text_free(&upper);
		text_free(&lower);
	}
	assert_true(places > 1000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_states),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
