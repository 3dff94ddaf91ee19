/*
 * Who a program says it is: job, revision, channel and number by its file name and by its header
 * comment. Job and revision are kept in upper case, so that j4417 and J4417 are one job.
 */
#ifndef IDENTITY_H
#define IDENTITY_H

#include <stdbool.h>
#include <stdint.h>
#include "nc.h"
#include "pattern.h"
#include "yoke/profile.h"

enum {
	IDENTITY_BLOCKS =
	    20, /* blocks in which a header comment is looked for, up to the first motion */
	IDENTITY_BYTES = 4096, /* bytes of each block in which it is looked for */
};

/* What one source said in place of a placeholder. */
struct identity_value {
	bool given;
	bool usable; /* up to YOKE_NAME_MAX letters, digits and _ - + . # */
	char s[YOKE_NAME_MAX +
	       1]; /* when not usable: what was there, cut and with . for each odd byte */
};

struct identity_source {
	bool matched;
	struct identity_value field[PATTERN_FIELDS];
	uint64_t line; /* of the header comment; 0 for the file name */
	uint32_t col;
};

struct identity {
	struct identity_source name, header;
	struct identity_source other; /* a later header comment that says something else */
	uint64_t
	    like_line; /* of a comment that may be meant as the header and does not match; 0 none */
	uint32_t like_col;
	uint32_t blocks; /* looked at so far */
	int separated;   /* the channel that a separator gives the text to, -1 none: it counts */
	bool firm;       /* the header's pattern has a word of its own */
	bool done;       /* no more blocks need to be looked at */
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1]; /* after the finish; "" unknown */
	int channel;                                              /* after the finish; -1 unknown */
};

struct program;

/* Read the file name. file: the path as the caller named it. */
void identity_begin(struct identity *id, const struct profile *profile, const char *file);

/*
 * Look for the header comment in one block; motion: the block has dimension words. Where the
 * pattern has a word of its own, later comments that match it are compared with the first.
 */
void identity_block(
    struct identity *id, const struct profile *profile, const struct nc_block *b, bool motion);

/* Cut the next comment out of a block's text from *s to end: its inside, without parentheses. False when
 * there is none. */
bool identity_comment(const char **s, const char *end, const char **inside, size_t *n);

/* Settle job, revision and channel of p, and tell what is unknown or differs. */
void identity_finish(struct program *p);

#endif
