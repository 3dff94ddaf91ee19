/*
 * A device server as RFC 2217 describes it, for tests: written from the RFC's tables apart from the
 * machine under test, with the faults that a server can have. It reads telnet by itself.
 */
#ifndef COMPORT_SERVER_H
#define COMPORT_SERVER_H

#include <stdbool.h>
#include "wire_test.h"

enum {
	SERVER_BYTES = 8192,
	/* Faults; bits of struct server.faults. */
	NO_COM_PORT = 1,       /* DONT COM-PORT */
	NO_BINARY = 2,         /* WONT BINARY */
	OTHER_BAUD = 4,        /* always another speed */
	OTHER_SIZE = 8,        /* always 8 bits */
	OTHER_PARITY = 16,     /* always none */
	OTHER_STOP = 32,       /* always 1 */
	OTHER_FLOW = 64,       /* always XON/XOFF */
	SIZE_TAKES_STOP = 128, /* setting flow control sets one stop bit */
	NO_MASKS = 256,        /* the masks are not answered */
	MUTE = 512,            /* no COM-PORT command is answered */
	TELLS_FIRST = 1024,    /* says its old speed before the answer */
};

struct server {
	unsigned faults;
	uint32_t baud;
	uint8_t size, parity, stop, flow, dtr, rts, line_mask, modem_mask;
	unsigned purged;
	bool com_port, binary_in, binary_out;
	uint8_t in[512], out[SERVER_BYTES], line[SERVER_BYTES];
	size_t in_n, out_n, line_n; /* line: characters that went to the control */
};

/* A server that was left at 1200 8O1 by somebody else. */
void server_init(struct server *s, unsigned faults);

/* Bytes from the client; what it answers is put behind out. */
void server_feed(struct server *s, const uint8_t *bytes, size_t n);

/* Say a COM-PORT command with n bytes. */
void server_says(struct server *s, uint8_t command, const void *bytes, size_t n);

/* Characters from the line to the client. */
void server_data(struct server *s, const uint8_t *bytes, size_t n);

#endif
