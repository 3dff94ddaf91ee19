/* The keys of a machine's channels. */
#ifndef PROFILE_CHANNEL_H
#define PROFILE_CHANNEL_H

#include <stdbool.h>
#include "yoke/profile.h"

/* Add a channel of this name, with the defaults of its place and no alias. There must be room. */
void profile_channel_add(struct profile *p, const char *name);

/* [programs] channels: the names in order; those that the profile has keep what is set for them. As
 * profile_wait_codes. */
bool profile_channel_names(struct profile *p, const char *value, struct text *why);

/* [channel NAME] key = value; as profile_set, with why lacking the key. */
enum profile_result profile_channel_set(
    struct profile *p, const char *name, const char *key, const char *value, struct text *why);

#endif
