/* One machine on a share, as the tests of it set it up: old programs in two folders, an order for
 * two new ones. */
#ifndef SHARE_CASE_H
#define SHARE_CASE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>
#include "rig.h"

#define OLD_UP "%\nO4417(JOB 4417 REV B UPPER)\nG0X40.\nM30\n%\n"
#define OLD_LO "%\nO4417(JOB 4417 REV B LOWER)\nG0X42.\nM30\n%\n"
#define NEW_UP "%\nO4417(JOB 4417 REV C UPPER)\nG0X40.5\nM30\n%\n"
#define NEW_LO "%\nO4417(JOB 4417 REV C LOWER)\nG0X42.5\nM30\n%\n"

extern struct rig r;

int set_up(void **state);
int tear_down(void **state);

/* What the machine holds in its two folders; NULL: nothing. */
void holds(const char *up, const char *lo);

/* Nothing was left over. */
void clean(void);

/* The outcome, and that the carrier ended by itself. */
void ended(enum carry_error error, enum carry_held up, enum carry_held lo);

#endif
