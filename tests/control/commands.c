/* The operator's commands. */
#include "commands.h"
#include "bench.h"
#include "fault.h"
#include "store.h"
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

enum { WORDS_MAX = 8, WAIT_SECONDS = 10 };

struct words {
	char *w[WORDS_MAX + 1]; /* NULL after the last */
	size_t n;
};

typedef void run_fn(struct bench *b, struct words *w, struct commands_answer *a);

static void fail(struct commands_answer *a, const char *why)
{
	a->error = true;
	fputs(why, a->head);
}

static void answer(struct commands_answer *a, const char *why, const char *done)
{
	if (why)
		fail(a, why);
	else
		fputs(done, a->head);
}

/* The channel named by a word; NULL, told, when there is none of that name. */
static struct channel *channel(struct bench *b, const char *word, struct commands_answer *a)
{
	for (size_t i = 0; word && i < BENCH_CHANNELS; i++)
		if (!strcmp(b->channels[i].name, word))
			return &b->channels[i];
	fail(a, "name the channel: upper or lower");
	return NULL;
}

static bool number(const char *word, uint64_t most, uint64_t *n, struct commands_answer *a)
{
	char *end;

	errno = 0;
	*n = strtoull(word, &end, 10);
	if (word[0] < '0' || word[0] > '9' || *end || errno || *n > most) {
		fail(a, "not a number, or too large");
		return false;
	}
	return true;
}

/* A program number with or without its O; -1 for no word. */
static bool program_number(const char *word, long *n, struct commands_answer *a)
{
	uint64_t value;

	*n = -1;
	if (!word)
		return true;
	if (!number(word + (*word == 'O' || *word == ':'), STORE_NUMBER_MAX, &value, a))
		return false;
	*n = (long)value;
	return true;
}

static void run_read(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);
	bool wait = w->w[2] && !strcmp(w->w[2], "wait");

	if (!c)
		return;
	if (w->w[2] && !wait)
		fail(a, "read CHANNEL [wait]");
	else
		answer(a, bench_read(c), wait ? "" : "ready to read");
	if (!a->error && wait) {
		a->wait = COMMANDS_LOADED;
		a->channel = c;
		a->seconds = 3600;
	}
}

static void run_drip(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);

	if (c)
		answer(a, bench_drip(c), "ready to execute");
}

/* What was executed while it was read, block by block. */
static void run_executed(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);

	if (!c)
		return;
	if (c->execute.n)
		fwrite(c->execute.text, 1, c->execute.n, a->lines);
	fprintf(a->head, "%" PRIu64 " blocks", c->execute.blocks);
}

static void run_punch(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);
	bool all = w->w[2] && !strcmp(w->w[2], "all"), each = all && w->w[3];
	long n = STORE_ALL;

	if (!c || (!all && !program_number(w->w[2], &n, a)))
		return;
	if (w->w[2] && w->w[3] && (!all || strcmp(w->w[3], "each") != 0))
		fail(a, "punch CHANNEL all each: every program with a % of its own");
	else
		answer(a, bench_punch(c, w->w[2] ? n : STORE_NEWEST, each), "punches");
}

static void run_auto(struct bench *b, struct words *w, struct commands_answer *a)
{
	bool on = !w->w[3] || !strcmp(w->w[3], "on");
	bool read = !strcmp(w->w[1], "read");
	struct channel *c = channel(b, w->w[2], a);

	if (!c)
		return;
	if ((!read && strcmp(w->w[1], "punch") != 0) || (!on && strcmp(w->w[3], "off") != 0)) {
		fail(a, "auto read|punch CHANNEL [on|off]");
		return;
	}
	if (read)
		c->auto_read = on;
	else
		c->auto_punch = on;
	fputs(on ? "on" : "off", a->head);
}

static void run_list(struct bench *b, struct words *w, struct commands_answer *a)
{
	const struct program *p;
	size_t n = 0;

	for (size_t i = 0; i < BENCH_CHANNELS; i++) {
		for (size_t k = 0; (p = store_at(b->channels[i].store, k)); k++, n++)
			fprintf(a->lines, "%s O%04ld %zu %s\n", b->channels[i].name, p->number,
			    p->len, p->whole ? "whole" : "stump");
	}
	fprintf(a->head, "%zu programs", n);
}

static void run_show(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);
	const struct program *p = NULL;
	long n;

	if (!c || !program_number(w->w[2], &n, a))
		return;
	if (n >= 0)
		p = store_find(c->store, n);
	for (size_t i = 0; n < 0 && store_at(c->store, i); i++)
		p = store_at(c->store, i);
	if (!p) {
		fail(a, "no such program in memory");
		return;
	}
	fprintf(a->lines, "%%\n%s%s", p->text, p->whole ? "%\n" : "");
	if (!p->whole && p->len && p->text[p->len - 1] != '\n')
		fputc('\n', a->lines);
	fprintf(a->head, "O%04ld", p->number);
}

/* The operator writes a program of one comment at the keyboard. */
static void run_key(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);
	char text[200];
	long n;

	if (!c || !program_number(w->w[2], &n, a))
		return;
	snprintf(text, sizeof(text), "O%04ld(%s)\nM30\n", n, w->w[3]);
	if (!store_open(c->store, n)) {
		fail(a, "no memory for it");
		return;
	}
	for (const char *s = text; *s; s++)
		if (!store_add(c->store, *s)) {
			store_close(c->store, false);
			fail(a, "the memory is full");
			return;
		}
	answer(a, store_close(c->store, true) ? NULL : "the copy could not be written", "written");
}

static void run_edit(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);
	long n = c ? store_edit(c->store, w->w[2], w->w[3]) : 0;

	if (n == -1)
		fail(a, "that text is in no program of this channel");
	else if (n == -2)
		fail(a, "the memory is full");
	else if (n == -3)
		fail(a, "edited, but the copy could not be written");
	else if (c)
		fprintf(a->head, "O%04ld edited", n);
}

static void run_delete(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);
	long n;
	size_t gone;

	if (!c || !program_number(w->w[2], &n, a))
		return;
	if (c->port->reading == c && c->port->started) {
		fail(a, "a load is under way: reset it first");
		return;
	}
	gone = store_delete(c->store, n < 0 ? STORE_ALL : n);
	if (n >= 0 && !gone)
		fail(a, "no such program in memory");
	else
		fprintf(a->head, "%zu deleted", gone);
}

static void run_forget(struct bench *b, struct words *w, struct commands_answer *a)
{
	size_t gone = 0;

	for (size_t i = 0; i < BENCH_CHANNELS; i++) {
		bench_reset(&b->channels[i]);
		gone += store_delete(b->channels[i].store, STORE_ALL);
	}
	fprintf(a->head, "%zu programs forgotten", gone);
}

static void run_memory(struct bench *b, struct words *w, struct commands_answer *a)
{
	uint64_t n;

	if (!number(w->w[1], 1 << 30, &n, a))
		return;
	for (size_t i = 0; i < BENCH_CHANNELS; i++)
		store_limit(b->channels[i].store, n);
	fprintf(a->head, "%" PRIu64 " bytes for each channel", n);
}

static void add_fault(struct bench *b, struct fault f, const char *n, const char *where,
    struct commands_answer *a)
{

	if (!number(n, 1 << 30, &f.n, a))
		return;
	if (!f.n) {
		fail(a, "count from 1");
		return;
	}
	if (where && !(f.channel = channel(b, where, a)))
		return;
	answer(a, fault_add(b, f) ? NULL : "too many faults are waiting", "noted");
}

static void fault(struct bench *b, enum fault_kind kind, const char *n, const char *where,
    struct commands_answer *a)
{
	add_fault(b, (struct fault){.kind = kind}, n, where, a);
}

static void run_punching(struct bench *b, struct words *w, struct commands_answer *a)
{
	static const char *const names[] = {[FAULT_DROP] = "drop",
	    [FAULT_TWICE] = "double",
	    [FAULT_NOISE] = "noise",
	    [FAULT_POWER] = "power-off",
	    [FAULT_SILENT] = "silent",
	    [FAULT_HANG_UP] = "hang-up"};

	for (size_t i = 0; i < sizeof(names) / sizeof(*names); i++)
		if (names[i] && !strcmp(names[i], w->w[1])) {
			add_fault(b, (struct fault){.kind = (enum fault_kind)i, .punching = true},
			    w->w[2], w->w[3], a);
			return;
		}
	fail(a, "punching drop|double|noise|silent|hang-up|power-off N [CHANNEL]");
}

static void run_drop(struct bench *b, struct words *w, struct commands_answer *a)
{
	fault(b, FAULT_DROP, w->w[1], w->w[2], a);
}

static void run_double(struct bench *b, struct words *w, struct commands_answer *a)
{
	fault(b, FAULT_TWICE, w->w[1], w->w[2], a);
}

static void run_errors(struct bench *b, struct words *w, struct commands_answer *a)
{
	if (number(w->w[1], 1 << 30, &b->wrong_bits, a))
		fprintf(a->head, "one bit in %" PRIu64 " wrong", b->wrong_bits);
}

static void run_alarms(struct bench *b, struct words *w, struct commands_answer *a)
{
	b->set.say_alarms = !strcmp(w->w[1], "on");
	fputs(b->set.say_alarms ? "told over the line" : "not told", a->head);
}

static void run_noise(struct bench *b, struct words *w, struct commands_answer *a)
{
	fault(b, FAULT_NOISE, w->w[1], w->w[2], a);
}

static void run_hold(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c;

	if (!strcmp(w->w[1], "after") && w->w[2])
		fault(b, FAULT_HOLD, w->w[2], w->w[3], a);
	else if ((c = channel(b, w->w[1], a)))
		answer(a, bench_hold(c), "holds");
}

static void run_go(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);

	if (c)
		answer(a, bench_go(c), "goes on");
}

static void run_reset(struct bench *b, struct words *w, struct commands_answer *a)
{
	struct channel *c = channel(b, w->w[1], a);

	if (!c)
		return;
	bench_reset(c);
	fputs("reset", a->head);
}

static void run_power(struct bench *b, struct words *w, struct commands_answer *a)
{
	bool off = !strcmp(w->w[1], "off");

	if (off && w->w[2] && w->w[3] && !strcmp(w->w[2], "after")) {
		fault(b, FAULT_POWER, w->w[3], w->w[4], a);
	} else if (off && !w->w[2]) {
		bench_power_off(b);
		fputs("off", a->head);
	} else if (!strcmp(w->w[1], "on") && !w->w[2]) {
		answer(a, bench_power_on(b), "on");
	} else {
		fail(a, "power on, power off, power off after N [CHANNEL]");
	}
}

static void figures(const struct channel *c, struct commands_answer *a)
{
	const struct line_counts *n = &c->counts;
	bool loads = c->port->reading == c && bench_begun(c);
	const struct line_counts *load = loads ? n : &c->last;
	double faster = c->port->bench->set.faster;
	double seconds = (double)(load->last_at - load->first_at) / 1e9 * faster;
	double rate = seconds > 0 ? (double)(load->in_load - 1) / seconds : 0;

	const struct {
		const char *name;
		uint64_t value;
	} table[] = {{"received", n->received}, {"received-in-load", load->in_load},
	    {"after-dc3", n->after_dc3}, {"after-dc3-most", n->after_most}, {"dc3-sent", n->stops},
	    {"overrun", n->overrun}, {"parity", c->reader.parity_errors}, {"ignored", c->ignored},
	    {"dropped", c->dropped}, {"doubled", c->twice}, {"damaged", c->damaged},
	    {"loads", c->load.ended}, {"punches", c->punch.ended},
	    {"executed", c->execute.blocks},
	    {"memory-used", store_used(c->store)}};

	for (size_t i = 0; i < sizeof(table) / sizeof(*table); i++)
		fprintf(a->lines, "%s.%s %" PRIu64 "\n", c->name, table[i].name, table[i].value);
	fprintf(a->lines, "%s.seconds %.3f\n%s.rate %.2f\n%s.line-rate %.2f\n", c->name, seconds,
	    c->name, rate, c->name, 1e9 / ((double)c->port->char_ns * faster));
	fprintf(a->lines, "%s.alarm %s\n", c->name, c->alarm ? c->alarm : "none");
}

static void run_figures(struct bench *b, struct words *w, struct commands_answer *a)
{
	bool clear = w->w[1] && !strcmp(w->w[1], "clear");
	struct channel *one = NULL;

	if (w->w[1] && !clear && !(one = channel(b, w->w[1], a)))
		return;
	for (size_t i = 0; i < BENCH_CHANNELS; i++) {
		struct channel *c = &b->channels[i];

		if (clear) {
			c->counts = c->last = (struct line_counts){0};
			c->ignored = c->dropped = c->damaged = c->overrun_before = 0;
			c->reader.parity_errors = 0;
		} else if (!one || one == c) {
			figures(c, a);
		}
	}
	if (clear)
		fputs("cleared", a->head);
}

static const char *doing(const struct channel *c)
{
	const struct port *p = c->port;

	if (!p->bench->powered)
		return "off";
	if (p->reading == c)
		return c->held           ? "held"
		       : !p->started     ? "waits-for-line"
		       : !bench_begun(c) ? "ready-to-read"
		       : c->drips        ? "executes"
		                         : "reads";
	return p->punching == c ? "punches" : "rests";
}

static void run_state(struct bench *b, struct words *w, struct commands_answer *a)
{
	for (size_t i = 0; i < BENCH_CHANNELS; i++) {
		const struct channel *c = &b->channels[i];

		fprintf(a->lines, "%s %s %s alarm %s\n", c->name, doing(c),
		    c->port->online ? "connected" : "unconnected", c->alarm ? c->alarm : "none");
	}
}

static void run_lines(struct bench *b, struct words *w, struct commands_answer *a)
{
	for (size_t i = 0; i < b->port_count; i++)
		fprintf(a->lines, "%s 127.0.0.1:%u\n", b->ports[i].name, b->ports[i].number);
}

static void run_wait(struct bench *b, struct words *w, struct commands_answer *a)
{
	static const char *const names[] = {[COMMANDS_LOADED] = "loaded",
	    [COMMANDS_PUNCHED] = "punched",
	    [COMMANDS_HELD] = "held",
	    [COMMANDS_CONNECTED] = "connected"};
	enum commands_wait what = COMMANDS_NONE;

	for (unsigned i = COMMANDS_LOADED; i <= COMMANDS_CONNECTED; i++)
		if (!strcmp(names[i], w->w[1]))
			what = (enum commands_wait)i;
	a->channel = channel(b, w->w[2], a);
	a->seconds = WAIT_SECONDS;
	if (!a->channel || (w->w[3] && !number(w->w[3], 86400, &a->seconds, a)))
		return;
	if (what == COMMANDS_NONE)
		fail(a, "wait loaded|punched|held|connected CHANNEL [SECONDS]");
	a->wait = what;
}

static void run_quit(struct bench *b, struct words *w, struct commands_answer *a)
{
	a->quit = true;
	fputs("ends", a->head);
}

static run_fn run_help;

static const struct {
	const char *name, *words;
	size_t least, most; /* words after the name */
	run_fn *run;
} commands[] = {
    {"read", "CHANNEL [wait]", 1, 2, run_read},
    {"drip", "CHANNEL: execute what comes, store nothing", 1, 1, run_drip},
    {"executed", "CHANNEL: the blocks of its newest drip", 1, 1, run_executed},
    {"punch", "CHANNEL [NUMBER], or: CHANNEL all [each]: in one stream, one % or each its own", 1, 3,
        run_punch},
    {"auto", "read|punch CHANNEL [on|off]", 2, 3, run_auto},
    {"list", "", 0, 0, run_list},
    {"show", "CHANNEL [NUMBER]", 1, 2, run_show},
    {"key", "CHANNEL NUMBER \"COMMENT\"", 3, 3, run_key},
    {"edit", "CHANNEL OLD NEW", 3, 3, run_edit},
    {"delete", "CHANNEL [NUMBER]", 1, 2, run_delete},
    {"forget", "", 0, 0, run_forget},
    {"memory", "BYTES", 1, 1, run_memory},
    {"drop", "N [CHANNEL]", 1, 2, run_drop},
    {"double", "N [CHANNEL]", 1, 2, run_double},
    {"noise", "N [CHANNEL]", 1, 2, run_noise},
    {"punching", "drop|double|noise|silent|hang-up|power-off N [CHANNEL]", 2, 3, run_punching},
    {"errors", "N: one bit in N wrong, both ways; 0: none", 1, 1, run_errors},
    {"alarms", "on|off: told over the line in clear text", 1, 1, run_alarms},
    {"hold", "CHANNEL, or: after N [CHANNEL]", 1, 3, run_hold},
    {"go", "CHANNEL", 1, 1, run_go},
    {"reset", "CHANNEL", 1, 1, run_reset},
    {"power", "on, or: off [after N [CHANNEL]]", 1, 4, run_power},
    {"figures", "[CHANNEL|clear]", 0, 1, run_figures},
    {"state", "", 0, 0, run_state},
    {"lines", "", 0, 0, run_lines},
    {"wait", "loaded|punched|held|connected CHANNEL [SECONDS]", 2, 3, run_wait},
    {"help", "", 0, 0, run_help},
    {"quit", "", 0, 0, run_quit},
};

static void run_help(struct bench *b, struct words *w, struct commands_answer *a)
{
	for (size_t i = 0; i < sizeof(commands) / sizeof(*commands); i++)
		fprintf(a->lines, "%s %s\n", commands[i].name, commands[i].words);
}

/* Words are separated by blanks; "..." or '...' keeps blanks. False: too many words or an open
 * quote. */
static bool split(char *line, struct words *w)
{
	w->n = 0;
	for (;;) {
		char end = ' ';

		line += strspn(line, " \t\r");
		if (!*line)
			break;
		if (w->n == WORDS_MAX)
			return false;
		if (*line == '"' || *line == '\'')
			end = *line++;
		w->w[w->n++] = line;
		line += strcspn(line, end == ' ' ? " \t\r" : end == '"' ? "\"" : "'");
		if (!*line && end != ' ')
			return false;
		if (*line)
			*line++ = '\0';
	}
	w->w[w->n] = NULL;
	return true;
}

void commands_run(struct bench *b, char *line, struct commands_answer *a)
{
	struct words w;

	if (!split(line, &w) || !w.n) {
		fail(a, "no command, too many words, or an open quotation mark");
		return;
	}
	for (size_t i = 0; i < sizeof(commands) / sizeof(*commands); i++) {
		if (strcmp(commands[i].name, w.w[0]) != 0)
			continue;
		if (w.n - 1 < commands[i].least || w.n - 1 > commands[i].most) {
			fprintf(a->head, "%s %s", commands[i].name, commands[i].words);
			a->error = true;
			return;
		}
		commands[i].run(b, &w, a);
		return;
	}
	fail(a, "no such command, see: help");
}

bool commands_fulfilled(struct commands_answer *a)
{
	struct channel *c = a->channel;
	struct outcome *o = a->wait == COMMANDS_PUNCHED ? &c->punch : &c->load;

	if (a->wait == COMMANDS_HELD || a->wait == COMMANDS_CONNECTED) {
		if (a->wait == COMMANDS_HELD ? !c->held : c->port->fd < 0)
			return false;
		fputs(a->wait == COMMANDS_HELD ? "held" : "connected", a->head);
		return true;
	}
	if (o->ended == o->told)
		return false;
	o->told = o->ended;
	a->error = !o->good;
	fputs(o->text, a->head);
	return true;
}
