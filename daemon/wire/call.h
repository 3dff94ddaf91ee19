/*
 * A call from the machine's own keyboard: what a punched text asks for.
 *
 *   %
 *   O9999
 *   (YOKE BRING J4417 REV C BADGE 17)
 *   M30
 *   %
 *
 * In one comment, words in this order, in any case, with blanks between them:
 *   MARK BRING JOB [REV REVISION] [BADGE NUMBER]
 *   MARK LAST GOOD [BADGE NUMBER]
 *   MARK PROVEN [JOB [REV REVISION]] [BADGE NUMBER]
 * Beside the comment the text may hold %, a program number, sequence numbers and a program's end, and
 * nothing else: a program that could move something is no call, whatever its comments say.
 */
#ifndef CALL_H
#define CALL_H

#include <stddef.h>
#include <stdint.h>
#include "yoke/call.h"
#include "yoke/limits.h"

enum { CALL_LINES_MAX = 32, CALL_BADGE_MAX = 31 };

enum call_kind {
	CALL_BRING = 0,
	CALL_LAST_GOOD,
	CALL_PROVEN,
};

enum call_fault {
	CALL_OK = 0,
	CALL_NONE,     /* no comment begins with the mark: a program like others */
	CALL_TWO,      /* more than one comment does */
	CALL_OTHER,    /* the text holds words of a program, or is too long for a call */
	CALL_UNCLOSED, /* the comment has no ) in its line */
	CALL_UNKNOWN,  /* none of the things that can be asked for */
	CALL_NO_JOB,   /* BRING, and no job */
	CALL_NO_VALUE, /* REV or BADGE, and nothing behind it */
	CALL_REST,     /* more words than a call has */
	CALL_BYTE,     /* a job, revision or badge with a character that none can have */
	CALL_LONG,     /* a job, revision or badge longer than one can be */
};

/* Plain data, filled by call_read. Strings are as they were punched. */
struct call {
	enum call_kind kind;
	char job[YOKE_NAME_MAX + 1]; /* "" when none was said */
	char revision[YOKE_NAME_MAX + 1];
	char badge[CALL_BADGE_MAX + 1];
	uint64_t line; /* of the comment, or of what is wrong, from 1; 0: the text as a whole */
};

/*
 * Read a text of n bytes in canonical form (canonical.h). words: none of them empty. *out is filled
 * with CALL_OK; with a fault only its line is.
 */
enum call_fault call_read(
    const void *text, size_t n, const struct call_words *words, struct call *out);

/* For a person: what is wrong and what to do. A constant string, never NULL. */
const char *call_says(enum call_fault fault);

/*
 * NULL when the words fit together: each printable ASCII without ( ) ; % and not empty; none of
 * bring, last_good and proven the beginning of another; revision and badge different. Else a constant
 * sentence.
 */
const char *call_words_wrong(const struct call_words *words);

#endif
