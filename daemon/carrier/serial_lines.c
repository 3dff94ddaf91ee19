#include "serial_lines.h"

#include "serial_work.h"

enum {
	LOOK_MS = 5,   /* between looks at lines that may stop us: 5 characters at 9600 */
	IDLE_MS = 100, /* between looks at what may wait a moment */
};

void serial_lines_begin(
    struct serial_lines *l, const struct line_serial *line, const struct stream *s)
{
	struct stream_signals now;
	struct stream_counts c;

	*l = (struct serial_lines){.flow = line->flow, .watch = line->watch};
	l->wants = l->watch != LINE_WATCH_NONE || l->flow == LINE_FLOW_RTSCTS ||
	           l->flow == LINE_FLOW_DTRDSR || l->flow == LINE_FLOW_BOTH;
	l->signals = l->wants && stream_signals(s, &now);
	l->counts = stream_counts(s, &c);
	l->breaks = c.brk;
	l->start = l->signals && !line->wait_dc1;
}

void serial_lines_look(
    struct serial_lines *l, const struct stream *s, struct serial_send *m, uint64_t now)
{
	struct stream_signals is;
	struct stream_counts c;

	if (l->looked_at && now < l->looked_at + LOOK_MS)
		return;
	l->looked_at = now;
	/* A device server may tell them only when they change. */
	if (l->wants && stream_signals(s, &is)) {
		l->signals = true;
		serial_send_line(m, now, l->flow == LINE_FLOW_DTRDSR ? is.dsr : is.cts);
		if (l->watch != LINE_WATCH_NONE)
			serial_send_watched(m, now, l->watch == LINE_WATCH_DSR ? is.dsr : is.dcd);
	}
	if (stream_counts(s, &c)) {
		l->counts = true;
		if (c.brk != l->breaks)
			serial_send_break(m, now);
		l->breaks = c.brk;
	}
}

uint64_t serial_lines_next(const struct serial_lines *l, enum serial_send_state state)
{
	if (state == SERIAL_SEND_WAITING)
		return l->start ? l->looked_at + IDLE_MS : UINT64_MAX;
	return l->signals  ? l->looked_at + LOOK_MS
	       : l->counts ? l->looked_at + IDLE_MS
	                   : UINT64_MAX;
}

static void tell(const struct stream_counts *c, struct fault *f)
{
	/* What was marked and not counted: parity, most likely. */
	uint32_t more = (uint32_t)stream_counts_wrong(c) - c->frame - c->parity;
	const struct {
		uint32_t n;
		const char *what;
	} all[] = {{c->frame, "framing"}, {c->parity + more, "parity"}, {c->overrun, "overrun"},
	    {c->brk, "break"}};
	const char *before = "; the port counted ";

	for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
		if (!all[i].n)
			continue;
		fault_add(f, "%s%u %s", before, all[i].n, all[i].what);
		before = ", ";
	}
}

void serial_lines_tell(const struct stream *s, struct fault *f)
{
	struct stream_counts c;

	if (stream_counts(s, &c))
		tell(&c, f);
}

int serial_lines_heard(struct serial_work *w, uint32_t i, const struct serial_receive_outcome *o)
{
	const char *channel = w->job->order->item[i].channel;
	const struct stream *s = w->stream[i];
	struct fault *f = &w->job->fault;
	struct stream_counts c;

	if (f->error != CARRY_ERROR_NONE)
		return 0;
	if (s->port && o->state == SERIAL_RECEIVE_FAILED && o->reason == SERIAL_RECEIVE_LOST)
		return fault_set(f, CARRY_ERROR_UNPLUGGED, i,
		    "channel %s, after %llu characters: %s was unplugged", channel,
		    (unsigned long long)o->raw_size, s->name);
	if (o->state != SERIAL_RECEIVE_DONE || !stream_counts(s, &c))
		return 0;
	stream_counts_less(&c, &w->before[serial_first(w, i)]);
	if (!stream_counts_all(&c))
		return 0;
	if (c.brk)
		fault_set(f, CARRY_ERROR_BREAK, i,
		    "channel %s: a break came in the middle of what the control punched", channel);
	else if (stream_counts_wrong(&c) > o->raw_size / 4)
		fault_set(f, CARRY_ERROR_FRAMING, i,
		    "channel %s: the port read most characters as wrong; compare 'baud' and "
		    "'framing' with the control's",
		    channel);
	else
		fault_set(f, CARRY_ERROR_DAMAGED, i,
		    "channel %s: characters were damaged or lost on the line; punch again, and "
		    "check cable and flow control",
		    channel);
	tell(&c, f);
	return -1;
}
