/* Who has a serial port open. */
#ifndef PORT_HOLDER_H
#define PORT_HOLDER_H

#include "yoke/text.h"

/*
 * Look through the processes below proc ("/proc" but in tests) for those that have the device open,
 * this process left out, and put them behind out's text: "name (process 123), other (process 45)".
 * How many were found; those of other people may be hidden from us.
 */
unsigned port_holder_find(const char *proc, const char *device, struct text *out);

#endif
