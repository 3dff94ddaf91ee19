/*
 * What the control on the bench does: its operator's keys, its alarms, and the faults that a test
 * asks for. Plain data, shared by the bench's own files; see control.c for how they hang together.
 */
#ifndef BENCH_BENCH_H
#define BENCH_BENCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "execute.h"
#include "line.h"
#include "punch.h"
#include "reader.h"

struct bench;
struct port;
struct store;

enum { BENCH_CHANNELS = 2, BENCH_FAULTS = 32, BENCH_SAYS = 32, BENCH_PENDING = 256 };

/* What the control's port does with a character of wrong parity, or of no code. */
enum bench_wrong { BENCH_ALARM = 0, BENCH_PASS, BENCH_DROP, BENCH_REPLACE /* by ? */ };

struct bench_settings {
	enum code code;
	enum bench_wrong wrong;
	uint8_t dc3;        /* the byte sent for DC3 */
	bool full_close;    /* memory full: the line is closed; else DC3 for ever */
	bool overrun_stops; /* an overrun ends the load; else the characters are just missing */
	bool refuse_same;   /* a program number that is there already is refused */
	bool say_alarms;    /* an alarm is told over the line in clear text */
	bool ignore_loss;   /* the load goes on when the connection comes back */
	bool ask_once;      /* DC1 is not said again to the next connection: a control knows none */
	unsigned faster;    /* all times are divided by this */
	uint64_t pause_ns;  /* between the end of one task and the next automatic one */
	struct punch_settings punch;
	const char *words[BENCH_CHANNELS]; /* by which it knows its channels; NULL: it has none */
};

struct outcome {              /* how the newest load or punch of a channel ended */
	uint64_t ended, told; /* how many ended; how many somebody waited for */
	bool good;
	char text[160];
};

struct channel {
	const char *name;
	struct port *port; /* the line that serves it */
	struct store *store;
	struct reader reader;
	bool drips; /* what it reads it executes, and does not store */
	struct execute execute;
	struct line_counts counts;
	struct line_counts last; /* as they were when the last load ended */
	uint64_t heard_in_load;  /* characters off the wire in this load, dropped ones too */
	uint64_t ignored;        /* characters that came while the reader was off */
	uint64_t dropped, twice, damaged;
	uint64_t overrun_before; /* counts.overrun when the load began */
	bool auto_read, auto_punch;
	bool held; /* DC3 for ever */
	bool full; /* because the memory is full */
	const char *alarm;
	struct outcome load, punch;
};

struct port { /* one serial line of the control, as a TCP device server shows it */
	struct bench *bench;
	const char *name;
	struct line *line;
	uint64_t char_ns;
	int listener, fd; /* -1: none */
	uint16_t number;  /* TCP port */
	bool online;      /* somebody is connected, or their last characters are still on the way */
	bool more;        /* the socket had more than the FIFO could take */
	uint64_t now;
	/* what the control does on this line */
	struct channel *reading, *punching; /* at most one of them */
	bool started;                       /* DC1 or DC2 has been sent for it */
	long punch_number;                  /* -1: what came with the newest load */
	struct channel *punch_next, *last_good;
	uint64_t auto_at;
	/* what goes out */
	uint8_t says[BENCH_SAYS];
	size_t say_count;
	uint8_t *tape;
	size_t tape_len, tape_at;
	bool host_stop; /* the other side sent DC3 while we punch */
	uint64_t out_at;
	uint8_t pending[BENCH_PENDING];
	size_t pending_len;
};

enum fault_kind {
	FAULT_DROP,    /* the n-th next character is lost */
	FAULT_TWICE,   /* the n-th next character comes twice */
	FAULT_NOISE,   /* the n-th next character has its lowest bit turned over */
	FAULT_HOLD,    /* DC3 for ever after n characters of a load */
	FAULT_POWER,   /* power gone after n characters */
	FAULT_SILENT,  /* a punch stops after n characters */
	FAULT_HANG_UP, /* the line is closed after n characters of a punch */
};

struct fault { /* see fault.h */
	enum fault_kind kind;
	uint64_t n;
	struct channel *channel; /* NULL: whichever loads or punches */
	bool punching;           /* what goes out counts, not what comes in */
};

struct bench {
	struct bench_settings set;
	struct channel channels[BENCH_CHANNELS];
	struct port ports[BENCH_CHANNELS];
	size_t port_count;
	bool powered;
	uint64_t wrong_bits; /* one bit in so many is wrong, both ways; 0: none */
	uint32_t seed;       /* of the chance in that */
	struct fault faults[BENCH_FAULTS];
	size_t fault_count;
	bool verbose;
};

/* The four ears of a line; ctx is the struct port. */
struct line_ears bench_ears(struct port *p);

/* Operator's keys. They return NULL, or why it cannot be. `now` in ns. */
const char *bench_read(struct channel *c);
const char *bench_drip(struct channel *c); /* read, execute, store nothing */
/* A program's number, STORE_NEWEST, or STORE_ALL; each: with a % and a tape of its own. */
const char *bench_punch(struct channel *c, long number, bool each);
const char *bench_go(struct channel *c);
void bench_reset(struct channel *c);

/* True when more than leader has come in the load under way. */
bool bench_begun(const struct channel *c);

/* DC3 for ever, as when the operator lets the control stand. */
const char *bench_hold(struct channel *c);

/* Power: off breaks off everything at once; a load under way leaves its stump. */
void bench_power_off(struct bench *b);
const char *bench_power_on(struct bench *b);

/* Told by the port: somebody is connected; they are gone and their last character is in; the tape
 * is out, or has stopped. */
void bench_connected(struct port *p);
void bench_lost(struct port *p);
void bench_punched(struct port *p, bool whole);

/* Automatic tasks that are due; and when the next one is (ns, LINE_NEVER). */
void bench_tick(struct port *p);
uint64_t bench_next(const struct port *p);

/* One line on stdout for whoever watches, when asked for. */
void bench_tell(const struct bench *b, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
