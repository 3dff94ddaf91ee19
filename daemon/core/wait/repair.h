/* The likeliest repair of a run in which a channel stands for ever. */
#ifndef WAIT_REPAIR_H
#define WAIT_REPAIR_H

#include "product.h"

/*
 * The channels of p stand where the run shown in out fails. Fills repair, channels, places, codes
 * and times of out. The walks are not moved. False without memory.
 */
bool wait_repair_find(const struct product *p, struct wait_result *out);

/* Into out, the places only where they have a line. */
void repair_set(struct wait_result *out, enum finding_id id, size_t a,
    const struct wait_place *at_a, uint32_t code_a, size_t b, const struct wait_place *at_b,
    uint32_t code_b);
/* The code of the channel's last rung that is kept, or NULL. */
const struct wait_code *repair_last_code(const struct wait_result *out, size_t channel);

enum { REPAIR_AHEAD = 64 };

/* Codes at which a channel meets another one, from where it stands on. */
struct ahead {
	uint32_t code[REPAIR_AHEAD + 1]; /* ends with 0 */
	struct wait_place at[REPAIR_AHEAD + 1];
	size_t n;   /* codes before the 0 */
	bool ended; /* that is all */
	bool far;   /* that is as far as was looked */
};

/* repair_ahead.c. What channel of p meets mate at. False without memory. */
bool repair_ahead(struct ahead *h, const struct product *p, const struct wait_walk *from,
    size_t channel, size_t mate);
/* On to the next stop, over conditions on unknown data by the way that goes on in the text, which
 * leaves a loop. */
void repair_next(struct wait_walk *w);
/* The same with the code at this place away, or code in its place (0: away), wherever it comes. */
struct ahead repair_edit(const struct ahead *h, const struct wait_place *at, uint32_t code);
bool repair_same_place(const struct wait_place *a, const struct wait_place *b);
/* How many codes agree from a's i and b's k on; far more when they agree to the end, or as far as
 * was looked. */
size_t repair_agree(const struct ahead *a, size_t i, const struct ahead *b, size_t k);
/* True when they agree to the end, or as far as was looked. */
bool repair_whole(size_t agreed);

/* repair_align.c. The likeliest mistake between channels a and b, a taken to be right. False
 * without memory. */
bool repair_align(const struct product *p, struct wait_result *out, size_t a, size_t b);

/* repair_repeats.c. Channel a stands at a code of a loop or repeated program, and would go on like
 * its mate b if it repeated that less often: out says so. -1 without memory, else whether. */
int repair_repeats(const struct product *p, struct wait_result *out, size_t a, size_t b);

#endif
