/*
 * The telnet layer of a device server, without I/O: options agreed or refused, data with IAC
 * doubled, commands and subnegotiations taken out of the stream. Everything is bounded: a peer can
 * neither make it grow nor keep it answering.
 *
 * Sources: RFC 854 (commands), RFC 855 (options, subnegotiation), RFC 856 (BINARY), RFC 1143 (when
 * to answer); numbers from memory.
 */
#ifndef TELNET_H
#define TELNET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* RFC 854, TELNET COMMAND STRUCTURE. */
enum telnet_command {
	TELNET_SE = 240,
	TELNET_NOP = 241,
	TELNET_DM = 242,
	TELNET_BRK = 243,
	TELNET_SB = 250,
	TELNET_WILL = 251,
	TELNET_WONT = 252,
	TELNET_DO = 253,
	TELNET_DONT = 254,
	TELNET_IAC = 255,
};

enum telnet_option {
	TELNET_BINARY = 0,    /* RFC 856 */
	TELNET_ECHO = 1,      /* RFC 857 */
	TELNET_SGA = 3,       /* RFC 858, suppress go ahead */
	TELNET_COM_PORT = 44, /* RFC 2217 */
};

enum {
	TELNET_SUB_MAX = 256,  /* bytes of a subnegotiation, option included; longer ones are
	                          dropped */
	TELNET_OUT_MAX = 2048, /* bytes that wait to be sent */
	TELNET_ANSWERS = 64,   /* times that a peer's wishes are answered, in all */
};

enum telnet_event {
	TELNET_NOTHING = 0,
	TELNET_AGREED,    /* option .option is now on: at our side if .ours, else at the peer's */
	TELNET_REFUSED,   /* it is off: refused, or taken back */
	TELNET_SUBOPTION, /* .sub holds .sub_n bytes, the option first */
	TELNET_COMMANDED, /* .command: another command, without data */
};

enum telnet_side { TELNET_OFF = 0, TELNET_ASKED_ON, TELNET_ON, TELNET_ASKED_OFF };

/* Its fields are telnet.c's; read only those named above. No pointers: it may be copied. */
struct telnet {
	uint8_t us[256], him[256];      /* enum telnet_side */
	bool may_us[256], may_him[256]; /* what we agree to when asked */
	enum {
		TELNET_DATA,
		TELNET_CR,
		TELNET_AFTER_IAC,
		TELNET_NAME,
		TELNET_IN_SUB,
		TELNET_SUB_IAC
	} state;
	uint8_t verb;
	uint8_t option, command;
	bool ours;
	uint8_t sub[TELNET_SUB_MAX];
	size_t sub_n;
	bool sub_long;
	unsigned answers;
	bool broken; /* the peer asked without end, or nobody takes what we say: give it up */
	uint8_t out[TELNET_OUT_MAX];
	size_t out_n;
};

/* Begin: every option off, none agreed to. */
void telnet_init(struct telnet *t);

/* Agree to the option when asked: at our side, at the peer's. */
void telnet_may(struct telnet *t, uint8_t option, bool ours, bool his);

/* Ask for an option: WILL (ours) or DO. Nothing when it is on or asked for already. */
void telnet_ask(struct telnet *t, uint8_t option, bool ours);

/*
 * Take in what the peer sent, up to and with the first event; *event is what happened. Data is
 * written behind data[*data_n], which has room for n bytes and may be the same memory as in. How
 * many of the n bytes were used: go on with the rest.
 */
size_t telnet_feed(struct telnet *t, const uint8_t *in, size_t n, uint8_t *data, size_t *data_n,
    enum telnet_event *event);

/*
 * Put data into the way out, IAC doubled; CR is followed by NUL unless our side is BINARY. At most
 * room bytes may lie there afterwards. How many of the n bytes were taken.
 */
size_t telnet_put(struct telnet *t, const void *bytes, size_t n, size_t room);

/* Put a subnegotiation there, IAC doubled. False when there is no room, and nothing was put. */
bool telnet_put_sub(struct telnet *t, const void *bytes, size_t n);

/* The first n bytes of out were sent. */
void telnet_gone(struct telnet *t, size_t n);

#endif
