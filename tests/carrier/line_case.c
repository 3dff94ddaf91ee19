#include "line_case.h"

struct rig r;
struct desk d;

void say(struct desk *k, unsigned char c)
{
	desk_say(k, &c, 1);
}

int set_up(void **state)
{
	rig_open(&r, CARRY_SEND);
	rig_program(&r, 0, UP);
	rig_program(&r, 1, LO);
	return 0;
}

int tear_down(void **state)
{
	rig_close(&r);
	return 0;
}

void begin(void (*script)(struct desk *))
{
	desk_open(&d, script);
	desk_line(&d, &r, 0);
	desk_line(&d, &r, 1);
}

void ended(enum carry_error error, enum carry_held up, enum carry_held lo)
{
	assert_true(r.has_outcome);
	if (r.outcome.error != error)
		print_message("%u: %s\n", r.outcome.error, r.outcome.text);
	assert_int_equal(r.outcome.error, error);
	assert_int_equal(r.outcome.channel[0].held, up);
	assert_int_equal(r.outcome.channel[1].held, lo);
}

char long_program[20001];

void make_long(void)
{
	size_t n = 0;

	n += (size_t)sprintf(long_program, "%%\nO1\n");
	while (n < sizeof long_program - 40)
		n += (size_t)sprintf(long_program + n, "N%zu G1 X%zu.5 Z-1.\n", n, n);
	sprintf(long_program + n, "M30\n%%\n");
	/* Longer than the rig's own text, so only its sum counts. */
	rig_program(&r, 0, long_program);
}

void never_asks(struct desk *k)
{
	desk_accept(k);
	if (desk_hear_for(k, 1500))
		k->failed = true;
}
