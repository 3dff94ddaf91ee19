/*
 * The setup sheet of a pair, by computation: what a setter needs before the first part, read from
 * the programs as their blocks are executed with all block-skip switches off. What cannot be read
 * there is counted and named, never guessed.
 */
#ifndef YOKE_SETUP_H
#define YOKE_SETUP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/limits.h"
#include "yoke/pair.h"
#include "yoke/text.h"

/* Of each list so many entries are kept; further ones are counted. */
enum {
	SETUP_TOOLS_MAX = 200,
	SETUP_OFFSETS_MAX = 8,
	SETUP_COMMENTS_MAX = 4,
	SETUP_WORKS_MAX = 64,
	SETUP_STOPS_MAX = 64,
	SETUP_CODES_MAX = 128,
	SETUP_NUMBERS_MAX = 64,
	SETUP_TEXT_MAX = 80,
	SETUP_NAME_MAX = 32,
	SETUP_SKIPS = 10,
	SETUP_AXES = 6, /* X Y Z A B C */
};

/* A block. */
struct setup_place {
	const char *file; /* belongs to the programs */
	uint64_t line;    /* 0: none */
	int64_t sequence; /* N, -1 without */
};

/* A number as large as it gets, and where. */
struct setup_most {
	bool seen;
	double v;
	struct setup_place at;
};

struct setup_offset {
	char letter; /* 'T': last digits of T; 'H', 'D' */
	uint32_t number;
};

/* One tool, in the order of its first use. */
struct setup_tool {
	bool known; /* false: its number is not known; all of these are one entry */
	uint32_t number;
	struct setup_offset offset[SETUP_OFFSETS_MAX]; /* each once, 0 left out */
	size_t offsets, offsets_more;
	struct setup_place first;
	uint64_t changes; /* how often it comes to work */
	/* What for: the comment in the block of the change, else the last one before it, else the
	   first one before the first cut. Each once, as they stand in the text. */
	char comment[SETUP_COMMENTS_MAX][SETUP_TEXT_MAX];
	size_t comments, comments_more;
};

/* Programmed end points of one axis: mm (X as a radius) or degrees; arcs with their quadrants. */
struct setup_extent {
	bool seen;
	double low, high;
	struct setup_place low_at, high_at;
};

/* One work offset. */
struct setup_work {
	int code; /* in tenths: 540 for G54, 541 for G54.1; -1: none was programmed before; -2: it
	             is not known which */
	bool p_known; /* of G54.1 P */
	uint32_t p;
	struct setup_place first;
	uint64_t moves; /* blocks that move in it */
	struct setup_extent axis[SETUP_AXES];
};

struct setup_stop {
	bool optional; /* M01; else M00 */
	uint8_t skip;  /* skip level of its block, 0 none */
	struct setup_place at;
	uint64_t times;
	char comment[SETUP_TEXT_MAX]; /* in its block or in the line before or behind it */
};

/* One M code that is no wait code. */
struct setup_code {
	uint32_t code;
	/* From the machine's table, else what the code always means (ISO 6983-1; common practice),
	   "" where neither knows it. Belong to the profile, or static. */
	const char *group, *text;
	bool of_machine; /* it stands in the machine's table */
	uint64_t times;
	struct setup_place first, last;
};

enum setup_number_kind {
	SETUP_NUMBER_MAIN,
	SETUP_NUMBER_HERE,     /* a subprogram in this file or a mate's */
	SETUP_NUMBER_RESIDENT, /* lives in the control */
	SETUP_NUMBER_MISSING,  /* called, and not in these files */
};

/* One program number or name. */
struct setup_number {
	enum setup_number_kind kind;
	uint32_t number;
	char name[SETUP_NAME_MAX]; /* of O<NAME>; "" with a number */
	struct setup_place at;     /* where it stands; line 0 where it does not */
	uint64_t calls;            /* blocks that call it, as often as they were executed */
	struct setup_place called; /* the first of these */
};

struct setup_skip {
	uint64_t blocks; /* executed behind the switch of this level */
	struct setup_place first;
};

enum setup_end {
	SETUP_WHOLE, /* followed to its end */
	SETUP_LOST,  /* up to lost_at: why */
	SETUP_UNREAD /* not at all: why */
};

struct setup_channel {
	bool present;
	const char *name, *file; /* belong to profile and program */
	bool diameter;           /* X is programmed as a diameter */
	bool inches;             /* some of it counts in inches (G20); the sheet has mm */
	enum setup_end end;
	const char *why; /* static text */
	struct setup_place lost_at;
	uint64_t blocks; /* executed */
	uint64_t waits;  /* wait codes and signals met */

	struct setup_tool tool[SETUP_TOOLS_MAX];
	size_t tools, tools_more;
	/* T words of tools that no M06 brought to work before another T or the end of the run,
	   where T names the tool alone. */
	uint64_t tools_waiting;
	struct setup_place tool_waiting;
	struct setup_work work[SETUP_WORKS_MAX];
	size_t works, works_more;
	struct setup_most speed;     /* S under G97, or where neither was programmed, 1/min */
	struct setup_most surface;   /* S under G96, m/min */
	struct setup_most clamp;     /* G50 S, G92 S: the highest, 1/min */
	struct setup_most unclamped; /* the first S under G96 without one: m/min */
	uint64_t speeds_unknown;     /* S words whose value is not known */
	struct setup_stop stop[SETUP_STOPS_MAX];
	size_t stops, stops_more;
	struct setup_code code[SETUP_CODES_MAX]; /* by number */
	size_t codes, codes_more;
	struct setup_number number[SETUP_NUMBERS_MAX]; /* those of the text first */
	size_t numbers, numbers_more;
	struct setup_skip skip[SETUP_SKIPS]; /* by level, from 1 */

	/* Not in the travel: how many, and the first of them. */
	uint64_t moves_unknown, cycles, references, not_entered;
	struct setup_place move_unknown, cycle, reference, call_not_entered;
};

struct setup {
	const char *machine, *job, *revision; /* belong to profile and report; "" unknown */
	char *outcome;                        /* the check's outcome in a line; owned */
	bool branches; /* which blocks are executed depends on data that is not known */
	size_t channels;
	struct setup_channel channel[YOKE_CHANNELS_MAX];
};

/*
 * Compute it. The report must be of programs whose bytes were lent (program_lend), and these, the
 * profile and the report must outlive the sheet. A channel whose program is missing or cannot be
 * read is said to be so. NULL when memory runs out.
 */
struct setup *setup_new(const struct pair_report *r);
void setup_free(struct setup *s);

/* The sheet for a terminal or a printer, in lines of at most width columns (at least 60). */
void setup_print(const struct setup *s, unsigned width, struct text *out);

/* The same as one HTML page to print: no script, nothing from elsewhere, no colour that means
 * anything, every text of the programs escaped. */
void setup_html(const struct setup *s, struct text *out);

/* "G54", "G54.1 P3", "none programmed", "not known": out, or static text. */
const char *setup_work_name(const struct setup_work *w, char out[SETUP_NAME_MAX]);

/* What the sheet was computed from and does not hold, and what to do before the first part: static
 * texts, a NULL behind the last. */
extern const char *const setup_cautions[], *const setup_limits[];

#endif
