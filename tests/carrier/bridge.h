/*
 * The way from the carrier to the bench control, of each kind that there is: straight to its TCP
 * port, as over a device server that passes eight bits; a device server with RFC 2217; a local
 * port. The last two have a UART of 7E2: it makes and checks the parity, and tells what it finds
 * wrong.
 */
#ifndef BRIDGE_H
#define BRIDGE_H

#include <stdbool.h>
#include <stdint.h>
#include "rig.h"

enum bridge_kind { BRIDGE_RAW = 0, BRIDGE_COMPORT, BRIDGE_PORT, BRIDGE_KINDS };

/* What happens on the way; characters are counted from 1, 0: nothing. */
struct bridge_fault {
	unsigned pull_sent;  /* behind so many that we sent, the server or adapter is gone */
	unsigned pull_back;  /* the same of those that the control sent behind its %, */
	unsigned break_sent; /* the line gives a break then */
	unsigned break_back;
	unsigned blind_back; /* from this one on ten are lost: an overrun */
	bool untold;         /* wrong characters are dropped, and nobody says so */
};

/*
 * Set up the line of item 0 of the rig's order to the bench control at this TCP port: address, and
 * what else the kind needs. For BRIDGE_PORT the environment is set for the carrier.
 */
void bridge_open(
    enum bridge_kind kind, unsigned bench_port, const struct bridge_fault *fault, struct rig *r);
void bridge_close(void);

#endif
