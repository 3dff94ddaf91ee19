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

/*
 * The same by the lock file that programs leave in lock ("/run/lock" but in tests) for a port of
 * this name, LCK..NAME with the process number inside: Filesystem Hierarchy Standard 3.0, 5.9. 1
 * with "process 123 (lock file PATH)" behind out's text when that process lives and is not this
 * one, else 0. Tells of programs whose files are hidden from us.
 */
unsigned port_holder_lock(const char *lock, const char *name, struct text *out);

#endif
