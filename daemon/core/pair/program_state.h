/* The inside of a program, for the files that read and judge it. */
#ifndef PROGRAM_STATE_H
#define PROGRAM_STATE_H

#include "findings.h"
#include "identity.h"
#include "nc.h"
#include "wait.h"
#include "yoke/program.h"

struct place {
	uint64_t line;
	uint32_t col;
};

/* A program number in the text. */
struct number_place {
	uint32_t number;
	struct place at;
};

/* An optional stop, and how many wait codes stand before it. */
struct stop_place {
	uint64_t waits_before;
	struct place at;
};

enum { STOPS_KEEP = 256 };

/* % and ends, as far as they were read. */
struct file_state {
	uint64_t open_line;    /* the opening %; 0 without */
	uint64_t close_line;   /* the closing %; 0 without */
	uint64_t after_close;  /* blocks after it */
	uint64_t texts;        /* blocks that are neither blank nor a lone % */
	uint64_t last_line;    /* the last line with text */
	struct place end;      /* the main program's end, M02 or M30, not in a skipped block */
	uint64_t any_end_line; /* the last M02 or M30 */
	uint64_t after_end;    /* blocks after it that belong to no subprogram */
	uint64_t first_after_end;
	uint32_t section; /* the number of the program or subprogram being read */
	uint64_t section_line;
	bool sub;           /* that is a subprogram: not the first number in the file */
	bool section_ended; /* it has an M02, M30 or M99 */
	bool jumps;         /* GOTO, IF and the like, or M97: blocks after the end may be reached */
};

struct program {
	const struct profile *profile;
	char *file;
	int error; /* sticky: -1 once memory ran out */
	bool finished;
	bool library;      /* subprograms for others: nobody's main program */
	const void *bytes; /* lent: the whole text, or NULL */
	size_t bytes_n;
	bool keep; /* copy them as they are fed */
	struct text kept;
	struct nc_reader *reader;
	struct nc_shape shape;
	struct nc_plain_allowed plain; /* while plain_on */
	bool plain_on;
	struct wait_flow *flow;
	const struct program *sister[WAIT_SISTERS_MAX]; /* whose subprograms it may call */
	size_t sisters;
	struct findings findings;
	struct identity identity;
	struct file_state state;

	uint32_t number;  /* the first program number; 0 without */
	bool number_seen; /* it stands where it belongs */
	bool named;       /* a name, O<NAME>, stands there instead */
	struct place number_at;
	struct number_place *numbers; /* all of them, in the order of the text */
	size_t numbers_n, numbers_cap;

	uint64_t
	    print;   /* of the text of all blocks up to the closing %: equal texts, equal prints */
	bool motion; /* a block with dimension words was read */

	bool per_turn;          /* G95: feed per turn */
	bool compensation;      /* G41 or G42 is on */
	uint64_t waits;         /* wait codes so far */
	struct place last_wait; /* in the last block with text, or line 0 */
	struct stop_place stop[STOPS_KEEP];
	size_t stops; /* how many there are; only STOPS_KEEP are kept */
	/* Words that some channel forbids: the first of each, and how many. */
	struct forbidden {
		struct place at;
		uint64_t count;
	} forbidden[YOKE_CHANNELS_MAX][PROFILE_WORDS_MAX];
};

/* The file that a place of p's flow names: 0 its own, else a sister's, from 1. */
const char *program_place_file(const struct program *p, uint32_t file);

/* Add a finding of this program; the channel is set when the program is finished. */
#define PROGRAM_TELL(p, id, place_line, place_col, remedy, ...)                                    \
	findings_add(&(p)->findings, (p)->profile->weight, FINDING_##id,                           \
	    &(struct finding_place){-1, (p)->file, place_line, place_col}, remedy, __VA_ARGS__)

#endif
