/* The keys of [wait]: how a machine writes that a channel waits, and for whom. */
#ifndef PROFILE_WAIT_H
#define PROFILE_WAIT_H

#include <stdbool.h>
#include "yoke/profile.h"

/*
 * Set one key from its value. codes: M codes and ranges, or none. partners: all, or a letter and
 * how its number names the channels, P digits or P mask. call: WORD({code},{channels}), empty for
 * none. send and receive: M codes and ranges, empty for none. alone: yes, no. skip: common,
 * separate. On false one line was added to why and p is as it was.
 */
bool profile_wait_codes(struct profile *p, const char *value, struct text *why);
bool profile_wait_partners(struct profile *p, const char *value, struct text *why);
bool profile_wait_call(struct profile *p, const char *value, struct text *why);
bool profile_wait_send(struct profile *p, const char *value, struct text *why);
bool profile_wait_receive(struct profile *p, const char *value, struct text *why);
bool profile_wait_alone(struct profile *p, const char *value, struct text *why);
bool profile_wait_skip(struct profile *p, const char *value, struct text *why);

/* Whether they fit each other; as profile_check. */
bool profile_wait_fit(const struct profile *p, struct text *why);

#endif
