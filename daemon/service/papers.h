/*
 * The programs that a judgement is about, as papers: read from the vault's newest arrivals, checked with
 * what was accepted of them and with what only the vault knows. Records nothing.
 */
#ifndef PAPERS_H
#define PAPERS_H

#include "judge.h"
#include "stand.h"

struct papers {
	struct exam_paper v[YOKE_CHANNELS_MAX];
	size_t n;
	const struct profile *profile;
	const struct judge_arrival *in;
	struct vault_pair key; /* area, job, revision, programs */
	struct stand stand;
	struct profile eased; /* the profile with what was accepted; used when there is anything */
};

/* A name as the vault takes it. */
void papers_name(char out[YOKE_NAME_MAX + 1], const char *s);

/* Take the newest arrivals of this pair, in the order of the profile's channels. 0, -1. */
int papers_take(struct service *s, struct papers *p, const char *area, const char *job,
    const char *revision);

/* Whether these are exactly the programs of the pair as it stands. */
bool papers_are(const struct papers *p, const struct vault_pair *pair);

/*
 * What was accepted of these programs, and the profile with it: papers_take or the caller has filled v.
 * A program that was read with the profile as it is has to be read again then. 0, -1.
 */
int papers_stand(struct service *s, struct papers *p, const char *area, const char *job,
    const char *revision);

/* papers_stand, the check, and what only the vault knows: this revision with other content, this number
 * in another job. 0 and *e, which the caller frees; -1, and why on stderr or in the vault's error. */
int papers_examine(struct service *s, struct papers *p, const char *area, const char *job,
    const char *revision, struct exam *e);

/* The sentence by which the check holds a pair, "" when it does not. */
void papers_refusal(const struct pair_report *r, char *out, size_t n);

#endif
