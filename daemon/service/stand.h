/*
 * Who stands for a pair, beside the check: those who dropped its programs, a second person where the
 * profile asks for one, somebody who may release where the droppers may not, and whoever accepted it
 * despite a rule.
 */
#ifndef STAND_H
#define STAND_H

#include "inside.h"
#include "yoke/text.h"

enum { STAND_KEPT = 16 };

/* What was accepted of exactly these programs. */
struct stand {
	bool rule[FINDING_COUNT];
	bool rules; /* one at least */
	bool second, for_release;
	struct vault_acceptance kept[STAND_KEPT]; /* the first of them, for a person */
	size_t n;
};

/* 0 and *out; -1 when the vault cannot be read. */
int stand_read(struct service *s, const struct vault_pair *pair, struct stand *out);

/* Rules that were accepted weigh as warnings; an absolute one never does. */
void stand_ease(const struct stand *st, struct profile *p);

/* One line for each of what was kept. */
void stand_words(const struct stand *st, struct text *out);

enum stand_need {
	STAND_NOTHING = 0,
	STAND_SECOND,   /* another than those who dropped it */
	STAND_RELEASER, /* somebody with the duty 'release': one who dropped it has not */
};

/*
 * What a pair that the check lets through still waits for under the profile of its area, in words in
 * why. -1 when the vault cannot be read.
 */
int stand_needs(struct service *s, const struct profile *p, const struct vault_pair *pair,
    const struct stand *st, char *why, size_t n);

/*
 * Whether who is certainly another than everybody who dropped a program of the pair: 1; 0 and why not,
 * also when nobody knows; -1 and why when the vault cannot be read.
 */
int stand_is_second(struct service *s, const struct vault_pair *pair, const char *who, char *why, size_t n);

/* Who dropped its programs, as a JSON array of {channel, who}; who is null where it is not known. */
json_t *stand_droppers(struct service *s, const struct vault_pair *pair);

/* Whether a second person is asked for anywhere: then it matters who else may write a file. */
bool stand_matters(const struct service *s);

#endif
