/* The inside of a report on a pair, for the files that make it, print it and draw it. */
#ifndef PAIR_STATE_H
#define PAIR_STATE_H

#include "findings.h"
#include "program_state.h"
#include "wait.h"
#include "yoke/pair.h"

/* One channel of the machine in the report. */
struct lane {
	const struct program *program; /* NULL: its program is missing */
	int proved;                    /* its index in the result of the proof; -1 when not in it */
};

struct pair_report {
	const struct profile *profile;
	struct lane
	    lane[YOKE_CHANNELS_MAX]; /* one for each of the profile's channels, in its order */
	size_t programs;
	struct findings findings;
	bool proved;               /* result is valid */
	bool unreadable;           /* a program cannot be read so that its wait codes are certain */
	int of[YOKE_CHANNELS_MAX]; /* the lane of each channel in the result */
	struct wait_result result;
	enum verdict verdict;
	const char *job, *revision;
};

/* The channel's name. */
static inline const char *lane_name(const struct pair_report *r, int lane)
{
	return r->profile->channel[lane].name;
}

#endif
