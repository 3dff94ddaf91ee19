/* One arrived file on its way into the vault: read in slices, hashed, tokenised, kept, judged. */
#ifndef TAKE_H
#define TAKE_H

#include "judge.h"

struct take;

enum take_result {
	TAKE_MORE,       /* a slice was read, there is more */
	TAKE_ENDED,      /* recorded in the open transaction; or nothing new; or torn: dropped */
	TAKE_UNREADABLE, /* the file cannot be read, or has no room; whatever else is in the
	                    transaction stands */
	TAKE_FAILED,     /* not recorded: the transaction has to be rolled back */
};

/* Take over file and its descriptor. NULL without memory: the descriptor is still the caller's. */
struct take *take_new(struct service *s, const struct intake_file *file);

/*
 * Make ready for the first step, which does it otherwise: not before, so that many waiting files
 * cost little memory. Outside of a transaction the vault also removes what a failure left of
 * others. False without memory.
 */
bool take_begin(struct take *t);

/* Do the next step within the open transaction of the ledger. slice: room for n bytes. */
enum take_result take_step(struct take *t, void *slice, size_t n);

/* Path below the folder; why the last step was TAKE_UNREADABLE or TAKE_FAILED; what was decided. */
const char *take_path(const struct take *t);
const char *take_why(const struct take *t);
const struct judgement *take_judgement(const struct take *t);

/* NULL does nothing. */
void take_free(struct take *t);

#endif
