/* The bench control's command line. */
#ifndef BENCH_OPTIONS_H
#define BENCH_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "bench.h"

struct options {
	long line, upper, lower; /* TCP ports; -1: none, 0: any free */
	const char *desk;        /* path of a Unix socket, or digits: a TCP port */
	const char *store;       /* folder for copies, or NULL */
	bool battery;            /* the copies are the memory: read at start */
	unsigned long baud;
	unsigned bits;       /* of one character on the wire */
	unsigned long drain; /* characters per second; 0: as they come */
	size_t memory;
	struct line_settings wire;
	struct bench_settings bench;
	bool verbose, with_parent;
	char **ask; /* the words after --ask, or NULL */
};

/*
 * Reads the command line into *o, with what follows from it computed (character time and so on).
 * Returns 0 to go on, 1 when help was printed, 2 when the use was wrong and that was told on
 * stderr.
 */
int options_read(struct options *o, int argc, char **argv);

#endif
