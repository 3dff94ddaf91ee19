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

enum {
	PROFILE_RANGES_MAX = 16,
	PROFILE_WORDS_MAX = 32,
	PROFILE_ALIASES_MAX = 8,
	PROFILE_CODES_MAX = 64,
	PROFILE_CALL_MAX = 16, /* letters of a wait call's word */
};

/* How a wait code names the channels that meet at it. */
enum profile_partners {
	PROFILE_PARTNERS_ALL,    /* it does not: all channels of the machine meet */
	PROFILE_PARTNERS_DIGITS, /* P13: channels 1 and 3 */
	PROFILE_PARTNERS_MASK,   /* P5: bits 0 and 2, channels 1 and 3 */
};

/* Which way FIX drops a fraction. Where it is not known, a result that depends on it is unknown. */
enum profile_fix {
	PROFILE_FIX_UNKNOWN,
	PROFILE_FIX_ZERO, /* FIX[-2.8] = -2 (common practice) */
	PROFILE_FIX_DOWN, /* FIX[-2.8] = -3 (NISTIR 6556, 3.3.2.3) */
};

/* How strongly AND, OR and XOR bind. Where it is not known, a result that depends on it is unknown.
 */
enum profile_logic {
	PROFILE_LOGIC_UNKNOWN,
	PROFILE_LOGIC_SUM,     /* as + and - (NISTIR 6556, 3.3.2.3) */
	PROFILE_LOGIC_PRODUCT, /* AND as * and /, OR and XOR as + and - (common practice) */
	PROFILE_LOGIC_LAST,    /* weaker than comparisons (common practice) */
};

/* What AND, OR and XOR do with numbers that are neither 0 nor 1. Unknown as above. */
enum profile_truth {
	PROFILE_TRUTH_UNKNOWN,
	PROFILE_TRUTH_WHOLE, /* 2 AND 1 = 1: not zero is true (NISTIR 6556, 3.3.2.3) */
	PROFILE_TRUTH_BITS,  /* 2 AND 1 = 0: bit by bit (common practice) */
};

/* What a miscellaneous code means on this machine, for the setup sheet. */
struct profile_code {
	uint32_t code;  /* M code */
	char group[16]; /* "spindle", "clamping", "" */
	char text[48];
};

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
	bool diameter; /* X and U are diameters; default: every channel but the first */
	uint32_t
	    offset_digits;  /* last digits of T that name the offset, as in T0101; 0: T names the
	                       tool alone, H and D its offsets; default 2, first channel 0 */
	double rapid;       /* mm/min, default 20000; for estimates of time only */
	double rapid_turn;  /* degrees/min of A, B, C, default 7200 */
	double tool_change; /* s, default 2 */
	double speed_max;   /* 1/min where no clamp was programmed, default 6000 */
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
	    resident[PROFILE_RANGES_MAX]; /* numbers of programs that live in the control and hold
	                                     no wait code; default none */
	uint32_t residents;
	enum profile_partners partners; /* default all */
	char partners_letter;           /* of the word with the partners, default 'P' */
	/* A wait written as a call, MEET({code},{channels}): its word, "" for none, and which of
	   its arguments, counted from 0, is the code; the others are channels, by number from 1. */
	char wait_call[PROFILE_CALL_MAX + 1];
	uint32_t wait_call_code;
	/* Codes that send a signal and go on, and codes that wait for one and use it up: the i-th
	   code of send signals the i-th code of receive. None by default. */
	struct profile_range send[PROFILE_RANGES_MAX], receive[PROFILE_RANGES_MAX];
	uint32_t sends, receives;
	bool wait_alone;    /* a wait code must stand alone in its block; default true */
	bool skip_separate; /* each channel has block-skip switches of its own; default false:
	                       common */

	enum profile_fix fix;     /* default unknown */
	enum profile_logic logic; /* default unknown */
	enum profile_truth truth; /* default unknown */
	double increment; /* mm that a dimension without point counts in, default 0.001; 1: whole mm
	                     (checked values: decimal-point input types) */

	char separator[64]; /* how the block looks that gives the blocks behind it to a channel, in
	                       a file that holds several: "$ {channel}"; "" for none (default) */

	struct profile_code code[PROFILE_CODES_MAX];
	uint32_t codes;

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

	bool two_person; /* a pair waits for a second person; default false */
	bool absolute[FINDING_COUNT]; /* refuses, and nobody may accept a pair despite it; default: what
	                                 a proof of certain disagreement says, which no profile can take
	                                 away */
};

enum profile_result {
	PROFILE_OK = 0,
	PROFILE_UNKNOWN, /* no such section or key here: the caller may know it */
	PROFILE_BAD,     /* known key, wrong value: why says what and what is allowed */
};

/* Set every field to its default: two channels, upper and lower. */
void profile_defaults(struct profile *p);

/*
 * Set one value. Sections: [programs] names, header, number_from_job, channels, resident, separator;
 * [wait] codes, alone, skip, partners, call, send, receive; [values] fix, logic, truth, increment;
 * [codes] M10 = GROUP: TEXT; [limits] ...; [weights] NAME = off|note|warn|refuse; [release]
 * two_person, absolute (which adds to what is absolute); [channel NAME] aliases, forbid, diameter, offset_digits, rapid, rapid_turn, tool_change, speed_max.
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
