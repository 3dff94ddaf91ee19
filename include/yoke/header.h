/* The header comment of a program, as text. Bytes in, bytes out. */
#ifndef YOKE_HEADER_H
#define YOKE_HEADER_H

#include <stddef.h>
#include "yoke/profile.h"
#include "yoke/text.h"

/*
 * The bytes of a program with another revision in its header comment, and in later comments of the
 * header's form that name the same revision; every other byte as it is. The header is looked for where
 * it is read from (profile's pattern 'header', before the first motion). 1 and out is the whole
 * program; 0, and out as it was: there is no header that names a revision, or it names this one; -1
 * without memory.
 */
int header_revise(const struct profile *p, const void *bytes, size_t n, const char *revision,
    struct text *out);

#endif
