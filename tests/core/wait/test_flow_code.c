/*
 * Goal: each wait code is kept as what it is: a meeting, a signal sent or waited for, with the
 * channels it names; what cannot be meant is told and never chosen.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"

static void begin(struct channels *c, enum profile_partners partners)
{
	channels_begin(c);
	c->profile.channels = 3;
	c->profile.partners = partners;
	c->profile.partners_letter = 'P';
	c->profile.send[0] = (struct profile_range){400, 409};
	c->profile.receive[0] = (struct profile_range){500, 509};
	c->profile.sends = c->profile.receives = 1;
	strcpy(c->profile.wait_call, "MEET");
}

/* Channels as digits or as a mask; in channel 0. */
static void partners(void **state)
{
	static const struct {
		enum profile_partners form;
		const char *text;
		uint32_t set;
		unsigned bad;
	} rows[] = {{PROFILE_PARTNERS_DIGITS, "M201 P13\nM30\n", 5, 0},
	    {PROFILE_PARTNERS_DIGITS, "M201 P321\nM30\n", 7, 0},
	    {PROFILE_PARTNERS_DIGITS, "P12 M201\nM30\n", 3, 0},
	    {PROFILE_PARTNERS_DIGITS, "M201\nM30\n", 0, 0},
	    {PROFILE_PARTNERS_DIGITS, "M201 P14\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_DIGITS, "M201 P11\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_DIGITS, "M201 P0\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_DIGITS, "M201 P#1\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_DIGITS, "M201 P1.5\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_DIGITS, "M201 P12 P13\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_DIGITS, "M201 P-12\nM30\n", 0, 1},
	    /* no other than its own */
	    {PROFILE_PARTNERS_DIGITS, "M201 P1\nM30\n", 1, 1},
	    {PROFILE_PARTNERS_DIGITS, "M201 P2\nM30\n", 2, 0},
	    {PROFILE_PARTNERS_MASK, "M201 P5\nM30\n", 5, 0},
	    {PROFILE_PARTNERS_MASK, "M201 P7\nM30\n", 7, 0},
	    {PROFILE_PARTNERS_MASK, "M201 P8\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_MASK, "M201 P99999999999\nM30\n", 0, 1},
	    {PROFILE_PARTNERS_DIGITS, "M401 P2\nM30\n", 2, 0},
	    /* who waits for a signal names nobody */
	    {PROFILE_PARTNERS_DIGITS, "M501 P9\nM30\n", 0, 0}};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;
		uint32_t set = 0;

		begin(&c, rows[i].form);
		channels_add(&c, rows[i].text);
		if (wait_flow_codes(c.flow[0]))
			set = wait_flow_code(c.flow[0], 0)->partners;
		if (set != rows[i].set || channels_seen(&c, FINDING_PARTNERS_BAD) != rows[i].bad ||
		    channels_seen(&c, FINDING_FLOW_UNFOLLOWED))
			fail_msg("%s: channels %u, %u findings", rows[i].text, set,
			    channels_seen(&c, FINDING_PARTNERS_BAD));
		channels_end(&c);
	}
}

static void kinds(void **state)
{
	struct channels c;

	begin(&c, PROFILE_PARTNERS_ALL);
	channels_add(&c, "M201\nM401\n/2 M501\nM600\nM30\n");
	assert_int_equal(wait_flow_codes(c.flow[0]), 3);
	assert_int_equal(wait_flow_code(c.flow[0], 0)->kind, WAIT_CODE_MEET);
	assert_int_equal(wait_flow_code(c.flow[0], 1)->kind, WAIT_CODE_SEND);
	assert_int_equal(wait_flow_code(c.flow[0], 2)->kind, WAIT_CODE_RECEIVE);
	assert_int_equal(wait_flow_code(c.flow[0], 2)->skip, 2);
	assert_int_equal(wait_flow_skips(c.flow[0]), 1 << 2);
	channels_end(&c);
}

static int take(void *ctx, const struct nc_block *b)
{
	return wait_flow_block(ctx, b);
}

/* Add a channel whose waits are calls. */
static void add(struct channels *c, const char *text)
{
	struct wait_flow *f = wait_flow_new(&c->profile);
	struct nc_reader *r = nc_reader_new(take, f);
	struct nc_shape shape;

	assert_non_null(f);
	assert_non_null(r);
	nc_reader_call(r, c->profile.wait_call);
	assert_int_equal(nc_reader_feed(r, text, strlen(text)), 0);
	assert_int_equal(nc_reader_finish(r, &shape), 0);
	nc_reader_free(r);
	assert_int_equal(wait_flow_finish(f, &c->findings, "job.up", (int)c->n, false), 0);
	c->flow[c->n++] = f;
}

/* A wait written as a call, MEET(CODE,CHANNEL,CHANNEL). */
static void calls(void **state)
{
	static const struct {
		const char *text;
		uint32_t at, code, set;
		unsigned bad, unfollowed;
	} rows[] = {{"MEET(7,1,3)", 0, 7, 5, 0, 0}, {"MEET( 7 , 1 , 2 )", 0, 7, 3, 0, 0},
	    {"MEET(7)", 0, 7, 0, 0, 0}, {"MEET(2,3,7)", 2, 7, 6, 0, 0},
	    {"MEET(7,1,1)", 0, 0, 0, 1, 0}, {"MEET(7,4)", 0, 0, 0, 1, 0},
	    {"MEET(7,0)", 0, 0, 0, 1, 0}, {"MEET(7,)", 0, 0, 0, 1, 0}, {"MEET()", 0, 0, 0, 1, 0},
	    {"MEET(#1,1,2)", 0, 0, 0, 1, 0}, {"MEET(1,2)", 2, 0, 0, 1, 0},
	    {"MEET(7,1)", 0, 7, 1, 1, 0}};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;
		struct wait_code got = {0};

		begin(&c, PROFILE_PARTNERS_ALL);
		c.profile.wait_call_code = rows[i].at;
		add(&c, rows[i].text);
		if (wait_flow_codes(c.flow[0]))
			got = *wait_flow_code(c.flow[0], 0);
		if (got.code != rows[i].code || got.partners != rows[i].set ||
		    got.call != (rows[i].code > 0) ||
		    channels_seen(&c, FINDING_PARTNERS_BAD) != rows[i].bad ||
		    channels_seen(&c, FINDING_FLOW_UNFOLLOWED) != rows[i].unfollowed)
			fail_msg("%s: code %u, channels %u", rows[i].text, got.code, got.partners);
		channels_end(&c);
	}
}

/* A call and an M code in one block: their order is not known. Behind THEN it is conditional. */
static void calls_among_words(void **state)
{
	static const char *const texts[] = {
	    "IF [1 EQ 1] THEN MEET(7)\nIF [1 EQ 2] THEN MEET(8)\nM30\n",
	    "#1=3\n/2 MEET(9)\nIF [#1 EQ 3] GOTO 5\nMEET(8)\nN5 MEET(7) (LAST)\nM30\n",
	    "N1 X1. MEET ( 7 , 1 , 2 , 3 )\nM30\n"};
	struct channels c;

	begin(&c, PROFILE_PARTNERS_ALL);
	add(&c, "M201 MEET(7)\nM30\n");
	assert_int_equal(channels_seen(&c, FINDING_FLOW_UNFOLLOWED), 1);
	channels_end(&c);

	begin(&c, PROFILE_PARTNERS_ALL);
	add(&c, "(A (B) MEET(7) C)\nM30\n");
	add(&c, "MEET(7\nM30\n");
	assert_int_equal(channels_seen(&c, FINDING_FLOW_UNFOLLOWED), 2);
	channels_end(&c);

	begin(&c, PROFILE_PARTNERS_ALL);
	for (int i = 0; i < 3; i++)
		add(&c, texts[i]);
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_int_equal(c.result.meetings, 0);
	assert_int_equal(c.result.run[0].on, 0);
	channels_end(&c);

	begin(&c, PROFILE_PARTNERS_ALL);
	for (int i = 0; i < 3; i++)
		add(&c, texts[i == 1 ? 0 : i]);
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	assert_int_equal(c.result.meetings, 1);
	channels_end(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(partners),
	    cmocka_unit_test(kinds),
	    cmocka_unit_test(calls),
	    cmocka_unit_test(calls_among_words),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
