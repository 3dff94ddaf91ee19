/*
 * What a machine says of itself over MTConnect (ANSI/MTC1.4-2018): whether the path of a channel
 * executes a program, read from an agent's answer to "current".
 */
#ifndef EXECUTION_H
#define EXECUTION_H

#include <stdbool.h>
#include <stddef.h>

struct execution {
	char value[32];    /* of Execution, as it came: "ACTIVE" */
	char program[128]; /* of Program, "" when nothing was said */
	bool idle;         /* the path executes nothing and nothing waits to go on: READY or
	                      PROGRAM_COMPLETED, and none else */
};

/*
 * Read an MTConnectStreams document of n bytes. device: the name or uuid of the machine's device, ""
 * when the agent has only one. path: name or id of the channel's Path component. Returns true with
 * *out filled, or false with one line in why: the document is none, it is an agent's error, the device
 * or path is not in it or more than once, or its Execution was not said or is UNAVAILABLE.
 */
bool execution_read(const char *xml, size_t n, const char *device, const char *path,
    struct execution *out, char *why, size_t size);

#endif
