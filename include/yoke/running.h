/*
 * How a machine tells whether it is running, so that no program is replaced meanwhile: a file on its
 * share, or an MTConnect agent (ANSI/MTC1.4). No answer means that nothing is replaced.
 */
#ifndef YOKE_RUNNING_H
#define YOKE_RUNNING_H

#include <stdint.h>
#include "yoke/limits.h"

enum running_kind {
	RUNNING_NOT_TOLD = 0, /* nobody is asked */
	RUNNING_FILE,         /* the file is there while the machine runs */
	IDLE_FILE,            /* the file is there while the machine does not run */
	RUNNING_AGENT,
};

struct running {
	enum running_kind kind;
	char file[YOKE_NAME_MAX + 1];   /* in the share's root */
	char agent[YOKE_PATH_MAX + 1];  /* URL of the agent, http:// or https://, without "current" */
	char device[YOKE_NAME_MAX + 1]; /* name or uuid; "" when the agent has one device */
	char path[YOKE_CHANNELS_MAX][YOKE_NAME_MAX + 1]; /* name or id of each channel's Path, by the
	                                                    profile's channel index */
	uint32_t answer_ms; /* for the agent's answer */
};

#endif
