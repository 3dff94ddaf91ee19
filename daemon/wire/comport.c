#include "comport.h"

#include <stdlib.h>
#include <string.h>
#include "comport_words.h"
#include "telnet.h"

enum {
	SAID_MAX = 63,
	DATA_ROOM = 1024, /* of what waits to be sent: the rest is kept for questions and answers */
	PURGE_BOTH = 3,
	MODEM_ALL = 255,
	MASK_MS = 1000, /* most for an answer that may be left out */
};

/* What is asked, one after the other. A step that has nothing to ask is passed over. */
enum step {
	SET_BAUD = 0,
	SET_SIZE,
	SET_PARITY,
	SET_STOP,
	SET_FLOW,
	SET_DTR,
	SET_RTS,
	/* All once more: setting one may have changed another. */
	READ_BAUD,
	READ_SIZE,
	READ_PARITY,
	READ_STOP,
	READ_FLOW,
	LINE_MASK,
	MODEM_MASK,
	PURGE,
	STEPS,
	/* When open. */
	ALIVE,
};

struct question {
	uint8_t command;
	uint32_t send, want; /* send: what goes out, want: the right answer */
	bool may;            /* another answer, or none, is noted and no failure */
};

struct comport {
	struct telnet t;
	struct comport_settings s;
	enum comport_state state;
	enum comport_reason reason;
	enum step step;
	bool asking;   /* a question of step is out */
	bool again;    /* its answer was wrong, and it was asked for once more */
	bool answered; /* the server took or refused some option: it speaks telnet */
	uint64_t asked_at, heard_at;
	struct comport_outcome o;
	char said[SAID_MAX + 1];
	size_t said_n;
};

struct comport_settings comport_settings_of(const struct line_serial *line)
{
	struct comport_settings s = {
	    .baud = line->baud,
	    .size = 8,
	    .parity = COMPORT_NONE,
	    .stop = 1,
	    .flow = COMPORT_FLOW_NONE,
	    .answer_ms = 3000,
	    .silence_ms = 3000,
	};

	if (line->flow == LINE_FLOW_RTSCTS || line->flow == LINE_FLOW_BOTH)
		s.flow = COMPORT_FLOW_HARDWARE;
	if (line->flow == LINE_FLOW_DTRDSR)
		s.flow = COMPORT_FLOW_DSR;
	switch (line->framing) {
	case LINE_7E1:
	case LINE_7E2:
		s.size = 7;
		s.parity = COMPORT_EVEN;
		s.stop = line->framing == LINE_7E2 ? 2 : 1;
		break;
	case LINE_7O1:
		s.size = 7;
		s.parity = COMPORT_ODD;
		break;
	case LINE_8N2:
		s.stop = 2;
		break;
	case LINE_8E1:
		s.parity = COMPORT_EVEN;
		break;
	case LINE_8N1:
		break;
	}
	return s;
}

/* False: this step has nothing to ask. */
static bool question_of(const struct comport *c, enum step step, struct question *q)
{
	const struct comport_settings *s = &c->s;
	const struct question all[] = {
	    [SET_BAUD] = {COMPORT_SET_BAUDRATE, s->baud, s->baud, false},
	    [SET_SIZE] = {COMPORT_SET_DATASIZE, s->size, s->size, false},
	    [SET_PARITY] = {COMPORT_SET_PARITY, s->parity, s->parity, false},
	    [SET_STOP] = {COMPORT_SET_STOPSIZE, s->stop, s->stop, false},
	    [SET_FLOW] = {COMPORT_SET_CONTROL, s->flow, s->flow, false},
	    [SET_DTR] = {COMPORT_SET_CONTROL, s->dtr, s->dtr, false},
	    [SET_RTS] = {COMPORT_SET_CONTROL, s->rts, s->rts, false},
	    [READ_BAUD] = {COMPORT_SET_BAUDRATE, 0, s->baud, false},
	    [READ_SIZE] = {COMPORT_SET_DATASIZE, 0, s->size, false},
	    [READ_PARITY] = {COMPORT_SET_PARITY, 0, s->parity, false},
	    [READ_STOP] = {COMPORT_SET_STOPSIZE, 0, s->stop, false},
	    [READ_FLOW] = {COMPORT_SET_CONTROL, COMPORT_FLOW_ASK, s->flow, false},
	    [LINE_MASK] = {COMPORT_SET_LINESTATE_MASK, COMPORT_LINE_ERRORS, COMPORT_LINE_ERRORS,
	        true},
	    [MODEM_MASK] = {COMPORT_SET_MODEMSTATE_MASK, MODEM_ALL, MODEM_ALL, true},
	    [PURGE] = {COMPORT_PURGE_DATA, PURGE_BOTH, PURGE_BOTH, false},
	    [ALIVE] = {COMPORT_SET_BAUDRATE, 0, s->baud, false},
	};

	*q = all[step];
	return !(step == SET_DTR && !s->dtr) && !(step == SET_RTS && !s->rts);
}

static void fail(struct comport *c, enum comport_reason reason)
{
	if (c->state == COMPORT_FAILED)
		return;
	c->state = COMPORT_FAILED;
	c->reason = reason;
	c->asking = false;
}

static void say(struct comport *c, uint64_t now, uint8_t command, uint32_t value)
{
	uint8_t wide[] = {TELNET_COM_PORT, command, (uint8_t)(value >> 24), (uint8_t)(value >> 16),
	    (uint8_t)(value >> 8), (uint8_t)value};
	uint8_t narrow[] = {TELNET_COM_PORT, command, (uint8_t)value};

	c->asking = true;
	c->asked_at = now;
	if (!(command == COMPORT_SET_BAUDRATE ? telnet_put_sub(&c->t, wide, sizeof wide)
	                                      : telnet_put_sub(&c->t, narrow, sizeof narrow)))
		fail(c, COMPORT_ENDLESS);
}

/* Ask the question of c->step, or the next one that there is; after the last the port is open. */
static void ask(struct comport *c, uint64_t now)
{
	struct question q;

	while (c->step < STEPS && !question_of(c, c->step, &q))
		c->step++;
	c->again = false;
	c->asking = false;
	if (c->step == STEPS) {
		c->state = COMPORT_OPEN;
		c->step = ALIVE;
		return;
	}
	say(c, now, q.command, q.send);
}

static void next(struct comport *c, uint64_t now)
{
	c->step++;
	ask(c, now);
}

struct comport *comport_new(const struct comport_settings *settings, uint64_t now)
{
	struct comport *c = calloc(1, sizeof *c);

	if (!c)
		return NULL;
	c->s = *settings;
	c->asked_at = c->heard_at = now;
	telnet_init(&c->t);
	telnet_may(&c->t, TELNET_BINARY, true, true);
	telnet_may(&c->t, TELNET_SGA, true, true);
	telnet_may(&c->t, TELNET_COM_PORT, true, false);
	telnet_ask(&c->t, TELNET_COM_PORT, true);
	telnet_ask(&c->t, TELNET_BINARY, true);
	telnet_ask(&c->t, TELNET_BINARY, false);
	return c;
}

void comport_free(struct comport *c)
{
	free(c);
}

static void option(struct comport *c, uint64_t now, enum telnet_event event)
{
	const struct telnet *t = &c->t;

	c->answered = true;
	if (event == TELNET_REFUSED && t->option == TELNET_COM_PORT && t->ours)
		fail(c, COMPORT_REFUSED);
	else if (event == TELNET_REFUSED && t->option == TELNET_BINARY)
		fail(c, COMPORT_NO_BINARY);
	else if (c->state == COMPORT_AGREEING && t->us[TELNET_COM_PORT] == TELNET_ON &&
	         t->us[TELNET_BINARY] == TELNET_ON && t->him[TELNET_BINARY] == TELNET_ON) {
		c->state = COMPORT_SETTING;
		ask(c, now);
	} else if (c->state == COMPORT_AGREEING) {
		c->asked_at = now;
	}
}

/* Values of SET-CONTROL that answer one another: flow, DTR, RTS. Others are told for other reasons.
 */
static unsigned family(uint32_t control)
{
	switch (control) {
	case COMPORT_FLOW_NONE:
	case COMPORT_FLOW_XON:
	case COMPORT_FLOW_HARDWARE:
	case COMPORT_FLOW_DCD:
	case COMPORT_FLOW_DSR:
		return 1;
	case COMPORT_DTR_ON:
	case COMPORT_DTR_OFF:
		return 2;
	case COMPORT_RTS_ON:
	case COMPORT_RTS_OFF:
		return 3;
	default:
		return 0;
	}
}

static void wrong(struct comport *c, const struct question *q, uint32_t value)
{
	c->o.command = q->command;
	c->o.asked = q->want;
	c->o.answered = value;
}

/* The value that question q asks for is told, asked or not. */
static void judge(struct comport *c, uint64_t now, const struct question *q, uint32_t value)
{
	if (value == q->want || q->may) {
		next(c, now);
		return;
	}
	wrong(c, q, value);
	/* It may have been the state before our wish, told by itself: ask once more. Emptying has
	 * no state to ask for. */
	if (!c->again && q->command != COMPORT_PURGE_DATA &&
	    !(q->command == COMPORT_SET_CONTROL && family(q->want) != 1)) {
		say(c, now, q->command, 0);
		c->again = true;
		return;
	}
	fail(c, COMPORT_DIFFERS);
}

/* A value of a port that is open: an answer to "are you there", or told because it changed. */
static void judge_open(struct comport *c, uint8_t command, uint32_t value)
{
	struct question q;

	if (command == COMPORT_SET_BAUDRATE)
		c->asking = false;
	for (enum step s = READ_BAUD; s <= READ_FLOW; s++) {
		question_of(c, s, &q);
		if (q.command != command || value == q.want ||
		    (command == COMPORT_SET_CONTROL && family(value) != 1))
			continue;
		wrong(c, &q, value);
		fail(c, COMPORT_CHANGED);
	}
}

static void value_told(struct comport *c, uint64_t now, uint8_t command, uint32_t value)
{
	struct question q;

	if (command == COMPORT_SET_LINESTATE_MASK)
		c->o.line_mask = value & COMPORT_LINE_ERRORS;
	if (command == COMPORT_SET_MODEMSTATE_MASK)
		c->o.modem_mask = (uint8_t)value;
	if (c->state == COMPORT_OPEN) {
		judge_open(c, command, value);
	} else if (c->state == COMPORT_SETTING && c->asking) {
		question_of(c, c->step, &q);
		if (q.command == command &&
		    (command != COMPORT_SET_CONTROL || family(value) == family(q.want)))
			judge(c, now, &q, value);
	}
}

/* Some servers answer a mask with the state that it is about, and not with the mask. */
static void notified(struct comport *c, uint64_t now, enum step step)
{
	if (c->state == COMPORT_SETTING && c->asking && c->step == step)
		next(c, now);
}

static void line_state(struct comport *c, uint64_t now, uint8_t bits)
{
	if (c->state == COMPORT_OPEN) {
		c->o.overrun += (bits & COMPORT_LINE_OVERRUN) != 0;
		c->o.parity += (bits & COMPORT_LINE_PARITY) != 0;
		c->o.framing += (bits & COMPORT_LINE_FRAMING) != 0;
		c->o.brk += (bits & COMPORT_LINE_BREAK) != 0;
	}
	notified(c, now, LINE_MASK);
}

static void modem_state(struct comport *c, uint64_t now, uint8_t bits)
{
	c->o.modem = bits;
	c->o.modem_known = true;
	notified(c, now, MODEM_MASK);
}

/* A server that asks who we are is told once more each time, within the bounds of all answers. */
static void signature(struct comport *c)
{
	static const uint8_t name[] = {TELNET_COM_PORT, COMPORT_SIGNATURE, 'y', 'o', 'k', 'e'};

	if (c->t.answers++ >= TELNET_ANSWERS || !telnet_put_sub(&c->t, name, sizeof name))
		fail(c, COMPORT_ENDLESS);
}

static void suboption(struct comport *c, uint64_t now)
{
	const uint8_t *sub = c->t.sub;
	size_t n = c->t.sub_n;
	uint8_t command;

	/* Before both have agreed nothing of it may be said. */
	if (c->state == COMPORT_AGREEING || n < 2 || sub[0] != TELNET_COM_PORT ||
	    sub[1] < COMPORT_ANSWER)
		return;
	command = (uint8_t)(sub[1] - COMPORT_ANSWER);
	if (command == COMPORT_SIGNATURE && n == 2)
		signature(c);
	else if (command == COMPORT_FLOWCONTROL_SUSPEND && n == 2)
		c->o.suspended = true;
	else if (command == COMPORT_FLOWCONTROL_RESUME && n == 2)
		c->o.suspended = false;
	else if (command == COMPORT_SET_BAUDRATE && n == 6)
		value_told(c, now, command,
		    (uint32_t)sub[2] << 24 | (uint32_t)sub[3] << 16 | (uint32_t)sub[4] << 8 |
		        sub[5]);
	else if (command == COMPORT_NOTIFY_LINESTATE && n == 3)
		line_state(c, now, sub[2]);
	else if (command == COMPORT_NOTIFY_MODEMSTATE && n == 3)
		modem_state(c, now, sub[2]);
	else if (command != COMPORT_SET_BAUDRATE && command <= COMPORT_PURGE_DATA && n == 3)
		value_told(c, now, command, sub[2]);
}

/* What a server says in words, such as that the port is in use. */
static void overhear(struct comport *c, const uint8_t *bytes, size_t n)
{
	for (size_t i = 0; i < n && c->said_n < SAID_MAX; i++)
		if (bytes[i] >= 0x20 && bytes[i] < 0x7f)
			c->said[c->said_n++] = (char)bytes[i];
}

size_t comport_feed(struct comport *c, uint64_t now, const void *in, size_t n, void *data)
{
	const uint8_t *at = in;
	uint8_t *out = data;
	size_t got = 0;

	if (n > 0)
		c->heard_at = now;
	while (n > 0 && c->state != COMPORT_FAILED) {
		enum telnet_event event;
		size_t before = got, used = telnet_feed(&c->t, at, n, out, &got, &event);

		at += used;
		n -= used;
		if (c->state != COMPORT_OPEN) {
			overhear(c, out + before, got - before);
			got = before;
		}
		if (event == TELNET_AGREED || event == TELNET_REFUSED)
			option(c, now, event);
		if (event == TELNET_SUBOPTION)
			suboption(c, now);
		if (c->t.broken)
			fail(c, COMPORT_ENDLESS);
	}
	return got;
}

/* When the answer that we wait for is overdue. */
static uint64_t overdue(const struct comport *c)
{
	uint64_t from = c->asked_at;

	/* A mask may stay unanswered: the port works without. */
	if (c->state == COMPORT_SETTING && (c->step == LINE_MASK || c->step == MODEM_MASK) &&
	    c->s.answer_ms > MASK_MS)
		return from + MASK_MS;
	/* A server that speaks is there. */
	if (c->state == COMPORT_OPEN && c->heard_at > from)
		from = c->heard_at;
	return from + c->s.answer_ms;
}

uint64_t comport_deadline(const struct comport *c)
{
	if (c->state == COMPORT_FAILED)
		return COMPORT_NEVER;
	if (c->state != COMPORT_OPEN || c->asking)
		return overdue(c);
	return c->s.silence_ms ? c->heard_at + c->s.silence_ms : COMPORT_NEVER;
}

static void no_answer(struct comport *c, uint64_t now)
{
	struct question q;

	if (c->state == COMPORT_AGREEING) {
		fail(c, !c->answered                            ? COMPORT_NO_TELNET
		        : c->t.us[TELNET_COM_PORT] != TELNET_ON ? COMPORT_REFUSED
		                                                : COMPORT_NO_BINARY);
		return;
	}
	if (c->state == COMPORT_OPEN) {
		fail(c, COMPORT_GONE);
		return;
	}
	question_of(c, c->step, &q);
	if (q.may) {
		next(c, now);
		return;
	}
	if (!c->again)
		wrong(c, &q, 0);
	fail(c, c->again ? COMPORT_DIFFERS : COMPORT_NO_ANSWER);
}

void comport_tick(struct comport *c, uint64_t now)
{
	if (now < comport_deadline(c))
		return;
	if (c->state == COMPORT_OPEN && !c->asking)
		say(c, now, COMPORT_SET_BAUDRATE, 0);
	else if (c->state != COMPORT_FAILED)
		no_answer(c, now);
}

size_t comport_write(struct comport *c, const void *bytes, size_t n)
{
	if (c->state != COMPORT_OPEN || c->o.suspended)
		return 0;
	return telnet_put(&c->t, bytes, n, DATA_ROOM);
}

const uint8_t *comport_pending(const struct comport *c, size_t *n)
{
	*n = c->state == COMPORT_FAILED ? 0 : c->t.out_n;
	return c->t.out;
}

void comport_gone(struct comport *c, size_t n)
{
	telnet_gone(&c->t, n);
}

void comport_waits(struct comport *c, uint64_t now)
{
	if (c->state == COMPORT_OPEN && c->asking)
		c->asked_at = now;
}

void comport_outcome(const struct comport *c, struct comport_outcome *o)
{
	*o = c->o;
	o->state = c->state;
	o->reason = c->reason;
	o->said = c->said;
}

void comport_says(const struct comport *c, char *text, size_t size)
{
	struct comport_outcome o;

	comport_outcome(c, &o);
	comport_words(&o, c->s.answer_ms, text, size);
}
