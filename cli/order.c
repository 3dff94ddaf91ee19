/*
 *   asked --POST answered--> followed --line with "end"--> ended
 *                               |  Ctrl-C: cancel is asked for, once; still followed
 *                               |  Ctrl-C again, or the stream breaks off: left to the service
 *
 * A Ctrl-C while the POST is under way is kept until the order has a number: giving up there could
 * leave an order behind of which nobody was told.
 */
#include "order.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "machine.h"
#include "out.h"
#include "table.h"

static volatile sig_atomic_t interrupts, asking;

static void on_interrupt(int number)
{
	static const char gone[] =
	    "\nyoke: given up before the service answered: see `yoke orders`\n";

	interrupts++;
	if (asking && interrupts > 1) {
		if (write(STDERR_FILENO, gone, sizeof(gone) - 1) < 0)
			_exit(EXIT_SERVICE + 128);
		_exit(EXIT_SERVICE);
	}
}

struct following {
	json_int_t order;
	bool json, terminal, cancelled;
	size_t drawn;   /* columns of the progress line on the terminal */
	char told[256]; /* phase and channel last told on plain lines */
	int tenth;      /* and the tenth part reached */
	char end[32], text[1024];
};

static void draw(struct following *f, const char *s)
{
	size_t room = out_width() - 1, n = table_fit(s, room), width;
	char *line = strndup(s, n);

	if (!line)
		return;
	width = table_width(line);
	fprintf(stderr, "\r%s%*s", line, (int)(width < f->drawn ? f->drawn - width : 0), "");
	fflush(stderr);
	f->drawn = width;
	free(line);
}

static void end_drawing(struct following *f)
{
	if (f->drawn)
		fputc('\n', stderr);
	f->drawn = 0;
}

/* On plain lines: each phase, and each tenth part of the bytes. */
static void tell(struct following *f, const json_t *o, const char *s)
{
	json_int_t total = ask_number(o, "total");
	int tenth = total > 0 ? (int)((double)ask_number(o, "bytes") * 10 / (double)total) : 0;
	char what[sizeof(f->told)];

	snprintf(what, sizeof(what), "%s %s", ask_string(o, "channel"), ask_string(o, "phase"));
	if (strcmp(what, f->told) == 0 && tenth == f->tenth)
		return;
	memcpy(f->told, what, sizeof(what));
	f->tenth = tenth;
	fprintf(stderr, "%s\n", s);
}

static int on_line(void *ctx, json_t *o)
{
	struct following *f = ctx;
	struct text t = {0};

	if (f->json)
		ask_json_line(o);
	if (json_object_get(o, "end") || json_object_get(o, "error")) {
		snprintf(f->end, sizeof(f->end), "%s", ask_string(o, "end"));
		snprintf(f->text, sizeof(f->text), "%s", ask_string(o, "text"));
		return 0;
	}
	if (f->json)
		return 0;
	machine_progress(&t, o);
	if (t.s && !t.failed && f->terminal)
		draw(f, t.s);
	else if (t.s && !t.failed)
		tell(f, o, t.s);
	text_free(&t);
	return 0;
}

static int on_idle(void *ctx)
{
	struct following *f = ctx;
	char path[64];
	json_t *none, *o;
	int status;

	if (!interrupts)
		return 0;
	if (f->cancelled)
		return interrupts > 1;
	f->cancelled = true;
	end_drawing(f);
	out_error("cancelling order %lld; Ctrl-C once more leaves it to the service",
	    (long long)f->order);
	snprintf(path, sizeof(path), "/v1/orders/%lld/cancel", (long long)f->order);
	none = json_object();
	o = ask(path, none, &status);
	if (*ask_string(o, "caution"))
		out_error("%s", ask_string(o, "caution"));
	json_decref(o);
	json_decref(none);
	return 0;
}

/* Tell what was accepted. */
static void say_accepted(const struct order_run *run, const json_t *o)
{
	bool fetch = strcmp(ask_string(o, "act"), "fetch") == 0;
	struct text t = {0};

	if (run->json) {
		ask_json_line(o);
		return;
	}
	text_printf(&t, "order %lld: ", (long long)run->id);
	ask_put_string(&t, o, "act");
	text_putc(&t, ' ');
	if (!fetch)
		ask_put_pair(&t, o);
	text_puts(&t, fetch ? "from machine " : " to machine ");
	ask_put_string(&t, o, "machine");
	text_puts(&t, *ask_string(o, "channel") ? ", channel " : "");
	ask_put_string(&t, o, "channel");
	text_puts(&t, strcmp(ask_string(o, "state"), "queued") ? "\n" : ", queued\n");
	out_text(&t);
	ask_put_string(&t, o, "caution");
	if (!fetch && t.n)
		out_prose(t.s, 0);
	text_free(&t);
	fflush(stdout);
}

/* The outcome, and what the machine holds now. */
static int finish(struct order_run *run, const struct following *f, const char *machine)
{
	bool good = !strcmp(f->end, "carried") || !strcmp(f->end, "fetched") ||
	            !strcmp(f->end, "fed") || !strcmp(f->end, "drift") || !strcmp(f->end, "done");
	struct text t = {0};
	int status;
	json_t *m;

	if (!run->json) {
		ask_put(&t, f->end);
		text_puts(&t, *f->text ? ": " : "");
		ask_put(&t, f->text);
		text_putc(&t, '\n');
	}
	m = ask_about("/v1/machines/%s", machine, NULL, &status);
	/* An order that ended before it could be followed has the machine's word for it. */
	run->drift = !strcmp(f->end, "drift") || (!strcmp(f->end, "done") && ask_true(m, "drift"));
	if (m && run->json)
		ask_json_line(m);
	else if (m)
		machine_say(&t, m);
	if (m && !run->json && strcmp(ask_string(m, "content"), "loaded") != 0)
		machine_parts(&t, m);
	out_lines(&t);
	json_decref(m);
	return good ? EXIT_DONE : EXIT_SERVICE;
}

static int follow(struct order_run *run, const char *machine)
{
	struct following f = {
	    .order = run->id, .json = run->json, .terminal = isatty(STDERR_FILENO), .tenth = -1};
	char path[64];
	long http;
	int streamed;

	snprintf(path, sizeof(path), "/v1/orders/%lld/follow", (long long)run->id);
	streamed = http_stream(path, on_line, on_idle, &f, &http);
	end_drawing(&f);
	if (*f.end)
		return finish(run, &f, machine);
	if (streamed == 0 && *f.text)
		out_error("%s", f.text);
	out_error("order %lld is left to the service, and its outcome is not known here: see "
	          "`yoke orders` and `yoke machines`",
	    (long long)run->id);
	return EXIT_SERVICE;
}

int order_run(struct order_run *run, const char *format, const char *machine, const json_t *body)
{
	struct sigaction act = {.sa_handler = on_interrupt}, old;
	int status;
	json_t *o;

	run->id = 0;
	run->drift = false;
	interrupts = 0;
	asking = 1;
	sigaction(SIGINT, &act, &old);
	o = ask_about(format, machine, body, &status);
	asking = 0;
	if (!o)
		goto out;
	run->id = ask_number(o, "order");
	if (run->id <= 0) {
		out_error("the service's answer has no order in it");
		status = EXIT_SERVICE;
		goto out;
	}
	say_accepted(run, o);
	if (!run->no_wait || interrupts)
		status = follow(run, machine);
out:
	json_decref(o);
	sigaction(SIGINT, &old, NULL);
	return status;
}

json_t *order_pair(const char *verb, const char *pair)
{
	const char *at = strrchr(pair, '@');
	json_t *body;

	if (at && (at == pair || !at[1])) {
		out_error("%s: '%s' is no JOB@REV: a job alone stands for its newest revision",
		    verb, pair);
		return NULL;
	}
	body = at ? json_pack("{s:s%, s:s}", "job", pair, (size_t)(at - pair), "revision", at + 1)
	          : json_pack("{s:s}", "job", pair);
	if (!body)
		out_error("%s: '%s' is not valid UTF-8", verb, pair);
	return body;
}

void order_table(const json_t *orders, const char *empty)
{
	static const char *const heads[] = {
	    "ORDER", "STATE", "ACT", "PAIR", "MACHINE", "SINCE", "BY"};
	struct table *table = table_new(heads, sizeof(heads) / sizeof(heads[0]));
	const json_t *o;
	size_t i;

	table_keep(table, 5);
	json_array_foreach(orders, i, o)
	{
		struct text number = {0}, pair = {0}, since = {0};

		text_printf(&number, "%lld", (long long)ask_number(o, "order"));
		ask_put_pair(&pair, o);
		ask_put_time(&since, ask_string(o, "since"), false);
		table_text(table, &number);
		table_cell(table, ask_string(o, "state"));
		table_cell(table, ask_string(o, "act"));
		table_text(table, &pair);
		table_cell(table, ask_string(o, "machine"));
		table_text(table, &since);
		table_cell(table, ask_string(o, "by"));
		if (strcmp(ask_string(o, "text"), ask_string(o, "state")) != 0 &&
		    *ask_string(o, "text"))
			table_note(table, ask_string(o, "text"));
	}
	table_out(table, empty);
}
