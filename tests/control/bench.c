/* What the control on the bench does. */
#include "bench.h"
#include "fault.h"
#include "port.h"
#include "store.h"
#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void bench_tell(const struct bench *b, const char *format, ...)
{
	va_list ap;

	if (!b->verbose)
		return;
	va_start(ap, format);
	vprintf(format, ap);
	va_end(ap);
	putchar('\n');
	fflush(stdout);
}

static void end_outcome(struct outcome *o, bool good, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void end_outcome(struct outcome *o, bool good, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	vsnprintf(o->text, sizeof(o->text), format, ap);
	va_end(ap);
	o->good = good;
	o->ended++;
}

/* The names of what the newest load brought, "nothing" when it brought nothing. */
static void loaded_names(const struct store *s, char *text, size_t size)
{
	const struct program *p;
	size_t len = 0;

	snprintf(text, size, "nothing");
	for (size_t i = 0; store_brought(s) && (p = store_at(s, i)); i++) {
		if (!store_is_newest(s, p) || len + 12 > size)
			continue;
		len +=
		    (size_t)snprintf(text + len, size - len, "%sO%04ld", len ? " " : "", p->number);
	}
}

/* The load is over. alarm NULL: its closing `%` was read. */
static void end_load(struct channel *c, const char *alarm)
{
	struct port *p = c->port;
	uint64_t lost = c->counts.overrun - c->overrun_before;
	char names[100];

	if (alarm && !c->drips)
		reader_break(&c->reader);
	c->last = c->counts;
	line_clear(p->line);
	p->reading = NULL;
	p->started = false;
	c->held = c->full = false;
	p->auto_at = p->now + p->bench->set.pause_ns;
	if (c->drips)
		snprintf(names, sizeof(names), "%" PRIu64 " blocks", c->execute.blocks);
	else
		loaded_names(c->store, names, sizeof(names));
	if (!alarm && lost)
		alarm = "overrun";
	c->alarm = alarm;
	if (c->drips) {
		end_outcome(&c->load, !alarm, "%s%s%s%s executed, %" PRIu64 " characters received",
		    alarm ? "alarm " : "", alarm ? alarm : "", alarm ? ": " : "", names,
		    c->counts.in_load);
	} else if (!alarm) {
		p->last_good = c;
		if (c->auto_punch)
			p->punch_next = c;
		end_outcome(
		    &c->load, true, "%s loaded, %" PRIu64 " characters", names, c->counts.in_load);
	} else {
		end_outcome(&c->load, false,
		    "alarm %s: %" PRIu64 " characters received, %" PRIu64 " lost; in memory: %s",
		    alarm, c->counts.in_load, lost, names);
	}
	bench_tell(p->bench, "%s: %s", c->name, c->load.text);
}

/* In clear text, as some controls do. */
static void say_alarm(struct channel *c, const char *alarm)
{
	const struct bench_settings *set = &c->port->bench->set;
	char words[BENCH_SAYS - 2];

	if (!alarm || !set->say_alarms)
		return;
	snprintf(words, sizeof(words), "ALARM %s\n", alarm);
	for (const char *w = words; *w; w++)
		port_say(c->port, code_send(set->code, (uint8_t)*w));
}

static void stop_reader(struct channel *c, const char *alarm)
{
	port_say(c->port, c->port->bench->set.dc3);
	say_alarm(c, alarm);
	end_load(c, alarm);
}

static void hold(struct channel *c)
{
	c->held = true;
	line_hold(c->port->line, true, c->port->now);
	bench_tell(c->port->bench, "%s: holds the line", c->name);
}

static bool heard(void *ctx, uint64_t at, uint8_t *byte)
{
	struct port *p = ctx;
	uint8_t came = fault_spoil(p->bench, *byte), c = came & 0x7f;

	if (p->reading && p->started)
		p->reading->damaged += came != *byte;
	*byte = came;
	if (p->punching) {
		if (c == CODE_DC3)
			p->host_stop = true;
		else if (c == CODE_DC1 && p->host_stop) {
			p->host_stop = false;
			p->out_at = p->out_at > at ? p->out_at : at;
		}
		return false;
	}
	if (!p->reading || !p->started) {
		p->auto_at =
		    at + p->bench->set.pause_ns; /* nobody acts while the line still speaks */
		for (size_t i = 0; i < BENCH_CHANNELS; i++)
			if (p->bench->channels[i].port == p) {
				p->bench->channels[i].ignored++;
				break;
			}
		return false;
	}
	p->reading->heard_in_load++;
	return fault_in_load(p->reading, byte);
}

/* A character that is executed, not stored. */
static void executed(struct channel *c, uint8_t byte)
{
	switch (execute_take(&c->execute, byte)) {
	case EXECUTE_MORE:
		break;
	case EXECUTE_END:
		stop_reader(c, NULL);
		break;
	case EXECUTE_PARITY:
		stop_reader(c, "parity");
		break;
	case EXECUTE_TROUBLE:
		stop_reader(c, "bench-trouble");
		break;
	}
}

/* The load is for another channel than the operator selected: its own word says so. */
static void route(struct channel *c, struct channel *to)
{
	if (to == c)
		return;
	if (to->port != c->port) {
		stop_reader(c, "other-channel");
		return;
	}
	bench_tell(c->port->bench, "%s: the load says that it is for %s", c->name, to->name);
	reader_break(&c->reader);
	reader_goes_on(&to->reader);
	to->heard_in_load = c->heard_in_load;
	to->overrun_before = to->counts.overrun;
	to->alarm = NULL;
	to->load.told = to->load.ended;
	line_count_load(c->port->line, &to->counts);
	c->port->reading = to;
}

static void taken(void *ctx, uint8_t byte)
{
	struct port *p = ctx;
	struct channel *c = p->reading;

	if (!c)
		return;
	if (c->drips) {
		executed(c, byte);
		return;
	}
	switch (reader_take(&c->reader, byte)) {
	case READER_MORE:
		break;
	case READER_CHANNEL:
		route(c, &p->bench->channels[c->reader.word]);
		break;
	case READER_END:
		stop_reader(c, NULL);
		break;
	case READER_PARITY:
		stop_reader(c, "parity");
		break;
	case READER_BLANK:
		stop_reader(c, "blank");
		break;
	case READER_NO_NUMBER:
		stop_reader(c, "number-missing");
		break;
	case READER_SAME_NUMBER:
		stop_reader(c, "number-in-use");
		break;
	case READER_TROUBLE:
		stop_reader(c, "bench-trouble");
		break;
	case READER_FULL:
		c->alarm = "memory-full";
		c->full = true;
		if (p->bench->set.full_close) {
			stop_reader(c, "memory-full");
			port_hang_up(p);
		} else {
			hold(c);
		}
		break;
	}
}

static void overrun(void *ctx)
{
	struct port *p = ctx;

	if (!p->reading)
		return;
	if (!p->reading->alarm)
		p->reading->alarm = "overrun";
	if (p->bench->set.overrun_stops)
		stop_reader(p->reading, "overrun");
}

static void flow(void *ctx, bool stop)
{
	struct port *p = ctx;

	port_say(p, stop ? p->bench->set.dc3 : CODE_DC1);
}

struct line_ears bench_ears(struct port *p)
{
	return (struct line_ears){
	    .heard = heard, .taken = taken, .overrun = overrun, .flow = flow, .ctx = p};
}

static const char *busy(const struct channel *c)
{
	if (!c->port->bench->powered)
		return "the power is off";
	if (c->port->reading || c->port->punching)
		return "the line is busy: wait for the end or reset it";
	return NULL;
}

const char *bench_read(struct channel *c)
{
	const char *why = busy(c);

	if (why)
		return why;
	c->port->reading = c;
	c->port->started = false;
	c->drips = false;
	c->load.told = c->load.ended;
	return NULL;
}

const char *bench_drip(struct channel *c)
{
	const char *why = bench_read(c);

	c->drips |= !why;
	return why;
}

bool bench_begun(const struct channel *c)
{
	return c->drips ? c->execute.begun : reader_begun(&c->reader);
}

const char *bench_punch(struct channel *c, long number, bool each)
{
	struct punch_settings set = c->port->bench->set.punch;
	const char *why = busy(c);
	size_t len;
	uint8_t *tape;

	if (why)
		return why;
	set.own_percent = each;
	set.word = c->port->bench->set.words[c - c->port->bench->channels];
	tape = punch_stream(c->store, number, &set, &len);
	if (!tape)
		return errno == ENOENT ? "no such program in memory"
		                       : "the bench has no memory left";
	c->port->tape = tape;
	c->port->tape_len = len;
	c->port->tape_at = 0;
	c->port->host_stop = false;
	c->port->punching = c;
	c->port->started = false;
	c->punch.told = c->punch.ended;
	return NULL;
}

static void end_punch(struct port *p, bool good)
{
	struct channel *c = p->punching;

	free(p->tape);
	p->tape = NULL;
	p->punching = NULL;
	p->started = false;
	p->auto_at = p->now + p->bench->set.pause_ns;
	if (good)
		end_outcome(&c->punch, true, "punched, %zu characters", p->tape_len);
	else
		end_outcome(&c->punch, false, "broken off after %zu characters", p->tape_at);
	bench_tell(p->bench, "%s: %s", c->name, c->punch.text);
}

const char *bench_go(struct channel *c)
{
	if (!c->held)
		return "nothing is held";
	if (c->full)
		return "the memory is full: reset, delete a program, read again";
	c->held = false;
	line_hold(c->port->line, false, c->port->now);
	return NULL;
}

const char *bench_hold(struct channel *c)
{
	if (c->port->reading != c || !c->port->started)
		return "no load is under way";
	hold(c);
	return NULL;
}

void bench_reset(struct channel *c)
{
	if (c->port->reading == c)
		stop_reader(c, "reset");
	if (c->port->punching == c)
		end_punch(c->port, false);
	c->alarm = NULL;
}

void bench_power_off(struct bench *b)
{
	bench_tell(b, "power off");
	b->powered = false;
	for (size_t i = 0; i < b->port_count; i++) {
		struct port *p = &b->ports[i];

		if (p->reading)
			end_load(p->reading, "power-off");
		if (p->punching)
			end_punch(p, false);
		p->punch_next = NULL;
		line_cut(p->line);
		port_shut(p);
	}
}

const char *bench_power_on(struct bench *b)
{
	if (b->powered)
		return "the power is on";
	for (size_t i = 0; i < b->port_count; i++)
		if (!port_open(&b->ports[i]))
			return "a port of the line cannot be opened again";
	b->powered = true;
	bench_tell(b, "power on");
	return NULL;
}

void bench_connected(struct port *p)
{
	bench_tell(p->bench, "%s: connected", p->name);
	p->auto_at = p->now;
}

void bench_lost(struct port *p)
{
	bench_tell(p->bench, "%s: connection gone", p->name);
	p->punch_next = NULL;
	if (p->punching && p->started)
		end_punch(p, false);
	if (!p->reading || !p->started)
		return;
	if (!bench_begun(p->reading)) {
		/* Nothing significant came: the reader stands ready and says so to the next one. */
		line_clear(p->line);
		p->started = p->bench->set.ask_once;
	} else if (!p->bench->set.ignore_loss) {
		end_load(p->reading, p->reading->full ? "memory-full" : "line-lost");
	}
}

void bench_punched(struct port *p, bool whole)
{
	end_punch(p, whole);
}

static void start(struct port *p)
{
	struct channel *c = p->reading;

	p->started = true;
	if (!c) {
		bench_tell(p->bench, "%s: punches", p->punching->name);
		if (p->out_at < p->now + p->char_ns)
			p->out_at = p->now + p->char_ns;
		return; /* the tape begins with its DC2 */
	}
	bench_tell(p->bench, "%s: ready to read", c->name);
	line_clear(p->line);
	line_count_load(p->line, &c->counts);
	if (c->drips)
		execute_start(&c->execute, p->bench->set.code);
	else
		reader_start(&c->reader);
	c->heard_in_load = 0;
	c->overrun_before = c->counts.overrun;
	c->alarm = NULL;
	port_say(p, CODE_DC1);
}

/* Whose turn it is on a line that serves both: after a good load the other's, after a bad one the
 * same's. */
static struct channel *next_auto(const struct port *p)
{
	struct bench *b = p->bench;
	size_t first = p->last_good ? (size_t)(p->last_good - b->channels) + 1 : 0;

	for (size_t i = 0; i < BENCH_CHANNELS; i++) {
		struct channel *c = &b->channels[(first + i) % BENCH_CHANNELS];

		if (c->port == p && c->auto_read)
			return c;
	}
	return NULL;
}

void bench_tick(struct port *p)
{
	if (!p->bench->powered || p->fd < 0)
		return;
	if (!p->reading && !p->punching && p->auto_at <= p->now) {
		struct channel *c = p->punch_next;

		p->punch_next = NULL;
		if (c) {
			(void)bench_punch(c, STORE_NEWEST, false);
		} else if ((c = next_auto(p))) {
			p->reading = c;
			p->started = false;
			c->drips = false;
		}
	}
	if ((p->reading || p->punching) && !p->started)
		start(p);
}

uint64_t bench_next(const struct port *p)
{
	if (!p->bench->powered || p->fd < 0 || p->reading || p->punching)
		return LINE_NEVER;
	return p->punch_next || next_auto(p) ? p->auto_at : LINE_NEVER;
}
