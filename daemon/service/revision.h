/* Which of two revisions is the later one. */
#ifndef REVISION_H
#define REVISION_H

#include <stdbool.h>

/*
 * True when a is later than b for certain: numbers count by value, letters as drawings do (A to Z,
 * then AA; common practice), case does not count, and "C1" is later than "C". False also when the
 * two are of different kinds, such as "7" and "C", and nobody can tell.
 */
bool revision_later(const char *a, const char *b);

#endif
