/* The table [codes]: what miscellaneous codes mean on a machine. */
#ifndef PROFILE_CODE_H
#define PROFILE_CODE_H

#include "yoke/profile.h"

/*
 * [codes] M10 = GROUP: TEXT, or TEXT alone; a code that is there already is set anew. On
 * PROFILE_BAD one line was added to why, without the key, and p is as it was.
 */
enum profile_result profile_code_set(
    struct profile *p, const char *key, const char *value, struct text *why);

#endif
