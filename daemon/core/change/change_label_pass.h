/* One pass over a program, for the sequence numbers that its words lead to. */
#ifndef CHANGE_LABEL_PASS_H
#define CHANGE_LABEL_PASS_H

#include "change_label.h"

/*
 * Fill in where the words of r, one or more, lead to: part, target, called and sign; calls are
 * sorted and each is kept once. Sets many when the calls of programs are too many to be followed.
 * 0, -1 without memory.
 */
int change_label_pass(const struct change_side *s, struct change_refs *r);

#endif
