/* What the files that write the setup sheet share. */
#ifndef SETUP_WORDS_H
#define SETUP_WORDS_H

#include "yoke/sheet.h"
#include "yoke/setup.h"

enum { SETUP_WORDS = 128 };

/* "N30, line 12"; with the file where it is not the channel's own. "" for no place. out, or static
 * text. */
const char *setup_words_where(
    char out[SETUP_WORDS], const struct setup_channel *c, const struct setup_place *p);

/* Up to four digits behind the point, without zeros at the end. out. */
const char *setup_words_number(char out[SETUP_WORDS], double v);

/* setup_channel.c: one channel's part of the sheet. */
void setup_channel_sheet(struct sheet *s, const struct setup_channel *c);

#endif
