/* Channels from text, for the tests of wait codes. */
#ifndef CHANNELS_H
#define CHANNELS_H

#include "findings.h"
#include "wait.h"

struct channels {
	struct profile
	    profile; /* M200-M299, two channels, common switches, unless the test changes it */
	struct wait_flow *flow[YOKE_CHANNELS_MAX];
	size_t n;
	struct findings findings;
	struct wait_result result;
};

/* Begin without channels. */
void channels_begin(struct channels *c);
/* Add a channel that reads text; newlines end blocks. */
void channels_add(struct channels *c, const char *text);
/* Compare. */
void channels_prove(struct channels *c);
void channels_end(struct channels *c);

/* Begin, add two, compare; returns the verdict. The caller ends. */
enum verdict channels_two(struct channels *c, const char *upper, const char *lower);

/* How often a finding was found. */
unsigned channels_seen(const struct channels *c, enum finding_id id);

/* "201/201 202/203!": the rungs of the run shown, . for an end, ? for not followed, ! for one that
 * does not meet. */
const char *channels_rungs(const struct channels *c);

#endif
