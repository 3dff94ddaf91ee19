#include "serial.h"

#include <stdio.h>
#include <string.h>
#include "serial_send.h"
#include "serial_work.h"

uint32_t serial_first(const struct serial_work *w, uint32_t i)
{
	uint32_t k = 0;

	while (w->stream[k] != w->stream[i])
		k++;
	return k;
}

static const struct line_serial *line_of(const struct job *j, uint32_t i)
{
	return &j->order->item[i].line.serial;
}

/* True when two programs on one line say themselves which channel they are for. */
static bool say_their_channels(const struct job *j, uint32_t i, uint32_t k)
{
	const char *a = line_of(j, i)->channel_word, *b = line_of(j, k)->channel_word;

	return *a && *b && strcmp(a, b);
}

/* Everything that can be refused is refused before a line is opened: no byte of any program has
 * left. */
static int check(struct job *j)
{
	for (uint32_t i = 0; i < j->order->items; i++) {
		struct serial_text_refusal no = {0};
		struct serial_send *s = serial_send_new(
		    line_of(j, i), j->program[i], j->order->item[i].size, parent_now(), &no);
		bool byte = no.fault == SERIAL_TEXT_HIGH || no.fault == SERIAL_TEXT_DEVICE ||
		            no.fault == SERIAL_TEXT_NUL || no.fault == SERIAL_TEXT_NO_CODE ||
		            no.fault == SERIAL_TEXT_LOWER;

		if (!s && byte)
			return fault_set(&j->fault, CARRY_ERROR_BYTE, i,
			    "channel %s, line %llu, byte %llu (%02X hex): %s",
			    j->order->item[i].channel, (unsigned long long)no.line,
			    (unsigned long long)no.offset, no.byte, serial_text_says(no.fault));
		if (!s)
			return fault_set(&j->fault, CARRY_ERROR_ORDER, i, "channel %s: %s",
			    j->order->item[i].channel, serial_text_says(no.fault));
		serial_send_free(s);
		for (uint32_t k = 0; k < i; k++)
			if (!strcmp(line_of(j, i)->address, line_of(j, k)->address) &&
			    !line_of(j, i)->wait_dc1 && !say_their_channels(j, i, k))
				return fault_set(&j->fault, CARRY_ERROR_ORDER, i,
				    "both channels use one line, and without wait_dc1 nobody could "
				    "select the second one; set it, or where the control knows it, "
				    "a channel_word for each");
	}
	return 0;
}

enum {
	AGAIN_MOST = 3,     /* times that a line is lost again soon, until it is left */
	AGAIN_SOON = 10000, /* ms */
};

bool serial_again(struct serial_work *w, uint32_t i, struct fault *why)
{
	uint32_t line = serial_first(w, i);

	if (!w->stream[i]->socket || w->stream[i]->speaks_telnet)
		return false;
	if (parent_now() - w->again_at[line] > AGAIN_SOON)
		w->again[line] = 0;
	if (w->again[line]++ >= AGAIN_MOST)
		return false;
	if (!stream_again(w->stream[i], line_of(w->job, i), i, w->job->parent, why))
		return false;
	w->again_at[line] = parent_now();
	return true;
}

static void send_all(struct serial_work *w)
{
	struct job *j = w->job;

	for (uint32_t i = 0; i < j->order->items; i++)
		if (serial_load(w, i))
			return;
	for (uint32_t i = 0; i < j->order->items; i++)
		if (line_of(j, i)->read_back == LINE_READ_BACK_PUNCH && !j->channel[i].compared &&
		    serial_compare(w, i))
			return;
}

/* A control that asked while nobody but a listener was there is not let wait: its DC1 counts unless
 * it takes it back. */
static void take_asked(struct serial_work *w)
{
	for (uint32_t i = 0; i < w->job->order->items; i++)
		if (w->job->order->item[i].asked && serial_first(w, i) == i)
			w->ear[i] = (struct serial_ear){true, true, parent_now()};
}

/* A dry run: the lines are open, and the programs can go over them. */
static void tell_try(struct job *j)
{
	size_t n = 0;

	for (uint32_t i = 0; i < j->order->items && n < sizeof j->told; i++) {
		struct serial_text_refusal no;
		struct serial_send *s = serial_send_new(
		    line_of(j, i), j->program[i], j->order->item[i].size, parent_now(), &no);
		struct serial_send_progress p = {0};

		if (s)
			serial_send_progress(s, parent_now(), &p);
		serial_send_free(s);
		n += (size_t)snprintf(j->told + n, sizeof j->told - n,
		    "%schannel %s: its line answers; %llu bytes, about %llu s once the control asks",
		    i ? "; " : "dry run, nothing was sent: ", j->order->item[i].channel,
		    (unsigned long long)j->order->item[i].size,
		    (unsigned long long)(p.left_ms + 999) / 1000);
	}
}

/*
 * A DC3 that was damaged on its way to us did not stop us. Where nothing was read back, what was
 * heard beside the control's words is all that there is to know of it.
 */
static void tell_unasked(const struct serial_work *w)
{
	struct job *j = w->job;

	for (uint32_t i = 0; i < j->order->items; i++) {
		size_t n = strlen(j->note);

		if (j->channel[i].held != CARRY_HELD_NEW || j->channel[i].compared ||
		    !w->unasked[i])
			continue;
		snprintf(j->note + n, sizeof j->note - n,
		    "%schannel %s: %u characters came damaged or unasked while it went, a DC3 may "
		    "have been among them: look at the program's end there",
		    n ? "; " : "", j->order->item[i].channel, w->unasked[i]);
	}
}

static void run_over(struct job *j, struct stream *const stream[YOKE_CHANNELS_MAX])
{
	struct serial_work w = {.job = j, .stream = stream};

	if (j->order->act == CARRY_SEND) {
		take_asked(&w);
		send_all(&w);
	} else if (j->order->act == CARRY_DRIP) {
		serial_load(&w, 0);
	} else {
		for (uint32_t i = 0; i < j->order->items && !serial_fetch(&w, i); i++)
			;
	}
	for (uint32_t i = 0; i < j->order->items; i++)
		j->channel[i].line_errors = stream_line_errors(stream[i]);
	tell_unasked(&w);
	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		serial_receive_free(w.copy[i]);
}

void serial_run_over(struct job *j, struct stream *const stream[YOKE_CHANNELS_MAX])
{
	if (j->order->act != CARRY_INSPECT && (!carry_brings(j->order->act) || !check(j)))
		run_over(j, stream);
}

/* Which port it was is told in the outcome, and at once in the carrier's log. */
static void note(struct job *j, uint32_t i, const struct stream *s)
{
	size_t n = strlen(j->over);

	if (!*s->name)
		return;
	snprintf(j->over + n, sizeof j->over - n, "%s%s", n ? " and " : "", s->name);
	fprintf(
	    stderr, "yoke-carrier: channel %s goes over %s\n", j->order->item[i].channel, s->name);
}

void serial_run(struct job *j)
{
	struct stream own[YOKE_CHANNELS_MAX], *stream[YOKE_CHANNELS_MAX] = {NULL};
	uint32_t opened = 0;

	if (j->order->act == CARRY_INSPECT || (carry_brings(j->order->act) && check(j)))
		return;
	/* All lines first: when one cannot be reached nothing is sent over the other. */
	for (uint32_t i = 0; i < j->order->items; i++) {
		const struct carry_progress at = {i, CARRY_PHASE_OPEN, 0, 0, 0, UINT64_MAX};

		parent_progress(j->parent, &at);
		for (uint32_t k = 0; k < i && !stream[i]; k++)
			if (!strcmp(line_of(j, i)->address, line_of(j, k)->address))
				stream[i] = stream[k];
		if (stream[i])
			continue;
		if (stream_open(&own[opened], line_of(j, i), i, j->parent, &j->fault))
			goto close;
		note(j, i, &own[opened]);
		stream[i] = &own[opened++];
	}
	if (j->order->act == CARRY_TRY)
		tell_try(j);
	else
		run_over(j, stream);
close:
	while (opened)
		stream_close(&own[--opened], j->fault.error != CARRY_ERROR_NONE);
}
