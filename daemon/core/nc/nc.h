/*
 * Reading word-address text (ISO 6983-1 / RS-274): bytes in, blocks out. Pure: no files, no clock,
 * no globals.
 *
 * The reader is fed in chunks and calls back once per block, in order; what it hands out is valid
 * during the call only. It never guesses: what it cannot read is in the block's faults, with its
 * column.
 */
#ifndef NC_H
#define NC_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { NC_WORDS_MAX = 64, NC_FAULTS_MAX = 16, NC_LINE_MAX = 65536 };

enum nc_word_flag {
	NC_POINT = 1, /* a decimal point was written: X1. is not X1 */
	NC_SIGN = 2,  /* a sign was written */
	NC_COMPUTED =
	    4,       /* the value is a variable or an expression: mantissa and scale mean nothing */
	NC_HUGE = 8, /* more digits than fit: mantissa and scale mean nothing */
	NC_GAP = 32, /* blanks stand inside the number: a letter may be lost */
	NC_NAME = 64,  /* O<NAME> or M98 <NAME>, also G65 <NAME>: letter is 'O', the value is a name
	                  between < and >,
	                  mantissa its length; its first byte stands at column name_col */
	NC_COMMA = 16, /* a comma stands before the letter: ,C1. is a chamfer and not the axis C
	                  (common practice) */
};

/* One word. The value is mantissa * 10^-scale, exactly. */
struct nc_word {
	char letter; /* upper case; 'O' also where ':' was written (then colon is set in the block)
	              */
	uint8_t flags;  /* nc_word_flag */
	uint8_t scale;  /* digits after the point */
	uint8_t digits; /* digits written, leading zeros included; 255 stands for more */
	uint32_t col;   /* byte column of the letter, from 1 */
	int64_t mantissa;
};

enum nc_fault_kind {
	NC_FAULT_CHARACTER,         /* a byte that does not belong outside comments */
	NC_FAULT_CHARACTER_COMMENT, /* not plain ASCII, inside a comment; a UTF-8 character counts
	                               once */
	NC_FAULT_LOWER,             /* lower-case letter outside comments: read as its upper case */
	NC_FAULT_TAB,
	NC_FAULT_NUL,    /* NUL inside the body; at column 1 also for NUL before the block */
	NC_FAULT_NESTED, /* second ( inside a comment */
	NC_FAULT_OPEN,   /* comment not closed in its block */
	NC_FAULT_NUMBER, /* number that cannot be read */
	NC_FAULT_WORD,   /* text that is no word */
	NC_FAULT_LONG, /* line over NC_LINE_MAX or over NC_WORDS_MAX words: the rest was not read */
};

struct nc_fault {
	enum nc_fault_kind kind;
	uint32_t col;   /* of the first one, from 1 */
	uint8_t byte;   /* the first byte in question; 0 at the line's end */
	uint32_t count; /* how many of this kind in this block: one entry per kind */
};

enum nc_block_flag {
	NC_PERCENT = 1, /* the line is a lone %; a program number, a comment or the program's name
	                   may follow on it, and the name is no word */
	NC_COLON = 2,   /* the program number was written with a colon */
	NC_MACRO = 4,   /* variable setting or expression present */
	NC_JUMP = 8,    /* IF, GOTO, WHILE, DO, END: control flow that words do not show */
	NC_UNCERTAIN = 16, /* a comment fault makes the words after it uncertain */
	NC_CALL = 64,      /* a wait call stands in the block: call and call_length */
	NC_BLANK = 32,     /* nothing but blanks, filler and comments */
};

/* One block. Pointers belong to the reader and die with the call. */
struct nc_block {
	uint64_t line;          /* from 1 */
	uint64_t offset;        /* in the file, of the first byte of text */
	uint32_t flags;         /* nc_block_flag */
	uint8_t skip;           /* 0: none; 1: / or /1; 2..9; / may stand after N too */
	uint32_t uncertain_col; /* from which column the words are uncertain, with NC_UNCERTAIN */
	const char *text;       /* the line without its end, bytes as they are (parity and all);
	                           byte-order mark and filler */
	size_t length;          /* (NUL, DEL before it; NUL, DEL, Ctrl-Z after it) left out; at most
	                           NC_LINE_MAX */
	const struct nc_word *word;
	size_t words;
	const char *call; /* with NC_CALL: what stands between its parentheses */
	size_t call_length;
	uint32_t call_col;   /* of its first letter, from 1 */
	uint32_t name_col;   /* of the name of the first word with NC_NAME */
	const char *comment; /* first comment's inside, or NULL */
	size_t comment_length;
	const struct nc_fault *fault;
	size_t faults;
};

/*
 * How the whole file looked; valid after nc_reader_finish. Filler between two blocks is no leader
 * or trailer but a fault of the later block.
 */
struct nc_shape {
	uint64_t bytes, lines,
	    blocks; /* lines: also a last one without end; blocks: lines that are not NC_BLANK */
	uint64_t lf, crlf, cr, crcrlf; /* line ends by kind; CR CR LF is one */
	uint64_t cr_alone;      /* CRs alone that end a line with text, when another one follows */
	uint64_t blank_between; /* empty lines that stand alone between two others, as when each LF
	                           was doubled */
	uint64_t leader, trailer; /* filler bytes before the first and after the last line that
	                             holds more than filler */
	uint64_t high;            /* bytes with bit 8 set */
	bool odd_parity;          /* some byte has odd parity */
	bool bom;                 /* EF BB BF at offset 0 */
	bool final_line_end; /* the last line that holds more than blanks and filler had its end */
};

/*
 * Plain blocks: nothing but words that were allowed and blanks between them; each letter once in
 * its block (G apart), N first if at all and a plain whole number; of G only G0 to G3 (also G00 to
 * G03); no faults; a text of at most 127 bytes; ended by LF or CR LF.
 */
struct nc_plain_allowed {
	uint32_t letters;      /* bit 0 for A; 0: no block is plain */
	uint32_t points;       /* letters, N and G apart, whose number has a point, or is zero */
	uint32_t block_max;    /* longest text */
	uint32_t sequence_max; /* largest N */
};

/* The text of one of them, without its line end. */
struct nc_plain_text {
	uint32_t at; /* from the beginning of the run */
	uint32_t length;
};

enum { NC_PLAIN_MAX = 256 }; /* blocks in one run */

/* A run of plain blocks, one line each. Pointers die with the call. */
struct nc_plain {
	uint64_t line, offset; /* of the first */
	size_t blocks, bytes;  /* at least one block; bytes with line ends */
	size_t crlf;           /* how many of them end in CR LF and not in LF */
	/* N of the blocks: first, first + step, ..; first is -1 where none of them has one */
	int64_t first;
	uint32_t step;
	const char *text; /* all of them, with their line ends */
	const struct nc_plain_text *block;
};

struct nc_reader;

/* Returns 0 to go on; anything else stops the reader, which returns it from feed. */
typedef int nc_block_fn(void *ctx, const struct nc_block *block);
typedef int nc_plain_fn(void *ctx, const struct nc_plain *run);

struct nc_reader *nc_reader_new(nc_block_fn *fn, void *ctx);
/*
 * A wait written as a call: word is its letters in upper case, "" for none (the default). WORD(...)
 * is then read as NC_CALL and not as text that is no word; one in a block. At most PROFILE_CALL_MAX
 * letters. Set before the first byte; copied.
 */
void nc_reader_call(struct nc_reader *r, const char *word);
/*
 * Hand out plain blocks as runs, to fn, as long as they are allowed. Which of them come in a run
 * and which one by one depends on the chunks: both must mean the same to the caller.
 */
void nc_reader_plain(struct nc_reader *r, nc_plain_fn *fn);
/* What is allowed from the next block on; NULL (the default): no block comes in a run. Copied. May
 * be called between feeds and from the callbacks. */
void nc_reader_allow(struct nc_reader *r, const struct nc_plain_allowed *allowed);
/* 0, -1 without memory, or what the callback returned (sticky). */
int nc_reader_feed(struct nc_reader *r, const void *bytes, size_t n);
/* Hands out a last line that has no end; then *shape is set. As feed. */
int nc_reader_finish(struct nc_reader *r, struct nc_shape *shape);
void nc_reader_free(struct nc_reader *r);

/* First word with this letter, or NULL. */
const struct nc_word *nc_block_word(const struct nc_block *b, char letter);

/* True and *value set when the word is a plain non-negative whole number (M03 and M3 are both 3;
 * M3. and M3.0 too). */
bool nc_word_whole(const struct nc_word *w, uint64_t *value);

#endif
