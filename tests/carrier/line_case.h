/* One machine on a serial line, as the tests of it set it up: an order for two programs, a desk
 * that plays the control. */
#ifndef LINE_CASE_H
#define LINE_CASE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>
#include "desk.h"

#define UP "%\nO4417(JOB 4417 REV C UPPER)\nN10G0X40.5\nM201\nM30\n%\n"
#define LO "%\nO4417(JOB 4417 REV C LOWER)\nN10G0X42.5\nM201\nM30\n%\n"

enum { DC1 = 0x11, DC2 = 0x12, DC3 = 0x93, DC4 = 0x14 };

extern struct rig r;
extern struct desk d;

int set_up(void **state);
int tear_down(void **state);

/* The desk says one character. */
void say(struct desk *k, unsigned char c);

/* Both channels on the desk's one line. */
void begin(void (*script)(struct desk *));

/* The outcome. */
void ended(enum carry_error error, enum carry_held up, enum carry_held lo);

/* A program of 20,000 characters for the first channel. */
extern char long_program[20001];
void make_long(void);

/* A script: a control that never asks, to which nothing may be sent. */
void never_asks(struct desk *k);

#endif
