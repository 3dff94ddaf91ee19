/*
 * Each line for itself:
 *
 *   AWAY --opened--> QUIET --a character--> TEXT --its end--> QUIET
 *    ^                 |                      |
 *    +---- lost -------+----------------------+     after a pause that grows, opened again
 *
 * A DC1 soon after a text asks for the answer: the operator has set the control to read. It is told
 * in the outcome, so that whoever answers next need not ask the operator to press the key again.
 */
#include "listen.h"

#include <stdio.h>
#include <string.h>
#include "serial_came.h"
#include "serial_code.h"
#include "serial_work.h"

enum {
	CHUNK = 4096,
	TEXT_MAX = 64 * 1024 * 1024, /* bytes; what is longer is no program of a control */
	OPEN_MS = 2000,              /* for one try: the other lines wait meanwhile */
	PAUSE_FIRST_MS = 1000,
	PAUSE_MOST_MS = 10000, /* so long an adapter may be plugged in and not be noticed */
	CLOSED_MS = 1000,      /* silence after the closing % that ends a text; an operator waits */
	ASK_MS = 60000,        /* from a text to the DC1 that still belongs to it */
	RAW_MS = 60000,        /* between two damaged texts that are kept: noise has no end */
	STOP_MS = 30000,       /* for noise to its end, when stop was asked */
	STOP_TEXT_MS = 600000, /* for a text that began with %: while it comes the control reads nothing */
	STOP_TURN_MS = 1000,   /* between two looks at that */
};

struct post {
	uint32_t item; /* the first on this line */
	bool alone;    /* no other channel is on it */
	struct line_serial line;
	struct serial_code code;
	struct stream stream;
	bool open;
	unsigned failures; /* to open, in a row */
	uint64_t again_at;
	struct serial_receive *text; /* NULL: quiet */
	bool opened;                 /* it has its first % */
	uint64_t heard_at;           /* the last character of it */
	struct stream_counts before; /* errors of the port before it */
	uint64_t text_at;            /* when the last text was handed over; 0: never */
	uint64_t raw_at;
	bool asked;
};

struct listening {
	struct job *job;
	struct post post[YOKE_CHANNELS_MAX];
	unsigned posts;
	uint32_t phase;
};

static const char *channel_of(const struct listening *l, const struct post *p)
{
	return l->job->order->item[p->item].channel;
}

static int make_posts(struct listening *l)
{
	const struct carry_order *o = l->job->order;

	for (uint32_t i = 0; i < o->items; i++) {
		const struct line_serial *line = &o->item[i].line.serial;
		struct post *p = l->post;

		while (p < l->post + l->posts && strcmp(p->line.address, line->address))
			p++;
		if (p < l->post + l->posts) {
			p->alone = false;
			continue;
		}
		*p = (struct post){.item = i, .alone = true, .line = *line, .stream = {.fd = -1}};
		p->line.read_back_ms = line->silence_ms;
		if (p->line.open_ms > OPEN_MS)
			p->line.open_ms = OPEN_MS;
		if (serial_code_init(&p->code, line))
			return fault_set(&l->job->fault, CARRY_ERROR_ORDER, i,
			    "channel %s: the settings of its code do not fit together",
			    o->item[i].channel);
		l->posts++;
	}
	return 0;
}

static void close_post(struct post *p)
{
	if (p->open)
		stream_close(&p->stream, true);
	p->open = p->asked = false;
	serial_receive_free(p->text);
	p->text = NULL;
}

static void try_later(struct post *p)
{
	uint64_t pause = PAUSE_FIRST_MS;

	for (unsigned i = 0; i < p->failures && pause < PAUSE_MOST_MS; i++)
		pause *= 2;
	p->failures++;
	p->again_at = parent_now() + (pause < PAUSE_MOST_MS ? pause : PAUSE_MOST_MS);
}

static void open_post(struct listening *l, struct post *p)
{
	struct fault why = {0};

	if (!stream_open(&p->stream, &p->line, p->item, l->job->parent, &why)) {
		p->open = true;
		p->failures = 0;
		return;
	}
	if (!p->failures && why.error != CARRY_ERROR_CANCELLED)
		fprintf(stderr, "yoke-carrier: channel %s is not listened to: %s\n",
		    channel_of(l, p), why.text);
	try_later(p);
}

/* Keep a damaged text for the log, unless the line does nothing else. */
static void keep_raw(
    struct listening *l, struct post *p, const struct serial_receive_outcome *o, const char *why)
{
	uint64_t now = parent_now();

	fprintf(stderr, "yoke-carrier: channel %s: %zu bytes came unasked: %s\n", channel_of(l, p),
	    o->raw_size, why);
	if (p->raw_at && now - p->raw_at < RAW_MS)
		return;
	p->raw_at = now;
	serial_hand_over(l->job, p->item, CARRY_ROLE_RAW, o->raw, o->raw_size, why);
}

static uint64_t errors_in_text(const struct post *p)
{
	struct stream_counts now;

	if (!stream_counts(&p->stream, &now))
		return 0;
	stream_counts_less(&now, &p->before);
	return stream_counts_all(&now);
}

/* The text is at its end, one way or the other. */
static void end_text(struct listening *l, struct post *p)
{
	struct serial_receive_outcome o;
	uint32_t worst;

	serial_receive_outcome(p->text, &o);
	worst = serial_capture_worst(o.findings);
	if (o.state == SERIAL_RECEIVE_FAILED) {
		if (o.reason != SERIAL_RECEIVE_NOTHING && p->opened)
			keep_raw(l, p, &o, serial_receive_says(o.reason));
	} else if (o.findings & SERIAL_CAPTURE_NO_START) {
		/* No % and so no text: a device server's greeting, a machine that is switched on. */
		fprintf(stderr, "yoke-carrier: channel %s: %zu characters without a %% came and are "
		                "no program\n",
		    channel_of(l, p), o.raw_size);
	} else if (worst) {
		keep_raw(l, p, &o, serial_capture_says(worst));
	} else if (errors_in_text(p)) {
		keep_raw(l, p, &o, "the port counted errors of framing, parity or overrun while it came");
	} else {
		serial_came_unasked(l->job, p->item, &o);
		p->text_at = parent_now();
	}
	serial_receive_free(p->text);
	p->text = NULL;
}

/* End a text now that would end by silence. */
static void close_text(struct listening *l, struct post *p)
{
	serial_receive_tick(p->text, serial_receive_deadline(p->text));
	end_text(l, p);
}

static bool is_closing(const struct post *p)
{
	struct serial_receive_outcome o;

	if (!p->text)
		return false;
	serial_receive_outcome(p->text, &o);
	return o.state == SERIAL_RECEIVE_CLOSING;
}

static bool is_over(const struct post *p)
{
	struct serial_receive_outcome o;

	serial_receive_outcome(p->text, &o);
	return o.state == SERIAL_RECEIVE_DONE || o.state == SERIAL_RECEIVE_FAILED;
}

/* What a control says between texts. True when the character begins none. */
static bool is_quiet(struct post *p, uint8_t c)
{
	if (c == ISO_DC1)
		p->asked = p->text_at && parent_now() - p->text_at < ASK_MS;
	else if (c == ISO_DC3)
		p->asked = false;
	return iso_is_filler(c) || c == ISO_CR || c == ISO_LF;
}

static void hear(struct listening *l, struct post *p, uint8_t byte)
{
	uint8_t c = serial_code_character(&p->code, byte);

	if (is_closing(p) && c == ISO_DC1)
		close_text(l, p);
	if (!p->text && is_quiet(p, c))
		return;
	if (!p->text) {
		p->asked = p->opened = false;
		p->text = serial_receive_new(&p->line, TEXT_MAX, parent_now());
	}
	if (!p->text)
		return; /* no memory: what comes is noise without its beginning */
	p->opened |= c == '%';
	p->heard_at = parent_now();
	serial_receive_feed(p->text, p->heard_at, &byte, 1);
	if (is_over(p))
		end_text(l, p);
}

/* Read what is there. */
static void read_post(struct listening *l, struct post *p, short came)
{
	unsigned char in[CHUNK];
	int n;

	/* A text may begin with what is read now, and its errors are those from here on. */
	if (!p->text)
		stream_counts(&p->stream, &p->before);
	n = stream_read(&p->stream, came, in, sizeof in);
	for (int i = 0; i < n; i++)
		hear(l, p, in[i]);
	if (n >= 0)
		return;
	if (p->text) {
		serial_receive_lost(p->text, parent_now());
		end_text(l, p);
	}
	close_post(p);
	try_later(p);
}

static uint64_t earlier(uint64_t a, uint64_t b)
{
	return a < b ? a : b;
}

/* When a post wants to be called, UINT64_MAX for never. A dead connection is found by the kernel's
 * probes, which cost nothing here; only RFC 2217 has a clock of its own. */
static uint64_t next_of(const struct post *p)
{
	uint64_t at = UINT64_MAX;

	if (!p->open)
		return p->again_at;
	if (p->stream.comport)
		at = stream_deadline(&p->stream);
	if (p->text)
		at = earlier(at, serial_receive_deadline(p->text));
	if (is_closing(p))
		at = earlier(at, p->heard_at + CLOSED_MS);
	return at;
}

static void tick_post(struct listening *l, struct post *p)
{
	uint64_t now = parent_now();

	if (!p->open) {
		if (now >= p->again_at && !parent_stopping(l->job->parent))
			open_post(l, p);
		return;
	}
	if (is_closing(p) && now >= p->heard_at + CLOSED_MS) {
		close_text(l, p);
	} else if (p->text) {
		serial_receive_tick(p->text, now);
		if (is_over(p))
			end_text(l, p);
	}
	if (p->stream.comport && !stream_tick(&p->stream))
		read_post(l, p, POLLHUP);
}

static void tell(struct listening *l)
{
	struct carry_progress at = {0, CARRY_PHASE_LISTEN, 0, 0, 0, UINT64_MAX};

	for (unsigned i = 0; i < l->posts && at.phase == CARRY_PHASE_LISTEN; i++)
		if (!l->post[i].open) {
			at.phase = CARRY_PHASE_AWAY;
			at.item = l->post[i].item;
		}
	if (l->phase != at.phase)
		parent_progress(l->job->parent, &at);
	l->phase = at.phase;
}

/* Wait for characters, at most until then, and hear them. False when poll fails. */
static bool wait_and_hear(struct listening *l, uint64_t until)
{
	struct pollfd q[YOKE_CHANNELS_MAX];
	uint64_t now;

	for (unsigned i = 0; i < l->posts; i++) {
		const struct post *p = &l->post[i];

		q[i] = (struct pollfd){
		    p->open ? p->stream.fd : -1, p->open ? stream_events(&p->stream, false) : 0, 0};
		until = earlier(until, next_of(p));
	}
	now = parent_now();
	if (parent_wait_any(l->job->parent, q, l->posts,
	        until == UINT64_MAX ? UINT64_MAX : until > now ? until - now : 0) < 0)
		return false;
	for (unsigned i = 0; i < l->posts; i++)
		if (l->post[i].open && q[i].revents)
			read_post(l, &l->post[i], q[i].revents);
	return true;
}

/* Something is coming that is waited for so long after stop was asked. */
static bool is_waited_for(const struct listening *l, uint64_t since)
{
	uint64_t passed = parent_now() - since;

	if (parent_gone(l->job->parent))
		return false; /* nobody could take it */
	for (unsigned i = 0; i < l->posts; i++)
		if (l->post[i].text && passed < (l->post[i].opened ? STOP_TEXT_MS : STOP_MS))
			return true;
	return false;
}

/* What is still coming is cut off here; it is kept as far as it came, and whoever punches is told. */
static void cut_off(struct listening *l, struct post *p)
{
	struct serial_receive_outcome o;

	if (!p->text || !p->opened || parent_gone(l->job->parent))
		return;
	p->raw_at = 0;
	serial_receive_outcome(p->text, &o);
	keep_raw(l, p, &o,
	    "its end did not come, and an order had to begin: punch it again when that has ended");
}

void listen_run(struct job *j)
{
	struct listening l = {.job = j, .phase = CARRY_PHASE_COUNT};
	uint64_t stop_at = 0;
	bool good = !make_posts(&l);

	parent_beat_slowly(j->parent);
	while (good) {
		for (unsigned i = 0; i < l.posts; i++)
			tick_post(&l, &l.post[i]);
		tell(&l);
		if (parent_stopping(j->parent) && !stop_at)
			stop_at = parent_now();
		if (stop_at && !is_waited_for(&l, stop_at))
			break;
		good = wait_and_hear(&l, stop_at ? parent_now() + STOP_TURN_MS : UINT64_MAX);
	}
	for (unsigned i = 0; i < l.posts; i++) {
		j->channel[l.post[i].item].asked = l.post[i].asked && l.post[i].alone;
		cut_off(&l, &l.post[i]);
		close_post(&l.post[i]);
	}
	if (!j->fault.error)
		fault_set(&j->fault, good ? CARRY_ERROR_CANCELLED : CARRY_ERROR_IO, j->order->items,
		    good ? "listening ended" : "listening failed");
}
