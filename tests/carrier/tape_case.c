#include "tape_case.h"

#include <string.h>

/* Say a text in ISO code with leader, DC2 and trailer, lines ended as some controls do; end: DC4.
 */
static void punch_tape(struct desk *k, const char *text, bool end)
{
	static unsigned char bytes[65536];
	size_t n = 0;

	bytes[n++] = DC2;
	for (int i = 0; i < 40; i++)
		bytes[n++] = 0;
	for (; *text; text++) {
		unsigned char c = (unsigned char)*text;

		bytes[n++] = (unsigned char)(c | (__builtin_popcount(c) % 2 ? 0x80 : 0));
		if (c == '\n') {
			bytes[n++] = 0x8D;
			bytes[n++] = 0x8D;
		}
	}
	for (int i = 0; i < 40; i++)
		bytes[n++] = 0;
	if (end)
		bytes[n++] = DC4;
	desk_say(k, bytes, n);
}

void punch(struct desk *k, const char *text)
{
	punch_tape(k, text, true);
}

void punch_without_end(struct desk *k, const char *text)
{
	punch_tape(k, text, false);
}

void read_backs(void)
{
	r.order.item[0].line.serial.read_back = LINE_READ_BACK_PUNCH;
	r.order.item[1].line.serial.read_back = LINE_READ_BACK_PUNCH;
}

void load(struct desk *k)
{
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	k->mark = k->n;
}

const char *tape[2];

void punches_tapes(struct desk *k)
{
	desk_accept(k);
	punch(k, tape[0]);
	desk_hear_for(k, 500);
	if (tape[1])
		punch(k, tape[1]);
	desk_hear_for(k, 500);
}

void fetch(const char *up, const char *lo)
{
	tape[0] = up;
	tape[1] = lo;
	r.order.act = CARRY_FETCH;
	begin(punches_tapes);
	rig_expect(&r, 0, UP);
	rig_run(&r);
	desk_close(&d);
}

void content(uint32_t item, unsigned i, enum carry_role role, const char *note, const char *text)
{
	assert_true(i < r.contents);
	assert_int_equal(r.content[i].head.role, role);
	assert_int_equal(r.content[i].head.item, item);
	assert_string_equal(r.content[i].head.note, note);
	assert_string_equal(r.content[i].text, text);
}
