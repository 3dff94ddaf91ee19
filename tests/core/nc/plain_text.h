/*
 * Programs at random, for the tests that compare two ways of reading them: mostly plain blocks, and
 * among them everything that a block which looks plain at first can turn out to be.
 */
#ifndef PLAIN_TEXT_H
#define PLAIN_TEXT_H

#include <stdint.h>
#include "yoke/text.h"

/* A number below n; the same sequence for the same seed, which must not be 0. */
unsigned plain_text_draw(uint64_t *seed, unsigned n);

/* Append a program of that many blocks. t fails only without memory. */
void plain_text_program(struct text *t, uint64_t *seed, unsigned blocks);

#endif
