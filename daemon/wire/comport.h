/*
 * The client's side of RFC 2217, without I/O: a serial port of a device server, set over telnet.
 * Each value is asked for, its answer compared, and the whole read once more before the port counts
 * as open; afterwards a harmless question now and then tells a server that is gone.
 *
 *   AGREEING --COM-PORT and BINARY both ways--> SETTING --values right, port emptied--> OPEN
 *       `------------------------+------------------------------------------------------'
 *                                `--> FAILED, with a reason
 *
 * Source: RFC 2217 (values from memory). All times are milliseconds of one clock of the caller's
 * that never runs backwards.
 */
#ifndef COMPORT_H
#define COMPORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/line.h"

struct comport;

#define COMPORT_NEVER UINT64_MAX

/* Commands, client to server; the server's answer is the command plus COMPORT_ANSWER. */
enum comport_command {
	COMPORT_SIGNATURE = 0,
	COMPORT_SET_BAUDRATE = 1, /* 4 bytes, most significant first; 0 asks */
	COMPORT_SET_DATASIZE = 2, /* 5 to 8; 0 asks */
	COMPORT_SET_PARITY = 3,   /* enum comport_parity; 0 asks */
	COMPORT_SET_STOPSIZE = 4, /* 1, 2, 3 for 1.5; 0 asks */
	COMPORT_SET_CONTROL = 5,  /* enum comport_control */
	COMPORT_NOTIFY_LINESTATE = 6,
	COMPORT_NOTIFY_MODEMSTATE = 7,
	COMPORT_FLOWCONTROL_SUSPEND = 8,
	COMPORT_FLOWCONTROL_RESUME = 9,
	COMPORT_SET_LINESTATE_MASK = 10,
	COMPORT_SET_MODEMSTATE_MASK = 11,
	COMPORT_PURGE_DATA = 12, /* 1 receive, 2 transmit, 3 both */
	COMPORT_ANSWER = 100,
};

enum comport_parity { COMPORT_NONE = 1, COMPORT_ODD = 2, COMPORT_EVEN = 3 };

enum comport_control {
	COMPORT_FLOW_ASK = 0,
	COMPORT_FLOW_NONE = 1, /* outbound, or both where the server has one setting */
	COMPORT_FLOW_XON = 2,
	COMPORT_FLOW_HARDWARE = 3,
	COMPORT_DTR_ON = 8,
	COMPORT_DTR_OFF = 9,
	COMPORT_RTS_ON = 11,
	COMPORT_RTS_OFF = 12,
	COMPORT_FLOW_DCD = 17, /* outbound */
	COMPORT_FLOW_DSR = 19, /* outbound */
};

enum comport_line { /* bits of NOTIFY-LINESTATE */
	COMPORT_LINE_OVERRUN = 2,
	COMPORT_LINE_PARITY = 4,
	COMPORT_LINE_FRAMING = 8,
	COMPORT_LINE_BREAK = 16,
	COMPORT_LINE_ERRORS = 30,
};

enum comport_modem { /* bits of NOTIFY-MODEMSTATE */
	COMPORT_MODEM_CTS = 16,
	COMPORT_MODEM_DSR = 32,
	COMPORT_MODEM_RI = 64,
	COMPORT_MODEM_CD = 128,
};

struct comport_settings {
	uint32_t baud;       /* bits per second, not 0 */
	uint8_t size;        /* 5 to 8 */
	uint8_t parity;      /* enum comport_parity */
	uint8_t stop;        /* 1, 2, or 3 for 1.5 */
	uint8_t flow;        /* COMPORT_FLOW_... but not ASK */
	uint8_t dtr, rts;    /* COMPORT_DTR_..., COMPORT_RTS_...; 0: leave it to the server */
	uint32_t answer_ms;  /* most for one answer */
	uint32_t silence_ms; /* the server is asked when it said nothing for this long; 0: never */
};

enum comport_state { COMPORT_AGREEING = 0, COMPORT_SETTING, COMPORT_OPEN, COMPORT_FAILED };

enum comport_reason {
	COMPORT_OK = 0,
	COMPORT_NO_TELNET, /* no answer to any option: the server speaks plain TCP at this port */
	COMPORT_REFUSED,   /* COM-PORT was refused, or taken back */
	COMPORT_NO_BINARY, /* BINARY was refused or taken back: characters would be changed */
	COMPORT_NO_ANSWER, /* to .command */
	COMPORT_DIFFERS,   /* .command: .asked, and the answer was .answered, twice */
	COMPORT_CHANGED,   /* the same, after the port was open */
	COMPORT_GONE,      /* the server does not answer any more */
	COMPORT_ENDLESS,   /* it asks without end, or takes nothing */
};

struct comport_outcome {
	enum comport_state state;
	enum comport_reason reason; /* OK unless FAILED */
	uint8_t command;            /* what reason speaks of */
	uint32_t asked, answered;
	uint32_t overrun, parity, framing, brk; /* errors that the server told, each notice anew */
	uint8_t line_mask;         /* of COMPORT_LINE_ERRORS: what the server promised to tell */
	uint8_t modem, modem_mask; /* last state told; what it promised to tell */
	bool modem_known;
	bool suspended;   /* the server asked us to send no data */
	const char *said; /* what it said in clear text before the port was open; lives as long */
};

/* The RFC's values for a line's speed, framing and flow control. XON/XOFF is ours, not the
 * server's: DC1 and DC3 must come to us. */
struct comport_settings comport_settings_of(const struct line_serial *line);

/* Begin; settings is copied. NULL without memory. Freed by comport_free, which takes NULL. */
struct comport *comport_new(const struct comport_settings *settings, uint64_t now);
void comport_free(struct comport *c);

/*
 * What the server sent. The characters of the line among it are written to data, which has room for
 * n and may be the same memory as in; none before the port is open, since those are old or garbled.
 * How many.
 */
size_t comport_feed(struct comport *c, uint64_t now, const void *in, size_t n, void *data);

/* Let time pass: deadlines, and the question that tells a dead server. */
void comport_tick(struct comport *c, uint64_t now);

/* When comport_tick wants to be called, or COMPORT_NEVER. */
uint64_t comport_deadline(const struct comport *c);

/* Characters for the line. How many of the n were taken: none before OPEN or while suspended. */
size_t comport_write(struct comport *c, const void *bytes, size_t n);

/* What is to be sent to the server now, *n bytes; valid until the next call. */
const uint8_t *comport_pending(const struct comport *c, size_t *n);

/* n bytes of it went. */
void comport_gone(struct comport *c, size_t n);

/* The network still holds what we said: a missing answer is no silence of the server's yet. */
void comport_waits(struct comport *c, uint64_t now);

void comport_outcome(const struct comport *c, struct comport_outcome *o);

/* For a person: what happened and what to do, into text. "" while nothing failed. */
void comport_says(const struct comport *c, char *text, size_t size);

#endif
