/*
 * One line into words: the inner part of the reader. A line is always followed by a CR or LF that
 * may be read, so that no step has to ask how much is left.
 */
#ifndef NC_SCAN_H
#define NC_SCAN_H

#include "nc.h"

struct nc_scan {
	const char *s;        /* first byte of text: after mark and leading filler */
	const char *text_end; /* after the last byte of text: before trailing filler */
	uint32_t flags;       /* nc_block_flag, without NC_BLANK */
	uint32_t mask;        /* a bit for each nc_fault_kind seen */
	uint32_t words, faults;
	uint32_t uncertain_col;
	uint8_t skip;
	uint8_t fill; /* the first filler byte, when lead or tail is not 0: NUL if there is any */
	const char *comment;
	size_t comment_length;
	const char *call; /* with NC_CALL */
	size_t call_length;
	uint32_t call_col, name_col;
	size_t lead, tail; /* filler bytes before and after the text */
	struct nc_word word[NC_WORDS_MAX];
	struct nc_fault fault[NC_FAULTS_MAX];
	const char *wait_call; /* set by who owns z: the word of a wait that is a call, or NULL */
};

/* Read the line at s up to its CR or LF, whose address is returned. Everything in z is set, but
 * wait_call. */
const char *nc_scan_line(struct nc_scan *z, const char *s);

/* What was read as a block, but for its line and its offset. */
void nc_scan_block(const struct nc_scan *z, struct nc_block *b);

/* Note one fault of this kind at p; count more add up. col and byte are those of the first. */
void nc_scan_fault(struct nc_scan *z, enum nc_fault_kind kind, const char *p);

/* As nc_scan_fault, for count of them, at a given column. */
void nc_scan_faults(
    struct nc_scan *z, enum nc_fault_kind kind, uint32_t col, uint8_t byte, size_t count);

/*
 * A byte that is neither letter, digit nor blank, seen where no word may be: NUL, control
 * characters, bit 8, lower case, tab. Notes its fault and returns the address after it (after the
 * whole of a UTF-8 character). kind: the fault for what is not ASCII or not printable.
 */
const char *nc_scan_stray(struct nc_scan *z, const char *p, enum nc_fault_kind kind);

/* Add a word; false, with its fault, when there is no room. */
bool nc_scan_word(struct nc_scan *z, const char *at, char letter, unsigned flags, size_t digits,
    size_t scale, int64_t mantissa);

/* Past blanks and tabs; tabs are noted. */
const char *nc_scan_gap(struct nc_scan *z, const char *p);

/*
 * A word at p whose value is not plain digits: blanks inside, no digits, too many, or computed.
 * letter: its letter in upper case. Also keywords. Returns where reading goes on.
 */
const char *nc_value_word(struct nc_scan *z, const char *p, char letter, unsigned flags);

/* name.c: a name in < > at open, as the word O at at. Returns where reading goes on. */
const char *nc_name_word(struct nc_scan *z, const char *at, const char *open);

/* name.c: a < at p, behind M98, G65 or G66. As above; NULL where no name may stand. */
const char *nc_name_called(struct nc_scan *z, const char *p);

/* name.c: a wait call at p. Returns where reading goes on, NULL when there is none. */
const char *nc_name_call(struct nc_scan *z, const char *p);

/* A variable setting (#...=...) at p. Returns where reading goes on. */
const char *nc_macro_setting(struct nc_scan *z, const char *p);

/*
 * A value of variables, brackets and functions at p, after blanks and signs: #1, ##2, #[..], [..],
 * SIN[..], ATAN[..]/[..] (NISTIR 6556, 3.3.2.2 to 3.3.2.4). Returns the address after it, or NULL
 * when there is none.
 */
const char *nc_macro_value(struct nc_scan *z, const char *p);

/*
 * A keyword of control flow at p (IF, GOTO, WHILE, DO, END, THEN): flags are set, its operand is
 * passed over, and the address after it is returned. NULL when there is none.
 */
const char *nc_macro_keyword(struct nc_scan *z, const char *p);

/* Upper case of an ASCII letter, anything else as it is. */
static inline char nc_upper(char c)
{
	return c >= 'a' && c <= 'z' ? (char)(c - 32) : c;
}

#endif
