/* Values of a profile's keys: text to value, or one line in why that says what is wrong and what is
 * allowed. */
#ifndef PROFILE_VALUE_H
#define PROFILE_VALUE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/profile.h"
#include "yoke/text.h"

/* Codes and program numbers reach so far: a bound that no machine comes near. */
enum { PROFILE_VALUE_CODE_MAX = 99999999 };

/* ASCII upper case. */
char profile_value_upper(char c);

/* True when n bytes are the same in any case of letters (ASCII). */
bool profile_value_same(const char *a, const char *b, size_t n);

/* yes or no. On false *out is unchanged; so below. */
bool profile_value_bool(const char *s, bool *out, struct text *why);

/* One of two words: *out is true for the second. */
bool profile_value_choice(
    const char *s, const char *no, const char *yes, bool *out, struct text *why);

/* One of n words (n at least 2): *which is its place. */
bool profile_value_word_of(
    const char *s, const char *const *words, uint32_t n, uint32_t *which, struct text *why);

/* A whole number from low to high. */
bool profile_value_number(
    const char *s, uint64_t low, uint64_t high, uint64_t *out, struct text *why);

/* A decimal number from low to high: digits, and a point with digits if any; no sign, no exponent.
 */
bool profile_value_decimal(const char *s, double low, double high, double *out, struct text *why);

/* A size in bytes from low to high; K, M and G (1024, 1024^2, 1024^3) may follow the number. */
bool profile_value_size(
    const char *s, uint64_t low, uint64_t high, uint64_t *out, struct text *why);

/*
 * Lists, separated by commas or blanks. Each call takes one item off *s: 1, 0 at the end, -1 with a
 * line in why. A name: up to YOKE_NAME_MAX letters, digits and _ - + . #, as file names and headers
 * may hold it. A range, with letter M: M200, M200-M299 or M200-299, up to high. A word: a letter
 * (forbidden with any number) or a letter and a number; written to word in upper case without
 * needless zeros, size is that of word.
 */
int profile_value_name(const char **s, char name[YOKE_NAME_MAX + 1], struct text *why);
int profile_value_range(
    const char **s, char letter, uint32_t high, struct profile_range *out, struct text *why);
int profile_value_word(const char **s, char *word, size_t size, struct text *why);

/* True when r and one of the n ranges of v have a code in common. */
bool profile_value_overlap(const struct profile_range *v, uint32_t n, struct profile_range r);

#endif
