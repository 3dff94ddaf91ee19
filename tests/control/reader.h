/*
 * The control's reader: finds the significant part of what comes over the line and stores it.
 *
 * Rules, common practice of controls with a reader on a serial line: everything before the first
 * `%` or end of block is leader; `%` opens and closes; what stands between `%` and its end of block
 * is identification unless it is a program number; O or : at the start of a block begins a program;
 * NUL, DEL, CR and other controls are no characters of a program; parity is checked in the
 * significant part only. In EIA code a blank inside the significant part is an error; a control's
 * manual has that. A control that knows its channels by words reads one as a block of its own behind
 * the `%`, in front of the program number.
 */
#ifndef BENCH_READER_H
#define BENCH_READER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "code.h"

struct store;

enum { READER_LABEL_MAX = 64 };

enum reader_state {
	READER_LEADER, /* nothing significant yet */
	READER_LABEL,  /* after the first `%`: a program number or identification */
	READER_SKIP,   /* identification, up to its end of block */
	READER_BLOCK,  /* at the start of a block */
	READER_WORD,   /* inside a block that is to name a channel */
	READER_HEAD,   /* O or : and perhaps digits */
	READER_BODY,   /* inside a block */
};

enum reader_answer {
	READER_MORE,        /* go on */
	READER_END,         /* the closing `%` was read, the programs are stored */
	READER_FULL,        /* the program memory is full */
	READER_PARITY,      /* wrong parity, bit 8 in seven-bit code, or no character of EIA */
	READER_BLANK,       /* EIA: tape without a hole inside the program */
	READER_NO_NUMBER,   /* a block that belongs to no program */
	READER_SAME_NUMBER, /* the number is there already, and that is refused */
	READER_TROUBLE,     /* the bench itself has no memory or cannot write its copy */
	READER_CHANNEL,     /* go on, in the channel of this word: reader_goes_on() */
};

struct reader {
	struct store *store;
	enum code code;
	bool refuse_same; /* a number that is there already is refused, not replaced */
	enum reader_state state;
	bool program; /* a program is open */
	bool begun;   /* more than leader and ends of block has come */
	unsigned digits;
	char head[9];
	const char *const *words; /* of the channels, NULL: none */
	size_t word_count, word;  /* word: that was read */
	char label[READER_LABEL_MAX];
	size_t label_len;
	uint64_t parity_errors; /* since reader_init(), in leader and significant part */
};

/* A reader that stores into s, which stays the caller's. */
void reader_init(struct reader *r, struct store *s, enum code code, bool refuse_same);

/* The words of the channels, which must live as long as r. */
void reader_words(struct reader *r, const char *const *words, size_t n);

/* A new load begins. */
void reader_start(struct reader *r);

/* A load goes on here whose channel another reader has just read, up to its word. */
void reader_goes_on(struct reader *r);

/*
 * True when more than leader and ends of block has come. An end of block alone is no load: it may
 * be the last character of the load before.
 */
bool reader_begun(const struct reader *r);

/* One character of the load. After anything but READER_MORE and READER_FULL the load is over. */
enum reader_answer reader_take(struct reader *r, uint8_t byte);

/* The load is broken off: what is stored stays, as a stump. */
void reader_break(struct reader *r);

#endif
