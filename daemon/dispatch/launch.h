/* Start a carrier's process: exec, no descriptor but its own end of the socket pair, default
 * signals. */
#ifndef LAUNCH_H
#define LAUNCH_H

#include <sys/types.h>

struct launch {
	pid_t pid;
	int pidfd; /* readable when the process has ended */
	int sock;  /* our end: SOCK_SEQPACKET, non-blocking */
};

/*
 * Start path with the socket as descriptor CARRY_FD, /dev/null as input and output, our error
 * output, and a process group of its own, so that a Ctrl-C at the service's terminal is the
 * service's to handle. 0, or a negative errno.
 */
int launch_start(struct launch *s, const char *path);

#endif
