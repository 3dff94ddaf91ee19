/*
 * Findings: what the check has to say. One list makes enum, name, weight and explanation, for
 * service, API and command alike.
 */
#ifndef YOKE_FINDING_H
#define YOKE_FINDING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum weight {
	WEIGHT_OFF = 0, /* only by a profile's choice; never a default */
	WEIGHT_NOTE,
	WEIGHT_WARN,
	WEIGHT_REFUSE,
};

/* X(ENUM, name, default weight, explanation: what it is, why it matters, what to do) */
#define FINDING_LIST(X)                                                                            \
	/* the pair */                                                                             \
	X(MATE_MISSING, "mate-missing", REFUSE,                                                    \
	    "A program of this job and revision is here for one channel only. A channel whose "    \
	    "mate is missing "                                                                     \
	    "waits for ever at its first wait code. Drop the other channel's program of the same " \
	    "revision.")                                                                           \
	X(JOB_UNKNOWN, "job-unknown", REFUSE,                                                      \
	    "Neither the file name nor the header comment says which job this is. Name the file "  \
	    "by the "                                                                              \
	    "pattern 'names' or write the header comment by the pattern 'header'.")                \
	X(JOB_DIFFERS, "job-differs", REFUSE,                                                      \
	    "The job number differs between file name, header comment or the mate. One of them "   \
	    "is wrong; "                                                                           \
	    "find out which program this really is, then correct name or header.")                 \
	X(REVISION_UNKNOWN, "revision-unknown", REFUSE,                                            \
	    "No revision in the file name or in the header comment. Without it nobody can say "    \
	    "that the two "                                                                        \
	    "programs belong together. Add the revision.")                                         \
	X(REVISION_DIFFERS, "revision-differs", REFUSE,                                            \
	    "The revision differs between file name, header comment or the mate. One channel "     \
	    "would work to "                                                                       \
	    "the new drawing and the other to the old. Release both programs at one revision.")    \
	X(REVISION_REUSED, "revision-reused", REFUSE,                                              \
	    "This revision was released before with other content. A changed program needs a new " \
	    "revision.")                                                                           \
	X(CHANNEL_UNKNOWN, "channel-unknown", REFUSE,                                              \
	    "Neither the file name nor the header comment says which channel this program is "     \
	    "for. In the "                                                                         \
	    "wrong channel a program drives the wrong spindle. Add the channel.")                  \
	X(CHANNEL_DIFFERS, "channel-differs", REFUSE,                                              \
	    "The channel differs between file name and header comment, or both programs are for "  \
	    "the same "                                                                            \
	    "channel. Find out which program is for which channel.")                               \
	X(CHANNEL_SAME, "channel-same", REFUSE,                                                    \
	    "Two channels hold the same text, block for block: likely one program was saved under " \
	    "both names. "                                                                         \
	    "In the wrong channel a program drives the wrong spindle.")                            \
	X(HEADER_UNREAD, "header-unread", REFUSE,                                                  \
	    "A comment before the first motion has a word of the header (profile: header), such "  \
	    "as JOB or "                                                                           \
	    "REV, and does not fit the pattern. What it says about job, revision and channel was " \
	    "not compared "                                                                        \
	    "with the file name.")                                                                 \
	/* program number */                                                                       \
	X(NUMBER_MISSING, "number-missing", WARN,                                                  \
	    "No program number (O or :) before the first block. Many controls refuse the load or " \
	    "store it "                                                                            \
	    "under a number of their own.")                                                        \
	X(NUMBER_DOUBLED, "number-doubled", REFUSE,                                                \
	    "The same program number stands twice in one file. The control refuses the second or " \
	    "overwrites "                                                                          \
	    "the first.")                                                                          \
	X(NUMBER_RANGE, "number-range", REFUSE,                                                    \
	    "The program number is outside what the machine takes (profile: number_min, "          \
	    "number_max).")                                                                        \
	X(NUMBER_DIFFERS, "number-differs", REFUSE,                                                \
	    "The program number in the file differs from the number in the job or file name, or "  \
	    "between the "                                                                         \
	    "channels. The control would show another job.")                                       \
	X(NUMBER_FORM, "number-form", REFUSE,                                                      \
	    "The program number is written in a form that the machine's profile does not name: a " \
	    "colon, "                                                                              \
	    "leading zeros, or a letter O in place of a zero.")                                    \
	X(NUMBER_CLASH, "number-clash", REFUSE,                                                    \
	    "Another job for the same machine uses this program number in the same channel. The "  \
	    "load would "                                                                          \
	    "overwrite that job's program.")                                                       \
	/* the file as a whole */                                                                  \
	X(EMPTY, "empty", REFUSE, "The file holds no block at all.")                               \
	X(PERCENT_MISSING, "percent-missing", NOTE,                                                \
	    "The program does not begin and end with %. Over a serial line most controls look "    \
	    "for it.")                                                                             \
	X(PERCENT_MIDDLE, "percent-middle", REFUSE,                                                \
	    "A % stands in the middle of the program. The control stops reading there; the rest "  \
	    "would be "                                                                            \
	    "missing.")                                                                            \
	X(CUT_OFF, "cut-off", REFUSE,                                                              \
	    "The program opens with % but neither a closing % nor a program end follows: the "     \
	    "file looks cut "                                                                      \
	    "off. Nothing is completed automatically; write the file out again.")                  \
	X(END_MISSING, "end-missing", REFUSE,                                                      \
	    "The program has no end (M02, M30, or M99 where the profile allows it).")              \
	X(END_DIFFERS, "end-differs", REFUSE,                                                      \
	    "The main program of one channel ends with M99 and begins again, that of the other "   \
	    "ends with M30. "                                                                      \
	    "The first one then waits for ever at its first wait code. End them alike.")           \
	X(TEXT_AFTER_END, "text-after-end", WARN,                                                  \
	    "Blocks follow the program end. They are not executed.")                               \
	X(LINE_ENDS_DOUBLED, "line-ends-doubled", REFUSE,                                          \
	    "Nearly every line end is doubled: likely a text-mode transfer converted line ends "   \
	    "twice. Fetch "                                                                        \
	    "the original again in binary; do not edit it.")                                       \
	X(LINE_ENDS_MIXED, "line-ends-mixed", NOTE,                                                \
	    "Line ends are of different kinds within one file.")                                   \
	X(FRAMING_7E, "framing-7e", REFUSE,                                                        \
	    "Every byte has even parity and many have bit 8 set: this is 7-bit text with parity, " \
	    "read on a "                                                                           \
	    "port that was set to 8 bits. Nothing in it can be trusted as a program; set the "     \
	    "port to 7 bits "                                                                      \
	    "with even parity and read it again.")                                                 \
	X(SIZE, "size", REFUSE,                                                                    \
	    "The program is larger than the machine's memory (profile: size_max).")                \
	/* characters and blocks */                                                                \
	X(BYTE_ORDER_MARK, "byte-order-mark", REFUSE,                                              \
	    "The file begins with an invisible byte-order mark that a text editor wrote. "         \
	    "Controls alarm on "                                                                   \
	    "line 1. Save without it.")                                                            \
	X(CHARACTER, "character", REFUSE,                                                          \
	    "A character outside comments that the machine does not take.")                        \
	X(CHARACTER_COMMENT, "character-comment", WARN,                                            \
	    "A character inside a comment that is not plain ASCII. Some controls stop loading "    \
	    "there.")                                                                              \
	X(LOWER_CASE, "lower-case", WARN, "Lower-case letters outside comments.")                  \
	X(TAB, "tab", WARN, "A tab outside comments.")                                             \
	X(NUL_INSIDE, "nul-inside", REFUSE,                                                        \
	    "A NUL byte stands inside the program: something was lost there. Fetch the original "  \
	    "again.")                                                                              \
	X(COMMENT_NESTED, "comment-nested", REFUSE,                                                \
	    "A second ( inside a comment. The first ) closes the comment; what follows is "        \
	    "executed.")                                                                           \
	X(COMMENT_OPEN, "comment-open", REFUSE,                                                    \
	    "A comment that is not closed in its block. What it hides is uncertain.")              \
	X(NUMBER_BAD, "number-bad", REFUSE, "A number that cannot be read.")                       \
	X(NUMBER_GAP, "number-gap", WARN,                                                          \
	    "Blanks stand between the digits of a number, as in X10 20. It is read as one number, " \
	    "1020; likely "                                                                        \
	    "a letter was lost there.")                                                            \
	X(WORD_BAD, "word-bad", REFUSE,                                                            \
	    "Text outside comments that is not a word, a number or an expression.")                \
	X(WORD_DOUBLED, "word-doubled", WARN,                                                      \
	    "One letter stands twice in a block. Some controls take the last one, others alarm. "  \
	    "Often two "                                                                           \
	    "blocks became one because a line end was lost.")                                      \
	X(POINT_MISSING, "point-missing", WARN,                                                    \
	    "A dimension or feed without decimal point. On many controls X1 is 0.001 mm and not "  \
	    "1 mm: a "                                                                             \
	    "factor of 1000. Write the point, also for whole numbers.")                            \
	X(BLOCK_LONG, "block-long", REFUSE,                                                        \
	    "A block is longer than the machine takes (profile: block_max).")                      \
	X(SEQUENCE, "sequence", REFUSE,                                                            \
	    "A sequence number is outside what the machine takes (profile: sequence_max).")        \
	X(WORD_FORBIDDEN, "word-forbidden", REFUSE,                                                \
	    "A word that this channel does not take (profile: forbid). Often the two programs "    \
	    "were swapped.")                                                                       \
	X(STOP_ONE_CHANNEL, "stop-one-channel", WARN,                                              \
	    "An optional stop stands in one channel only. With the switch on, one channel stops "  \
	    "while the "                                                                           \
	    "other runs on to its next wait code.")                                                \
	/* flow */                                                                                 \
	X(SUB_MISSING, "sub-missing", REFUSE, "A called subprogram is not in this file.")          \
	X(SUB_RECURSIVE, "sub-recursive", REFUSE, "A subprogram calls itself without end.")        \
	X(CALL_DEEP, "call-deep", REFUSE,                                                          \
	    "Calls are nested deeper than the machine takes (profile: call_depth).")               \
	X(FLOW_UNFOLLOWED, "flow-unfollowed", REFUSE,                                              \
	    "The order of blocks depends on a jump, a condition or a computed call that was not "  \
	    "followed. "                                                                           \
	    "Whether the wait codes agree cannot be told; compare them by hand.")                  \
	X(RUN_LONG, "run-long", REFUSE,                                                            \
	    "The program runs longer than the check follows (profile: run_max). Whether the wait " \
	    "codes agree "                                                                         \
	    "cannot be told.")                                                                     \
	X(SKIP_MANY, "skip-many", REFUSE,                                                          \
	    "So many block-skip switches are in use that not every setting was examined. Whether " \
	    "the wait "                                                                            \
	    "codes agree in all of them cannot be told. Use fewer levels.")                        \
	/* wait codes */                                                                           \
	X(WAIT_NONE, "wait-none", WARN,                                                            \
	    "No program of the pair has a wait code, so nothing was compared. Either the channels " \
	    "need not wait, "                                                                      \
	    "or the wait codes of this machine are others (profile: codes in [wait]).")            \
	X(WAIT_MISSING, "wait-missing", REFUSE,                                                    \
	    "A wait code of one channel has no mate in the other. The waiting channel stands for " \
	    "ever.")                                                                               \
	X(WAIT_DOUBLED, "wait-doubled", REFUSE,                                                    \
	    "A wait code stands twice in one channel and once in the other.")                      \
	X(WAIT_SWAPPED, "wait-swapped", REFUSE,                                                    \
	    "The channels have the same wait codes in another order. Both stand for ever.")        \
	X(WAIT_DIFFERS, "wait-differs", REFUSE,                                                    \
	    "The channels wait at different codes at the same meeting: likely one was mistyped.")  \
	X(WAIT_SKIPPED, "wait-skipped", REFUSE,                                                    \
	    "With a block-skip switch on, a wait code is skipped in one channel and not in the "   \
	    "other. It "                                                                           \
	    "works until the day the switch is turned on.")                                        \
	X(WAIT_IN_SKIPPED, "wait-in-skipped", WARN,                                                \
	    "A wait code stands in a block with a slash. Both channels agree for the switch "      \
	    "settings that "                                                                       \
	    "were examined; channels with separate switches can still be set differently.")        \
	X(WAIT_AFTER_END, "wait-after-end", REFUSE,                                                \
	    "A wait code after the program end is never reached.")                                 \
	X(WAIT_LAST_BLOCK, "wait-last-block", REFUSE,                                              \
	    "A wait code stands in the last block, together with the program end. The channel "    \
	    "may wait for "                                                                        \
	    "ever.")                                                                               \
	X(WAIT_NOT_ALONE, "wait-not-alone", WARN,                                                  \
	    "A wait code shares its block with other words. On many controls it must stand alone " \
	    "(with N and "                                                                         \
	    "a comment); elsewhere the order within the block is not what is written.")            \
	X(WAIT_COMPENSATION, "wait-compensation", WARN,                                            \
	    "A wait code while tool-nose or cutter compensation (G41, G42) is on. The control "    \
	    "may read ahead "                                                                      \
	    "across it or end the compensation.")                                                  \
	X(WAIT_UNCERTAIN, "wait-uncertain", REFUSE,                                                \
	    "A wait code stands after or inside a comment that is nested or not closed. Whether "  \
	    "it counts is "                                                                        \
	    "uncertain.")

enum finding_id {
#define X(id, name, weight, why) FINDING_##id,
	FINDING_LIST(X)
#undef X
	    FINDING_COUNT
};

/* One finding. Strings belong to the list that holds it. */
struct finding {
	enum finding_id id;
	enum weight weight;
	int channel;      /* index of the channel, -1: the pair as a whole */
	const char *file; /* as the caller named it, "" for the pair */
	uint64_t line;    /* from 1; 0: the file as a whole */
	uint32_t col;     /* byte column from 1; 0: the line as a whole */
	char *text;       /* what and why, one line */
	char *remedy;     /* what to do, one line; "" when the explanation says it all */
	bool also;        /* a second place is given */
	const char *also_file;
	uint64_t also_line;
	uint32_t also_col;
};

/* A list of findings; owns its strings. Zero-initialise. */
struct findings {
	struct finding *v;
	size_t n, cap;
	bool failed; /* memory ran out: the list is incomplete and no verdict may be drawn */
	uint32_t seen[FINDING_COUNT]; /* how often each was found, also past the cap */
};

/* Name ("wait-missing"), default weight and explanation of a finding. */
const char *finding_name(enum finding_id id);
enum weight finding_weight(enum finding_id id);
const char *finding_why(enum finding_id id);

/* The id with this name, or FINDING_COUNT. */
enum finding_id finding_by_name(const char *name);

/* "off", "note", "warn", "refuse". */
const char *finding_weight_name(enum weight w);

/* True and *w set when s is a weight's name. */
bool finding_weight_parse(const char *s, enum weight *w);

#endif
