/*
 * A machine's profile: how its programs look and what it takes. Plain data, filled key by key from
 * the section/key/value triples of a configuration, so that core never reads a file.
 */
#ifndef YOKE_PROFILE_H
#define YOKE_PROFILE_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/finding.h"
#include "yoke/limits.h"
#include "yoke/text.h"

enum { PROFILE_RANGES_MAX = 16, PROFILE_WORDS_MAX = 32, PROFILE_ALIASES_MAX = 8 };

struct profile_range {
	uint32_t low, high; /* inclusive */
};

struct profile_channel {
	char name[YOKE_NAME_MAX + 1]; /* "upper" */
	char alias[PROFILE_ALIASES_MAX]
	          [YOKE_NAME_MAX + 1]; /* how names and headers may call it, any case */
	uint32_t aliases;
	char forbid[PROFILE_WORDS_MAX][8]; /* words not allowed here, such as "M06", "G41" or "T" */
	uint32_t forbids;
};

struct profile {
	char name[YOKE_NAME_MAX + 1]; /* the machine, "" for the default profile */
	uint32_t channels;            /* 2..YOKE_CHANNELS_MAX */
	struct profile_channel channel[YOKE_CHANNELS_MAX];

	char names[256];  /* file name pattern, default "{job}-{rev}.{channel}.nc" */
	char header[256]; /* header comment pattern, default "(JOB {job} REV {rev} {channel})" */

	struct profile_range
	    wait[PROFILE_RANGES_MAX]; /* M codes at which a channel waits; default M200-M299 */
	uint32_t waits;
	struct profile_range
	    resident[PROFILE_RANGES_MAX]; /* numbers of programs that live in the control and hold no
	                                     wait code; default none */
	uint32_t residents;
	bool wait_alone;    /* a wait code must stand alone in its block; default true */
	bool skip_separate; /* each channel has block-skip switches of its own; default false:
	                       common */

	bool colon_number;    /* ':' stands for O in program numbers; default false */
	bool number_from_job; /* the program number must be the job's digits; default false */
	uint32_t number_min, number_max; /* default 1..9999 */
	bool end_m99;                    /* M99 ends a main program; default false */
	bool point_required; /* dimension words without a point are told; default true */
	bool lower_case;     /* lower-case letters are taken; default false */
	uint64_t size_max;   /* bytes, default YOKE_PROGRAM_MAX */
	uint32_t
	    block_max; /* characters per block without its end, default 256 (NISTIR 6556, 3.3) */
	uint32_t sequence_max; /* largest N, default 99999 (NISTIR 6556, 3.3.1) */
	uint32_t call_depth;   /* nested calls, default 4 (common practice) */
	uint64_t run_max;      /* steps the check follows per channel, default 10000000 */

	enum weight weight[FINDING_COUNT];
};

enum profile_result {
	PROFILE_OK = 0,
	PROFILE_UNKNOWN, /* no such section or key here: the caller may know it */
	PROFILE_BAD,     /* known key, wrong value: why says what and what is allowed */
};

/* Set every field to its default: two channels, upper and lower. */
void profile_defaults(struct profile *p);

/*
 * Set one value. Sections: [programs] names, header, number_from_job, channels, resident; [wait] codes,
 * alone, skip; [limits] ...; [weights] NAME = off|note|warn|refuse; [channel NAME] aliases, forbid.
 * On PROFILE_BAD one line without line end is added to why ("skip = both: allowed are common and
 * separate") and the profile is as it was.
 */
enum profile_result profile_set(
    struct profile *p, const char *section, const char *key, const char *value, struct text *why);

/* Whether the values fit each other, once all are set. On false one line without line end is added
 * to why. */
bool profile_check(const struct profile *p, struct text *why);

/* Index of the channel that a name or header calls s (n bytes, any case), or -1. */
int profile_channel_find(const struct profile *p, const char *s, size_t n);

/* True when M code m is a wait code of this profile. */
bool profile_is_wait(const struct profile *p, uint64_t m);

/* True when program number o lives in the control of this profile. */
bool profile_is_resident(const struct profile *p, uint64_t o);

#endif
