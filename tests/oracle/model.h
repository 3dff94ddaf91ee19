/* What a model checker says of invented jobs. */
#ifndef MODEL_H
#define MODEL_H

#include <stdint.h>

enum {
	RUN_GOOD = 1,     /* some run ends well, or never comes to an end */
	RUN_BLOCKED = 2,  /* some run stands for ever: a channel waits */
	RUN_UNKNOWN = 4,  /* some run comes to a place that nobody can follow */
	RUN_LARGE = 8,    /* with setting 0: the job was too large to be searched */
	RUN_UNCLEAR = 16, /* with setting 0: whether its runs without end count is not agreed */
};

struct model_count {
	uint64_t states, blocked; /* final states in which a channel waits or is lost */
	uint64_t errors;          /* invalid end states, as the checker counts them */
};

/*
 * Ask spin of jobs from, from + 1, .. to - 1 in one model; found[i * JOB_SETTINGS + s] gets the
 * runs of job from + i under setting s, 0 where the setting is none of the job. folder: for files,
 * is there. 0, -1 when a tool failed; it has said why.
 */
int model_ask(
    const char *folder, uint64_t from, uint64_t to, uint8_t *found, struct model_count *count);

#endif
