/*
 * Goal: the trade's case "the control is overrun although it sent XOFF", with the real carrier, at
 * its own figures: a buffer of 100, DC3 at 40 free, 200 characters a second taken, a line of 9600
 * 7E2, and below us a FIFO of 16, 256 or 4096. With 16 characters below us 5,000 arrive to the byte
 * through each of them. With as many as there is room for, and DC3 obeyed by what feeds the FIFO,
 * the two deeper ones overrun the control.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "bed.h"
#include "rig.h"

enum { SIZE = 5000, LINES = 6, FIFOS = 3 };

static const char *const fifos[FIFOS] = {"16", "256", "4096"};

static struct line_case {
	struct bed bed;
	struct rig rig;
	bool limited;
} lines[LINES];

static void begin(struct line_case *l, unsigned i, const char *text)
{
	const char *options[] = {"--line", "0", "--speed", "9600", "--framing", "7E2", "--buffer",
	    "100", "--reserve", "40", "--resume", "20", "--drain", "200", "--fifo",
	    fifos[i % FIFOS], i < FIFOS ? NULL : "--brake", NULL};
	struct line_serial *s = &l->rig.order.item[0].line.serial;

	l->limited = i < FIFOS;
	bed_start(&l->bed, options);
	assert_true(bed_ask(&l->bed, "read upper"));
	rig_open(&l->rig, CARRY_SEND);
	rig_program(&l->rig, 0, text);
	l->rig.order.items = 1;
	l->rig.order.item[0].line.kind = LINE_SERIAL;
	snprintf(s->address, sizeof(s->address), "tcp://127.0.0.1:%u", l->bed.ports[0]);
	s->baud = 9600;
	s->framing = LINE_7E2;
	s->code = LINE_CODE_ISO;
	s->wait_dc1 = true;
	s->reserve = l->limited ? 16 : 4096;
	s->open_ms = 5000;
	s->first_ms = 20000;
	s->stall_ms = 20000;
	rig_start(&l->rig);
	rig_send_order(&l->rig);
}

/* Until each has ended; each gives a sign of life every second. */
static void talk_to_all(void)
{
	bool ended[LINES] = {false};
	unsigned left = LINES;

	for (unsigned turns = 0; left; turns++) {
		assert_true(turns < 100000);
		for (unsigned i = 0; i < LINES; i++)
			if (!ended[i] && rig_hear(&lines[i].rig, 2) < 0) {
				ended[i] = true;
				left--;
			}
	}
}

static void limited_and_not(void **state)
{
	static char text[BED_TEXT];
	static uint8_t iso[BED_TEXT];

	assert_in_range(bed_text(text, iso, SIZE), SIZE - 100, SIZE + 100);
	for (unsigned i = 0; i < LINES; i++)
		begin(&lines[i], i, text);
	talk_to_all();
	for (unsigned i = 0; i < LINES; i++) {
		struct line_case *l = &lines[i];
		const struct carry_channel *c = &l->rig.outcome.channel[0];
		long lost;

		assert_true(rig_reap(&l->rig));
		(void)bed_ask(&l->bed, "wait loaded upper 30");
		lost = bed_figure(&l->bed, "upper.overrun");
		print_message(
		    "[ overrun  ] FIFO %s, at most %s below us: %ld lost, at most %ld after "
		    "DC3 there, %llu in our figures\n",
		    fifos[i % FIFOS], l->limited ? "16" : "4096", lost,
		    bed_figure(&l->bed, "upper.after-dc3-most"), (unsigned long long)c->after_dc3);
		if (l->limited) {
			assert_int_equal(l->rig.outcome.error, CARRY_ERROR_NONE);
			assert_int_equal(lost, 0);
			assert_true(bed_ask(&l->bed, "show upper"));
			assert_string_equal(l->bed.answer, text);
			assert_true(c->after_dc3 <= 16);
			assert_true(bed_figure(&l->bed, "upper.dc3-sent") > 10);
		} else {
			assert_int_equal(lost > 0, i % FIFOS > 0);
			/* And it shows in the figures. */
			assert_true(c->after_dc3 > 40);
		}
		rig_close(&l->rig);
		bed_stop(&l->bed);
		bed_remove(&l->bed);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(limited_and_not)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
