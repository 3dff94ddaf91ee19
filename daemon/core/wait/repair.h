/* The likeliest repair of a run in which a channel stands for ever. */
#ifndef WAIT_REPAIR_H
#define WAIT_REPAIR_H

#include "product.h"

/*
 * The channels of p stand where the run shown in out fails. Fills repair, channels, places, codes
 * and times of out. The walks are not moved. False without memory.
 */
bool wait_repair_find(const struct product *p, struct wait_result *out);

enum { REPAIR_AHEAD = 64 };

/* Codes at which a channel meets another one, from where it stands on. */
struct ahead {
	uint32_t code[REPAIR_AHEAD + 1]; /* ends with 0 */
	struct wait_place at[REPAIR_AHEAD + 1];
	size_t n;   /* codes before the 0 */
	bool ended; /* that is all */
};

/* repair_ahead.c. What channel of p meets mate at. False without memory. */
bool repair_ahead(struct ahead *h, const struct product *p, const struct wait_walk *from,
    size_t channel, size_t mate);
/* On to the next stop, over conditions on unknown data by the way that goes on in the text, which
 * leaves a loop. */
void repair_next(struct wait_walk *w);
/* How many codes agree from a's i and b's k on; far more when they agree to the end, or as far as
 * was looked. */
size_t repair_agree(const struct ahead *a, size_t i, const struct ahead *b, size_t k);
/* True when they agree to the end, or as far as was looked. */
bool repair_whole(size_t agreed);

/* repair_repeats.c. Channel a stands at a code of a loop or repeated program, and would go on like
 * its mate b if it repeated that less often: out says so. -1 without memory, else whether. */
int repair_repeats(const struct product *p, struct wait_result *out, size_t a, size_t b);

#endif
