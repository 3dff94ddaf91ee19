/*
 *   wait --DC1--> ask for the step --granted--> send, hold, drain --> done
 *     |                 |                            |
 *     +---- nothing left us: the channel is old -----+-- a part left us: a stump, or unknown
 *
 * The step is asked for when the control is ready, just before the first character: waiting for an
 * operator changes nothing on the machine.
 *
 * A drip feed goes the same way. The control executes what it reads and stores nothing: what it
 * holds is old at every end, and what matters is how far it may have come.
 */
#include <poll.h>
#include <string.h>
#include "iso.h"
#include "serial_lines.h"
#include "serial_send.h"
#include "serial_talk.h"
#include "serial_work.h"

enum {
	CHUNK = 256,
	/*
	 * A DC1 soon after a program may only go on with that program's end: the control had
	 * stopped us with DC3, had all of it by then, and empties its buffer. It counts as a
	 * request when no DC3 follows for this long. ms, common practice.
	 */
	SETTLE_MS = 2000,
};

struct load {
	struct serial_work *w;
	uint32_t i;
	bool drip;
	struct line_serial line; /* as this order speaks it */
	struct stream *s;
	struct serial_ear *ear;
	struct serial_code code;
	struct serial_lines lines;
	struct serial_send *m;
	uint64_t
	    body; /* program bytes up to its closing %: what follows is no loss to the control */
	bool granted, lost;
	bool tail_word;             /* the control spoke when the program's body was out */
	struct serial_receive *own; /* a copy that was begun to be punched after that */
	uint64_t first_at;
	struct stream_counts before; /* errors before the load */
	uint64_t below;            /* the last count of the kernel's, and what it got since */
	uint32_t repeats;          /* of the connection, when that was 0 */
	unsigned char rest[CHUNK]; /* taken from the machine, not yet taken by the line */
	size_t rest_at, rest_n;
	struct fault why;         /* the line could not be opened again */
	struct serial_talk said;  /* before anything was sent */
	struct serial_talk alarm; /* while the program went */
	struct serial_talk last;  /* the same, with all of it out; or what stands before a copy */
};

/*
 * The character that the control said. 13 hex is a DC3 of a control that leaves out the parity, but
 * the digit 3 of EIA inside a copy.
 */
static unsigned char heard(
    const struct load *l, const struct serial_receive *copy, unsigned char byte)
{
	return byte == ISO_DC3 && !copy ? ISO_DC3 : serial_code_character(&l->code, byte);
}

/* Let the ear decide about a DC1 while we wait. True when the byte is not for the machine, not yet.
 */
static bool withhold(struct load *l, unsigned char byte)
{
	unsigned char c = heard(l, l->w->copy[serial_first(l->w, l->i)], byte);

	if (c != ISO_DC1 && c != ISO_DC3)
		return false;
	/* A DC3 of a control that has its program already: it still empties its buffer. */
	if (c == ISO_DC3 && l->w->sent[serial_first(l->w, l->i)])
		l->ear->gap = true;
	if (!l->ear->gap)
		return false;
	l->ear->asked = c == ISO_DC1;
	l->ear->asked_at = parent_now();
	return true;
}

/*
 * A copy may be punched while we wait for the next request, or while our last characters still
 * leave the line: it begins with %, or has begun.
 */
static void listen_aside(struct load *l, struct serial_receive **copy, unsigned char byte)
{
	unsigned char c = heard(l, *copy, byte);

	if (l->line.read_back != LINE_READ_BACK_PUNCH)
		return;
	if (!*copy && c == '%')
		*copy = serial_listen(l->w, l->i);
	if (*copy && c != ISO_DC1 && c != ISO_DC3)
		serial_receive_feed(*copy, parent_now(), &byte, 1);
}

static void hear_tail(struct load *l, unsigned char c)
{
	if (c != ISO_DC1 && c != ISO_DC3)
		return;
	l->tail_word = true;
	l->ear->asked = c == ISO_DC1;
	l->ear->asked_at = parent_now();
}

/* What it says while it reads, beside DC1 and DC3: an alarm in clear text, or noise. */
static void hear_unasked(struct load *l, struct serial_talk *t, unsigned char c)
{
	serial_talk_hear(t, c);
	l->w->unasked[l->i] += !iso_is_filler(c) && c != ISO_LF && c != ISO_CR;
}

/* A copy is being punched, and not yet at its end: a DC1 in it is a damaged character. */
static bool in_a_copy(const struct load *l)
{
	const struct serial_receive *copy = l->w->copy[serial_first(l->w, l->i)];
	struct serial_receive_outcome o = {0};

	if (copy)
		serial_receive_outcome(copy, &o);
	return o.state == SERIAL_RECEIVE_BODY;
}

static void feed(struct load *l, const unsigned char *b, size_t n)
{
	uint32_t line = serial_first(l->w, l->i);
	struct serial_send_outcome o;

	for (size_t k = 0; k < n; k++) {
		serial_send_outcome(l->m, &o);
		if (o.state == SERIAL_SEND_WAITING && in_a_copy(l)) {
			serial_receive_feed(l->w->copy[line], parent_now(), &b[k], 1);
			continue;
		}
		if (o.state == SERIAL_SEND_WAITING && withhold(l, b[k]))
			continue;
		if (o.state == SERIAL_SEND_WAITING) {
			serial_talk_hear(&l->said, b[k]);
			if (l->w->sent[line])
				listen_aside(l, &l->w->copy[line], b[k]);
		} else if (o.bytes >= l->body) {
			hear_tail(l, heard(l, l->own, b[k]));
			listen_aside(l, &l->own, b[k]);
			if (!l->own)
				hear_unasked(l, &l->last, heard(l, NULL, b[k]));
			if (l->own && l->code.kind == LINE_CODE_EIA && b[k] == ISO_DC3)
				continue;
		} else if (o.characters > 0) {
			hear_unasked(l, &l->alarm, heard(l, NULL, b[k]));
		}
		serial_send_feed(l->m, parent_now(), &b[k], 1);
	}
}

/* Give the line what it takes of what was taken from the machine. */
static void give_rest(struct load *l)
{
	while (l->rest_at < l->rest_n) {
		int n = stream_write(l->s, l->rest + l->rest_at, l->rest_n - l->rest_at);

		if (n <= 0) {
			l->lost |= n < 0;
			return;
		}
		l->rest_at += (size_t)n;
		l->below += (uint64_t)n;
	}
}

/* Give the line what may go now. */
static void give(struct load *l, uint64_t now)
{
	do {
		give_rest(l);
		if (l->rest_at < l->rest_n)
			return;
		l->rest_n = serial_send_take(l->m, l->rest, sizeof l->rest, now);
		l->rest_at = 0;
		if (l->rest_n && !l->first_at)
			l->first_at = now;
	} while (l->rest_n && stream_at_once(l->s));
}

static void show(struct load *l, uint64_t now)
{
	static const enum carry_phase load[] = {
	    [SERIAL_SEND_WAITING] = CARRY_PHASE_WAIT,
	    [SERIAL_SEND_SENDING] = CARRY_PHASE_SEND,
	    [SERIAL_SEND_HELD] = CARRY_PHASE_HELD,
	    [SERIAL_SEND_DRAINING] = CARRY_PHASE_DRAIN,
	    [SERIAL_SEND_DONE] = CARRY_PHASE_DRAIN,
	    [SERIAL_SEND_FAILED] = CARRY_PHASE_DRAIN,
	};
	static const enum carry_phase drip[] = {
	    [SERIAL_SEND_WAITING] = CARRY_PHASE_FEED_WAIT,
	    [SERIAL_SEND_SENDING] = CARRY_PHASE_FEED,
	    [SERIAL_SEND_HELD] = CARRY_PHASE_FEED_HELD,
	    [SERIAL_SEND_DRAINING] = CARRY_PHASE_DRAIN,
	    [SERIAL_SEND_DONE] = CARRY_PHASE_DRAIN,
	    [SERIAL_SEND_FAILED] = CARRY_PHASE_DRAIN,
	};
	struct serial_send_progress p;
	struct carry_progress at;

	serial_send_progress(l->m, now, &p);
	at = (struct carry_progress){l->i, (l->drip ? drip : load)[p.state], p.bytes, p.total,
	    p.block, p.left_ms};
	/* How long a control cuts at what it has, nobody knows. */
	if (p.state == SERIAL_SEND_WAITING || (l->drip && p.state == SERIAL_SEND_HELD))
		at.left_ms = UINT64_MAX;
	parent_progress(l->w->job->parent, &at);
}

static uint64_t earlier(uint64_t a, uint64_t b)
{
	return a < b ? a : b;
}

/* Milliseconds until the machine or the ear wants to be called. */
static uint64_t patience(const struct load *l, const struct serial_send_outcome *o, uint64_t now)
{
	const struct serial_receive *copy = l->w->copy[serial_first(l->w, l->i)];
	uint64_t until = serial_send_deadline(l->m);

	until = earlier(until, stream_deadline(l->s));
	if (copy)
		until = earlier(until, serial_receive_deadline(copy));
	until = earlier(until, serial_lines_next(&l->lines, o->state));
	if (o->state == SERIAL_SEND_WAITING && l->ear->asked)
		until = earlier(until, l->ear->asked_at + SETTLE_MS);
	if (until <= now)
		return 0;
	return until - now < CARRY_HEARTBEAT_MS ? until - now : CARRY_HEARTBEAT_MS;
}

/*
 * Nothing has left us and no copy is on its way: a connection that was lost is made anew, since an
 * operator may take an hour to the reader and device servers hang up on silent ones. Never in the
 * middle.
 */
static bool found_again(struct load *l)
{
	struct serial_send_outcome o;

	serial_send_outcome(l->m, &o);
	if (o.state != SERIAL_SEND_WAITING || l->w->copy[serial_first(l->w, l->i)] ||
	    !serial_again(l->w, l->i, &l->why))
		return false;
	l->said = (struct serial_talk){0};
	l->ear->asked = false;
	return true;
}

/*
 * So many characters lie in the kernel. Those of a connection were on their way until now, and the
 * server may not have sent one of them yet: that counts at the end, and before it where the network
 * stood still: else a server may have had them for long, and was slow to say so.
 */
static void count_below(struct load *l, uint64_t below, uint64_t now)
{
	bool fewer = l->s->socket && below < l->below;
	uint32_t repeats = fewer ? stream_repeats(l->s) : l->repeats;
	struct serial_send_outcome o;

	serial_send_outcome(l->m, &o);
	if (fewer && (o.state == SERIAL_SEND_DRAINING || l->repeats != repeats))
		serial_send_arrived(l->m, now, l->below);
	if (below == 0)
		l->repeats = repeats;
	l->below = below;
	if (below == 0 && stream_has_sent(l->s))
		serial_send_left(l->m, now);
	below += l->rest_n - l->rest_at;
	if (l->s->socket)
		serial_send_unacknowledged(l->m, now, below);
	else
		serial_send_queued(l->m, now, below);
}

/* Tell the machine what lies below us, what the port says, and the time. */
static void attend(struct load *l, uint64_t now)
{
	struct serial_receive *copy = l->w->copy[serial_first(l->w, l->i)];
	long below = stream_queued(l->s);

	if (below >= 0)
		count_below(l, (uint64_t)below, now);
	if (copy)
		serial_receive_tick(copy, now);
	serial_lines_look(&l->lines, l->s, l->m, now);
	serial_send_tick(l->m, now);
}

/*
 * One turn: ask for the step, wait, read, write. What came is heard before anything is written.
 * False when the machine is done.
 */
static bool turn(struct load *l)
{
	struct parent *p = l->w->job->parent;
	struct serial_send_outcome o;
	unsigned char in[CHUNK], dc1 = ISO_DC1;
	uint64_t now = parent_now();
	bool ready;
	int came, n;

	serial_send_outcome(l->m, &o);
	if (o.state == SERIAL_SEND_WAITING && l->ear->asked &&
	    now >= l->ear->asked_at + SETTLE_MS) {
		l->ear->gap = l->ear->asked = false;
		serial_send_feed(l->m, now, &dc1, 1);
		return true;
	}
	show(l, now);
	if (o.state == SERIAL_SEND_DONE || o.state == SERIAL_SEND_FAILED)
		return false;
	if (o.state != SERIAL_SEND_WAITING && !l->granted) {
		l->granted =
		    parent_step(p, l->drip ? CARRY_STEP_FEED : CARRY_STEP_TRANSMIT, l->i);
		if (!l->granted)
			serial_send_cancel(l->m, parent_now());
		return l->granted;
	}
	ready = l->rest_at < l->rest_n || serial_send_ready(l->m, now) > 0;
	l->lost |= !stream_tick(l->s);
	came = l->lost ? -1
	               : parent_wait(p, l->s->fd, stream_events(l->s, ready), patience(l, &o, now));
	now = parent_now();
	if (parent_stopping(p)) {
		serial_send_cancel(l->m, now);
		return false;
	}
	/* What is counted from here on may be of a copy that begins with these characters. */
	if (!l->w->copy[serial_first(l->w, l->i)] && !l->own)
		stream_counts(l->s, &l->w->before[serial_first(l->w, l->i)]);
	n = came < 0 ? -1 : stream_read(l->s, (short)came, in, sizeof in);
	if (n > 0)
		feed(l, in, (size_t)n);
	l->lost |= n < 0;
	if (!l->lost) {
		attend(l, now);
		if (l->granted && ((came & POLLOUT) || stream_at_once(l->s)))
			give(l, now);
	}
	if (!l->lost)
		return true;
	l->lost = !found_again(l);
	if (!l->lost)
		return true;
	if (parent_stopping(p))
		serial_send_cancel(l->m, parent_now());
	else if (l->s->port)
		serial_send_unplugged(l->m, parent_now());
	else
		serial_send_lost(l->m, parent_now());
	return false;
}

static enum carry_error error_of(enum serial_send_reason r)
{
	switch (r) {
	case SERIAL_SEND_STALL:
		return CARRY_ERROR_STALL;
	case SERIAL_SEND_NO_DC1:
		return CARRY_ERROR_NO_START;
	case SERIAL_SEND_LOST:
		return CARRY_ERROR_LOST;
	case SERIAL_SEND_UNPLUGGED:
		return CARRY_ERROR_UNPLUGGED;
	case SERIAL_SEND_DROPPED:
		return CARRY_ERROR_DROPPED;
	case SERIAL_SEND_BREAK:
		return CARRY_ERROR_BREAK;
	case SERIAL_SEND_CANCELLED:
		return CARRY_ERROR_CANCELLED;
	case SERIAL_SEND_TOTAL:
		return CARRY_ERROR_TIME;
	case SERIAL_SEND_OK:
		break;
	}
	return CARRY_ERROR_NONE;
}

/* The line was lost before anything was sent; why: what the stream knows. */
static int lost_before(struct load *l, enum serial_send_reason reason, const char *why)
{
	struct fault *f = &l->w->job->fault;
	const char *channel = l->w->job->order->item[l->i].channel;

	if (reason == SERIAL_SEND_UNPLUGGED)
		return fault_set(f, CARRY_ERROR_OFFLINE, l->i,
		    "channel %s: %s was unplugged before anything was sent", channel, l->s->name);
	if (l->why.error)
		return fault_set(f, l->why.error, l->i,
		    "channel %s: the line was lost before anything was sent, and could not be "
		    "opened again: %s",
		    channel, l->why.text);
	if (*why)
		return fault_set(
		    f, CARRY_ERROR_OFFLINE, l->i, "channel %s: nothing was sent: %s", channel, why);
	return fault_set(f, CARRY_ERROR_OFFLINE, l->i,
	    "channel %s: the line was closed before anything was sent%s%s%s; is the device "
	    "server's port in use?",
	    channel, l->said.n ? ", it said '" : "", l->said.text, l->said.n ? "'" : "");
}

/* All of it left us. */
static int result_done(struct load *l, struct carry_channel *c)
{
	struct job *j = l->w->job;
	const char *channel = j->order->item[l->i].channel;

	if (serial_talk_is_text(&l->alarm)) {
		/* It reads no more, or stored something else: only its screen tells. */
		c->held = l->drip ? CARRY_HELD_OLD : CARRY_HELD_UNKNOWN;
		return fault_set(&j->fault, CARRY_ERROR_ALARM, l->i,
		    "channel %s: all of the program left us, but while it went the control said "
		    "'%s'; look at its screen%s",
		    channel, l->alarm.text,
		    l->drip ? "" : ", delete what it stored, and send again");
	}
	c->held = l->drip ? CARRY_HELD_OLD : CARRY_HELD_NEW;
	l->w->sent[l->i] = true;
	return 0;
}

/* What the control holds when a part of a program left us, or none of it. */
static enum carry_held held_of(const struct load *l, const struct serial_send_outcome *o)
{
	if (l->drip || o->characters == 0)
		return CARRY_HELD_OLD;
	return o->bytes < o->total ? CARRY_HELD_STUMP : CARRY_HELD_UNKNOWN;
}

/* Errors that the port counted while the program went. */
static uint32_t errors_of(const struct load *l)
{
	struct stream_counts now;

	stream_counts(l->s, &now);
	stream_counts_less(&now, &l->before);
	return (uint32_t)stream_counts_all(&now);
}

static int result(struct load *l)
{
	struct job *j = l->w->job;
	struct carry_channel *c = &j->channel[l->i];
	struct serial_send_outcome o;
	char why[200];

	serial_send_outcome(l->m, &o);
	c->bytes = o.bytes;
	c->block = o.block;
	c->after_dc3 = o.after_dc3;
	c->held_ms = o.held_ms;
	c->line_ms = l->first_at ? parent_now() - l->first_at : 0;
	c->has_sha = 0;
	l->w->unasked[l->i] += errors_of(l);
	/* Behind the last block also a copy may come that nobody asked for: it begins with %. */
	if (!l->own && !serial_talk_is_text(&l->alarm) && *l->last.text != '%')
		l->alarm = l->last;
	l->ear->gap = o.held || l->tail_word;
	if (!l->tail_word)
		l->ear->asked = false;
	if (o.state == SERIAL_SEND_DONE)
		return result_done(l, c);
	stream_says(l->s, why, sizeof why);
	if (o.characters == 0 &&
	    (o.reason == SERIAL_SEND_LOST || o.reason == SERIAL_SEND_UNPLUGGED)) {
		c->held = CARRY_HELD_OLD;
		return lost_before(l, o.reason, why);
	}
	c->held = held_of(l, &o);
	fault_set(&j->fault, error_of(o.reason), l->i,
	    "channel %s, after %llu of %llu bytes, in block %llu: %s", j->order->item[l->i].channel,
	    (unsigned long long)o.bytes, (unsigned long long)o.total,
	    (unsigned long long)o.block + 1,
	    l->drip ? serial_send_happened(o.reason) : serial_send_says(o.reason));
	if (o.reason == SERIAL_SEND_LOST && *why)
		fault_add(&j->fault, " (%s)", why);
	if (serial_talk_is_text(&l->alarm))
		fault_add(&j->fault, "; the control said '%s'", l->alarm.text);
	serial_lines_tell(l->s, &j->fault);
	return -1;
}

/* Bytes from the program's first character to its closing %, or all. */
static uint64_t body_of(const unsigned char *program, size_t size)
{
	const unsigned char *end = memrchr(program, '%', size);
	size_t nuls = 0;

	while (nuls < size && !program[nuls])
		nuls++;
	return end && end > program + nuls ? (uint64_t)(end - program) + 1 - nuls : size - nuls;
}

/* A copy that was punched meanwhile is complete when it says so, or when the control goes on to the
 * next request. */
static int take_copy(struct load *l)
{
	struct serial_work *w = l->w;
	struct serial_receive **copy = &w->copy[serial_first(w, l->i)];
	struct serial_receive_outcome o;
	int rc = 0;

	if (*copy) {
		serial_receive_outcome(*copy, &o);
		if (o.state == SERIAL_RECEIVE_CLOSING)
			serial_receive_tick(
			    *copy, parent_now() + w->job->order->item[l->i].line.serial.silence_ms);
		rc = serial_compare_copy(w, l->i);
	}
	if (!*copy) {
		*copy = l->own;
		l->own = NULL;
	}
	return rc;
}

int serial_load(struct serial_work *w, uint32_t i)
{
	struct job *j = w->job;
	const struct carry_item *it = &j->order->item[i];
	struct serial_text_refusal no;
	struct load l = {.w = w,
	    .i = i,
	    .drip = j->order->act == CARRY_DRIP,
	    .line = it->line.serial,
	    .s = w->stream[i],
	    .ear = &w->ear[serial_first(w, i)]};
	int rc;

	l.line.patient = l.drip;
	if (l.drip)
		l.line.read_back = LINE_READ_BACK_NONE;
	if (serial_code_init(&l.code, &l.line))
		return fault_set(&j->fault, CARRY_ERROR_ORDER, i, "channel %s: %s", it->channel,
		    serial_text_says(SERIAL_TEXT_CODES));
	l.body = body_of(j->program[i], it->size);
	l.m = serial_send_new(&l.line, j->program[i], it->size, parent_now(), &no);
	if (!l.m)
		return fault_set(&j->fault, CARRY_ERROR_ORDER, i, "channel %s: %s", it->channel,
		    serial_text_says(no.fault));
	serial_lines_begin(&l.lines, &l.line, l.s);
	stream_counts(l.s, &l.before);
	l.repeats = stream_repeats(l.s);
	attend(&l, parent_now());
	while (turn(&l))
		;
	rc = result(&l);
	serial_send_free(l.m);
	if (!rc)
		rc = take_copy(&l);
	serial_receive_free(l.own);
	return rc;
}
