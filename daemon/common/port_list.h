/* The serial ports of this computer, with what identifies each, read from sysfs. Nothing is opened
 * but files of sysfs. */
#ifndef PORT_LIST_H
#define PORT_LIST_H

#include <stdbool.h>
#include <stddef.h>
#include "port_address.h"

struct port {
	char name[32];  /* the kernel's name in /dev: ttyS0 */
	char path[256]; /* the place where it is plugged in, "" when it cannot be told */
	bool usb;
	char vendor[5], product[5]; /* of a USB adapter, hexadecimal */
	char serial[128]; /* its serial number, "" for none or one that is not plain text */
	char title[128];  /* what the adapter calls itself, else its driver; "" for nothing */
};

struct port_list {
	struct port *v; /* by name */
	size_t n;
};

/*
 * Read all ports of sys, which is "/sys" but in tests. Ports without hardware, virtual consoles and
 * pseudo-terminals are left out. 0, or a negative errno; free with port_list_free in either case.
 *
 * The place is told as udev's path_id does, so that it equals the name in /dev/serial/by-path; a
 * port of a plug-and-play bus, which has no name there, gets its place on that bus.
 */
int port_list_read(const char *sys, struct port_list *out);
void port_list_free(struct port_list *l);

/* True when the address means this port. */
bool port_list_is(const struct port *p, const struct port_address *a);

/* The identity of port i to copy into a machine's file: the first of serial number, vendor with it,
 * name and place (a plug-in card: place and name) that no other port has; nothing for none. */
void port_list_identity(const struct port_list *l, size_t i, struct text *out);

#endif
