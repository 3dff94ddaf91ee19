#include "drive.h"

struct line_serial drive_settings(void)
{
	return (struct line_serial){
	    .baud = 9600,
	    .framing = LINE_7E2,
	    .code = LINE_CODE_ASCII,
	    .eob = LINE_EOB_LF,
	    .reserve = 16,
	    .stall_ms = 30000,
	};
}

void drive_begin(struct drive *d, const struct line_serial *settings, const void *program, size_t n)
{
	struct serial_text_refusal refusal;

	d->n = 0;
	d->wakes = 0;
	d->s = serial_send_new(settings, program, n, d->now, &refusal);
	assert_int_equal(refusal.fault, SERIAL_TEXT_OK);
	assert_non_null(d->s);
}

void drive_until(struct drive *d, uint64_t until)
{
	for (;;) {
		uint64_t next;

		d->n += serial_send_take(d->s, d->out + d->n, DRIVE_MAX - d->n, d->now);
		serial_send_tick(d->s, d->now);
		next = serial_send_deadline(d->s);
		d->wakes++;
		if (next == SERIAL_SEND_NEVER || next > until)
			break;
		assert_true(next > d->now);
		d->now = next;
	}
	if (until != SERIAL_SEND_NEVER && until > d->now)
		d->now = until;
}

void drive_hear(struct drive *d, uint8_t byte)
{
	serial_send_feed(d->s, d->now, &byte, 1);
}

struct serial_send_outcome drive_outcome(const struct drive *d)
{
	struct serial_send_outcome outcome;

	serial_send_outcome(d->s, &outcome);
	return outcome;
}

void drive_end(struct drive *d)
{
	serial_send_free(d->s);
	d->s = NULL;
}
