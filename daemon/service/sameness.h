/* Whether what came from a machine is what was carried there, by meaning. */
#ifndef SAMENESS_H
#define SAMENESS_H

#include "inside.h"
#include "yoke/change.h"

struct sameness_result {
	uint32_t compared; /* channels of which both sides are known */
	bool different;    /* at least one differs by more than line ends, leader and blanks, or
	                      differs and could not be looked into */
	enum weight weight; /* of the heaviest difference; what is gone, lies in another channel's
	                       place or could not be looked into weighs refuse */
	char text[512];     /* one sentence */
	/* JSON, the caller frees: {"weight", "changes": [{channel, kind, what, old_line, new_line}],
	 * "channels": [{channel, sameness, weight, counts?, holds?}]}. sameness: as in yoke/change.h, or
	 * "gone", "not compared"; holds: the other channel whose program it is. */
	char *detail;
};

/* Who changed what a machine holds: nobody knows. */
#define SAMENESS_WHO "not known: somebody at the machine"

/* What before is when a carrier brought it there. */
#define SAMENESS_CARRIED "what was carried there"

/* Compare before and after of each part of m; what: how before is called. otherwise: NULL, or for each part
 * NULL or the sentence that says in its place that it is different. 0, -1 when memory ran out. */
int sameness_of_parts(struct service *s, const struct service_machine *m, const char *what,
    const struct event_part *part, const char *const *otherwise, uint32_t n,
    struct sameness_result *out);

#endif
