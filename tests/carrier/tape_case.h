/* What a control punches, as the tests of it say it: tapes in ISO code over a desk. */
#ifndef TAPE_CASE_H
#define TAPE_CASE_H

#include "line_case.h"

#define OTHER "O0001(WARM UP)\nM30\n"
#define MACRO "O9001\nG0\nM99\n"
#define BODY(text) "O4417(JOB 4417 REV C " text ")\nN10G0X42.5\nM201\nM30\n"

/* Say a text with leader, DC2, DC4 and trailer, lines ended as some controls do; or without DC4. */
void punch(struct desk *k, const char *text);
void punch_without_end(struct desk *k, const char *text);

/* Both channels are read back. */
void read_backs(void);

/* A script's part: ask, and take a program. */
void load(struct desk *k);

/* What punches_tapes() says one after the other, the second unless it is NULL. */
extern const char *tape[2];
void punches_tapes(struct desk *k);

/* Fetch both channels, which punch these; the upper one is expected to hold UP. */
void fetch(const char *up, const char *lo);

/* A content of an item: role, number, text. */
void content(uint32_t item, unsigned i, enum carry_role role, const char *note, const char *text);

#endif
