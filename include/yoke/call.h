/*
 * The words of a call: a comment in a tiny program that an operator writes at the machine's own
 * keyboard and punches, such as (YOKE BRING J4417 REV C). Our own form; which words it has is a
 * setting, since not every keyboard has every letter and not every shop speaks English.
 */
#ifndef YOKE_CALL_H
#define YOKE_CALL_H

enum { YOKE_CALL_WORD_MAX = 32 }; /* bytes of one setting, which may be several words */

struct call_words {
	char mark[YOKE_CALL_WORD_MAX + 1];      /* a comment that begins with it is a call */
	char bring[YOKE_CALL_WORD_MAX + 1];     /* + JOB: carry that job's pair */
	char last_good[YOKE_CALL_WORD_MAX + 1]; /* carry the last good pair */
	char proven[YOKE_CALL_WORD_MAX + 1];    /* what the machine holds made a good part */
	char revision[YOKE_CALL_WORD_MAX + 1];  /* + REVISION, behind JOB */
	char badge[YOKE_CALL_WORD_MAX + 1];     /* + NUMBER: who calls */
};

#define CALL_WORDS_DEFAULT                                                                         \
	{                                                                                          \
		"YOKE", "BRING", "LAST GOOD", "PROVEN", "REV", "BADGE"                             \
	}

#endif
