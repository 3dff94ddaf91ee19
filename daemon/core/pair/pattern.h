/*
 * Patterns by which job, revision, channel and number are read from a file name or a header
 * comment: plain text with the placeholders {job}, {rev}, {channel} and {number}, each at most
 * once, with text between any two.
 *
 * Matching takes at most (length of pattern) x (length of text) steps, whatever the pattern and the
 * text.
 */
#ifndef PATTERN_H
#define PATTERN_H

#include <stdbool.h>
#include <stddef.h>
#include "yoke/text.h"

enum pattern_field { PATTERN_JOB, PATTERN_REV, PATTERN_CHANNEL, PATTERN_NUMBER, PATTERN_FIELDS };

enum { PATTERN_MAX = 255 }; /* bytes of a pattern */

/* What the placeholders stood for; s is NULL where the pattern has no such placeholder. Points into
 * the text. */
struct pattern_match {
	struct pattern_value {
		const char *s;
		size_t n;
	} field[PATTERN_FIELDS];
};

/* True when the pattern can be used; otherwise one line that says what is wrong and what is allowed
 * is added to why. */
bool pattern_check_name(const char *pattern, struct text *why);
bool pattern_check_header(const char *pattern, struct text *why);

/*
 * Match a whole file name (the last component of the path), in any case of letters. No placeholder
 * stands for nothing; where the text allows several readings, earlier placeholders take as much as
 * they can: with {job}-{rev}.nc, A-B-C.nc is job A-B, revision C. False: no match, or braces that do
 * not hold; *m is then zero. A pattern that its check above refuses for another reason may match;
 * what stands in *m lies inside the text all the same.
 */
bool pattern_name(const char *pattern, const char *path, struct pattern_match *m);

/*
 * Match a comment's inside (n bytes, without its parentheses), in any case of letters. Blanks and ,
 * ; : = separate; how many of them stand together does not matter, and a placeholder never takes
 * one of them. A pattern that begins with ( begins where the comment begins, one that ends with )
 * ends where it ends; without, it is looked for anywhere in the comment. False as above.
 */
bool pattern_header(const char *pattern, const char *comment, size_t n, struct pattern_match *m);

/*
 * True when the comment (n bytes, without its parentheses) holds one of the pattern's own words of
 * two letters or more, such as REV of "(REV {rev})", in any case of letters: it may be meant as the
 * header although it does not match. comment NULL: true when the pattern has such a word.
 */
bool pattern_header_like(const char *pattern, const char *comment, size_t n);

#endif
