/*
 * The bench control: plays the reader and punch of a twin-channel control, for tests and for the
 * demo.
 *
 *     options.c   the command line            code.c    characters, parity
 *     control.c   this: one poll loop         line.c    pace, buffer, DC3
 *     port.c      the lines' sockets          reader.c  what is stored of what comes
 *     operator.c  the operator's socket       store.c   program memory
 *     commands.c  the operator's commands     punch.c   what is punched out
 *     bench.c     tasks, alarms               ask.c     one command from a shell
 *     execute.c   what is executed of what comes
 *     fault.c     faults that a test asks for
 *
 * It is written from the rules of serial readers and shares nothing with the sender that it tests.
 */
#include "ask.h"
#include "bench.h"
#include "operator.h"
#include "options.h"
#include "port.h"
#include "store.h"
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <time.h>

/* The shortest sleep: with a line made faster, characters are moved in small heaps instead of one
 * by one. */
enum { CONTROL_SLEEP_NS = 500 * 1000 };

static volatile sig_atomic_t ended;

static void on_end(int signal_number)
{
	ended = 1;
}

static uint64_t clock_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (uint64_t)t.tv_sec * 1000000000ULL + (uint64_t)t.tv_nsec;
}

static bool add_port(struct bench *b, const struct options *o, const char *name, long number)
{
	struct port *p = &b->ports[b->port_count++];
	struct line_ears ears = bench_ears(p);

	p->bench = b;
	p->name = name;
	p->number = (uint16_t)number;
	p->char_ns = o->wire.char_ns;
	p->line = line_new(&o->wire, &ears);
	return port_open(p) && p->line;
}

static bool build(struct bench *b, const struct options *o)
{
	static const char *const names[BENCH_CHANNELS] = {"upper", "lower"};
	bool good;

	b->set = o->bench;
	b->verbose = o->verbose;
	b->powered = true;
	if (o->line >= 0)
		good = add_port(b, o, "line", o->line);
	else
		good = add_port(b, o, "line-upper", o->upper) &&
		       add_port(b, o, "line-lower", o->lower);
	if (!good) {
		fprintf(stderr, "bench-control: the line's port cannot be opened: %s\n",
		    strerror(errno));
		return false;
	}
	for (size_t i = 0; i < BENCH_CHANNELS; i++) {
		struct channel *c = &b->channels[i];

		c->name = names[i];
		c->port = &b->ports[b->port_count == 1 ? 0 : i];
		c->store = store_new(c->name, o->store, o->memory, o->battery);
		if (!c->store) {
			fprintf(stderr, "bench-control: %s: %s\n", o->store ? o->store : "memory",
			    strerror(errno));
			return false;
		}
		reader_init(&c->reader, c->store, o->bench.code, o->bench.refuse_same);
		if (b->set.words[0])
			reader_words(&c->reader, b->set.words, BENCH_CHANNELS);
	}
	return true;
}

static void tear_down(struct bench *b)
{
	for (size_t i = 0; i < BENCH_CHANNELS; i++) {
		if (b->channels[i].store)
			bench_reset(&b->channels[i]); /* a load under way leaves its stump */
		store_free(b->channels[i].store);
		execute_free(&b->channels[i].execute);
	}
	for (size_t i = 0; i < b->port_count; i++) {
		port_shut(&b->ports[i]);
		line_free(b->ports[i].line);
	}
}

static void announce(const struct bench *b, const struct operator_desk *o)
{
	for (size_t i = 0; i < b->port_count; i++)
		printf("%s 127.0.0.1:%u\n", b->ports[i].name, b->ports[i].number);
	if (o)
		printf("operator %s\n", operator_address(o));
	printf("ready\n");
	fflush(stdout);
}

static struct timespec sleep_for(const struct bench *b, const struct operator_desk *o, uint64_t now)
{
	uint64_t next = o ? operator_next(o) : LINE_NEVER;
	uint64_t ns;

	for (size_t i = 0; i < b->port_count; i++) {
		uint64_t due = port_next(&b->ports[i]);

		next = due < next ? due : next;
	}
	ns = next == LINE_NEVER ? 3600ULL * 1000000000 : next > now ? next - now : 0;
	if (ns < CONTROL_SLEEP_NS)
		ns = CONTROL_SLEEP_NS;
	return (struct timespec){
	    .tv_sec = (time_t)(ns / 1000000000), .tv_nsec = (long)(ns % 1000000000)};
}

/* Runs until told to end. */
static int loop(struct bench *b, struct operator_desk *o, const sigset_t *while_asleep)
{
	struct pollfd f[BENCH_CHANNELS + OPERATOR_POLLS];
	uint64_t now = clock_ns();

	while (!ended && !(o && operator_quits(o))) {
		struct timespec t = sleep_for(b, o, now);
		size_t n = b->port_count;

		for (size_t i = 0; i < n; i++)
			f[i] = port_pollfd(&b->ports[i]);
		if (o) {
			operator_polls(o, f + n);
			n += OPERATOR_POLLS;
		}
		if (ppoll(f, n, &t, while_asleep) < 0) {
			if (errno != EINTR) {
				perror("bench-control: poll");
				return 1;
			}
			continue;
		}
		now = clock_ns();
		for (size_t i = 0; i < b->port_count; i++)
			port_step(&b->ports[i], now, f[i].revents);
		if (o)
			operator_step(o, now, f + b->port_count);
		/* What the operator asked for begins now, not at the next character. */
		for (size_t i = 0; i < b->port_count; i++)
			port_step(&b->ports[i], now, 0);
	}
	return 0;
}

static void catch_signals(sigset_t *while_asleep)
{
	struct sigaction end = {.sa_handler = on_end}, ignore = {.sa_handler = SIG_IGN};
	sigset_t blocked;

	sigemptyset(&blocked);
	sigaddset(&blocked, SIGTERM);
	sigaddset(&blocked, SIGINT);
	sigprocmask(SIG_BLOCK, &blocked, while_asleep);
	sigdelset(while_asleep, SIGTERM);
	sigdelset(while_asleep, SIGINT);
	sigaction(SIGTERM, &end, NULL);
	sigaction(SIGINT, &end, NULL);
	sigaction(SIGPIPE, &ignore, NULL);
}

int main(int argc, char **argv)
{
	static struct bench b;
	struct operator_desk *o = NULL;
	struct options options;
	sigset_t while_asleep;
	int status = options_read(&options, argc, argv);

	if (status)
		return status == 1 ? 0 : 2;
	if (options.ask)
		return ask_run(options.ask);
	if (options.with_parent)
		prctl(PR_SET_PDEATHSIG, SIGTERM);
	catch_signals(&while_asleep);
	status = 1;
	if (!build(&b, &options))
		goto out;
	if (options.desk && !(o = operator_new(options.desk, &b))) {
		fprintf(stderr, "bench-control: %s: %s\n", options.desk, strerror(errno));
		goto out;
	}
	announce(&b, o);
	status = loop(&b, o, &while_asleep);
out:
	operator_free(o);
	tear_down(&b);
	return status;
}
