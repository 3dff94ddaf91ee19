/* Does a file end as a program ends? (Rule in intake.h.) */
#ifndef YOKE_INTAKE_ENDMARK_H
#define YOKE_INTAKE_ENDMARK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What the beginning of the file tells. */
struct endmark_head {
	bool percent;     /* the first text is `%` */
	uint64_t first;   /* offset of the first character that is no filler; meaningless if all is
	                     filler */
	bool only_filler; /* no such character was found */
};

/* Judges the first n bytes. Filler is NUL, DEL, Ctrl-Z, DC1..DC4, blanks, line ends, a byte order
 * mark. */
void endmark_read_head(const unsigned char *bytes, size_t n, struct endmark_head *head);

/*
 * Judges the last n bytes, which begin at offset `at` of the file. True if they end with an end
 * mark. A last line that begins before `at` has none.
 */
bool endmark_in_tail(
    const struct endmark_head *head, const unsigned char *bytes, size_t n, uint64_t at);

/*
 * Reads what is needed of fd (size bytes long; the offset is left alone) and judges it: at most 64
 * KiB of filler at either end. Returns 1 with mark, 0 without, a negative errno when it cannot be
 * read.
 */
int endmark_of_file(int fd, uint64_t size);

#endif
