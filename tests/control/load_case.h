/* The bench of most tests of its loads: twenty times faster than 9600 baud, and one program. */
#ifndef LOAD_CASE_H
#define LOAD_CASE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "bed.h"

/* Times of the line divided by this; 9600 baud 7E2 is 872.73 characters a second (start + 7 +
 * parity + 2 stop). */
#define FASTER "20"
#define CPS (872.73 * 20)

/* The program, and the same with even parity. */
extern char text[BED_TEXT];
extern uint8_t iso[BED_TEXT];
extern size_t text_len;

/* Make the program anew, of about so many bytes. */
void make_text(size_t size);

/* Start with the options of most tests and up to four more words; stop and tidy up. */
void start(struct bed *b, const char *a1, const char *a2, const char *a3, const char *a4);
void end(struct bed *b);

/* Wait for DC1, send the program at once, and wait until the channel has it. */
void load(struct bed *b, int fd, const char *channel);

#endif
