/* From the address of a machine's file to the one local port that is meant, or the reason why there
 * is none. */
#ifndef PORT_FIND_H
#define PORT_FIND_H

#include "fault.h"
#include "port_list.h"

/*
 * Find the port among those of sys ("/sys" but in tests). 0 with *found filled; -1 with the fault
 * set: ORDER for an address that names no port or that several ports answer to, OFFLINE for a port
 * that is not there. The fault's sentence names the ports that are.
 */
int port_find(
    const char *sys, const char *address, uint32_t item, struct port *found, struct fault *f);

#endif
