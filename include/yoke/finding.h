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
	    "A program of this job and revision is here for one channel only. A channel "          \
	    "whose mate is missing waits for ever at its first wait code. Drop the other "         \
	    "channel's program of the same job and revision.")                                     \
	X(JOB_UNKNOWN, "job-unknown", REFUSE,                                                      \
	    "Neither the file name nor the header comment says which job this is, so no "          \
	    "mate can be found for it. Name the file by the profile's pattern 'names', or "        \
	    "write the header comment by its pattern 'header'.")                                   \
	X(JOB_DIFFERS, "job-differs", REFUSE,                                                      \
	    "The job number differs between file name, header comments or the mate. One of "       \
	    "them is wrong; find out which program this really is, then correct name or "          \
	    "header.")                                                                             \
	X(REVISION_UNKNOWN, "revision-unknown", REFUSE,                                            \
	    "No revision in the file name or in the header comment. Without it nobody can "        \
	    "say that the two programs belong together. Add the revision to name or header, "      \
	    "in both programs.")                                                                   \
	X(REVISION_DIFFERS, "revision-differs", REFUSE,                                            \
	    "The revision differs between file name, header comments or the mate. One "            \
	    "channel would work to the new drawing and the other to the old. Release both "        \
	    "programs at one revision.")                                                           \
	X(REVISION_REUSED, "revision-reused", REFUSE,                                              \
	    "This revision was released before with other content. Two programs with one "         \
	    "name cannot be told apart at the machine: give the changed program a new "            \
	    "revision.")                                                                           \
	X(CHANNEL_UNKNOWN, "channel-unknown", REFUSE,                                              \
	    "Neither the file name nor the header comment says which channel this program "        \
	    "is for. In the wrong channel a program drives the wrong spindle or turret. Add "      \
	    "the channel to name or header.")                                                      \
	X(CHANNEL_DIFFERS, "channel-differs", REFUSE,                                              \
	    "The channel differs between file name and header comment, or both programs are "      \
	    "for the same channel. In the wrong channel a program drives the wrong spindle "       \
	    "or turret. Find out which program is for which channel.")                             \
	X(PART_UNKNOWN, "part-unknown", REFUSE,                                                    \
	    "Blocks of a file that holds several channels belong to none of them: they stand "     \
	    "in front of the first separator, or behind one that names no channel of this "        \
	    "machine. They were read for no channel. Put them behind their channel's "             \
	    "separator (profile: separator).")                                                     \
	X(CHANNEL_SAME, "channel-same", REFUSE,                                                    \
	    "Two channels hold the same text, block for block: likely one program was saved "      \
	    "under both names. In the wrong channel a program drives the wrong spindle or "        \
	    "turret. Drop the other channel's own program.")                                       \
	X(HEADER_UNREAD, "header-unread", REFUSE,                                                  \
	    "A comment before the first motion has a word of the header (profile: header), "       \
	    "such as JOB or REV, and does not fit the pattern. What it says about job, "           \
	    "revision and channel was not compared with the file name. Write it as the "           \
	    "pattern asks, or correct the pattern.")                                               \
	/* program number */                                                                       \
	X(NUMBER_MISSING, "number-missing", WARN,                                                  \
	    "No program number (O) before the first block. Many controls refuse the load, "        \
	    "or store it under a number of their own. Write the number as the first block.")       \
	X(NUMBER_DOUBLED, "number-doubled", REFUSE,                                                \
	    "The same program number stands twice in one file. The control refuses the "           \
	    "second or overwrites the first; which one a call means is not known. Give one "       \
	    "of them another number.")                                                             \
	X(NUMBER_RANGE, "number-range", REFUSE,                                                    \
	    "The program number is outside what the machine takes (profile: number_min, "          \
	    "number_max). The load would be refused. Number it within the range.")                 \
	X(NUMBER_DIFFERS, "number-differs", REFUSE,                                                \
	    "The program number in the file differs from the number in the job, file name "        \
	    "or header. The control would show another job, and the load may overwrite that "      \
	    "job's program. Find out which number is right.")                                      \
	X(NUMBER_MATE, "number-mate", REFUSE,                                                      \
	    "The channels' programs have different numbers. Many twin-channel controls call "      \
	    "both programs by one number, and one of the two may be another job's. Give both "     \
	    "the same number; where the control takes two, set number-mate = note in the "         \
	    "machine's [weights].")                                                                \
	X(NUMBER_FORM, "number-form", REFUSE,                                                      \
	    "The program number is written in a way that the machine's profile does not "          \
	    "take: a colon, leading zeros, a slash before it, or a letter O in place of a "        \
	    "zero. Some controls store it under another number. Write the letter O and the "       \
	    "digits.")                                                                             \
	X(NUMBER_CLASH, "number-clash", REFUSE,                                                    \
	    "Another job for the same machine uses this program number in the same channel. "      \
	    "The load would overwrite that job's program. Give one of the jobs another "           \
	    "number.")                                                                             \
	/* the file as a whole */                                                                  \
	X(EMPTY, "empty", REFUSE,                                                                  \
	    "The file holds no block at all. It may have been dropped before it was "              \
	    "written; drop it again.")                                                             \
	X(PERCENT_MISSING, "percent-missing", NOTE,                                                \
	    "The program does not begin and end with %. Over a serial line most controls "         \
	    "look for it: what stands before the first % is not read, and the load ends at "       \
	    "the last. Write a % as first and last line.")                                         \
	X(PERCENT_MIDDLE, "percent-middle", REFUSE,                                                \
	    "A % stands in the middle of the program. The control stops reading there; the "       \
	    "rest would be missing. Remove it, or what stands on its wrong side.")                 \
	X(CUT_OFF, "cut-off", REFUSE,                                                              \
	    "The program opens with % but neither a closing % nor a program end follows: "         \
	    "the file looks cut off. Nothing is completed automatically; write the file out "      \
	    "again.")                                                                              \
	X(END_MISSING, "end-missing", REFUSE,                                                      \
	    "A program has no end: M02 or M30 (M99 where the profile allows it), or M99 for "      \
	    "a subprogram; or the end stands behind a slash only. The control would run on "       \
	    "into what follows, or alarm. Write the end; where one was there, the file may "       \
	    "be cut off.")                                                                         \
	X(END_DIFFERS, "end-differs", REFUSE,                                                      \
	    "The main program of one channel ends with M99 and begins again, that of the "         \
	    "other ends with M30. The first one then waits for ever at its first wait code. "      \
	    "End them alike.")                                                                     \
	X(TEXT_AFTER_END, "text-after-end", WARN,                                                  \
	    "Blocks follow the program end, or wait codes stand in a subprogram that is "          \
	    "never called. They are not executed. Remove them, or see whether the end or "         \
	    "the call is in the wrong place.")                                                     \
	X(LINE_ENDS_DOUBLED, "line-ends-doubled", REFUSE,                                          \
	    "Nearly every line end is doubled: likely a text-mode transfer converted line "        \
	    "ends twice. The control would show empty blocks and run out of memory sooner. "       \
	    "Fetch the original again in binary; do not edit it.")                                 \
	X(LINE_ENDS_MIXED, "line-ends-mixed", NOTE,                                                \
	    "Line ends are of different kinds within one file. Most controls take that; it "       \
	    "shows that the file was edited or joined on different systems.")                      \
	X(FRAMING_7E, "framing-7e", REFUSE,                                                        \
	    "Every byte has even parity and many have bit 8 set: this is 7-bit text with "         \
	    "parity, read on a port that was set to 8 bits. Nothing in it can be trusted as "      \
	    "a program; set the port to 7 bits with even parity and read it again.")               \
	X(SIZE, "size", REFUSE,                                                                    \
	    "The program is larger than the machine's memory (profile: size_max). The load "       \
	    "would stop in the middle and leave a stump. Split it, or correct size_max.")          \
	/* characters and blocks */                                                                \
	X(BYTE_ORDER_MARK, "byte-order-mark", REFUSE,                                              \
	    "The file begins with an invisible byte-order mark (EF BB BF) that a text "            \
	    "editor wrote. Controls alarm on line 1. Save it as plain text without the "           \
	    "mark.")                                                                               \
	X(CHARACTER, "character", REFUSE,                                                          \
	    "A character outside comments that is no part of word-address text, or a line "        \
	    "that ends in CR alone among others that do not. The control alarms there, or "        \
	    "passes over it and reads something else than what you see. Correct it, or "           \
	    "fetch the original again.")                                                           \
	X(CHARACTER_COMMENT, "character-comment", WARN,                                            \
	    "A character inside a comment that is not plain ASCII, such as a degree sign or "      \
	    "a curly quote. Some controls stop loading there. Write it in plain letters.")         \
	X(LOWER_CASE, "lower-case", WARN,                                                          \
	    "Lower-case letters outside comments. Many controls alarm at them or pass over "       \
	    "them. Write capitals, or set lower_case = yes if the machine takes them.")            \
	X(TAB, "tab", WARN, "A tab outside comments. Some controls alarm at it. Write a blank.")   \
	X(NUL_INSIDE, "nul-inside", REFUSE,                                                        \
	    "A NUL byte stands inside the program: something was lost there, in transfer or "      \
	    "on the disk. Fetch the original again; do not mend it by hand.")                      \
	X(COMMENT_NESTED, "comment-nested", REFUSE,                                                \
	    "A second parenthesis is opened inside a comment. The first ) closes the "             \
	    "comment on most controls, and what follows is executed; on some it alarms. "          \
	    "Write the comment without the inner parentheses.")                                    \
	X(COMMENT_OPEN, "comment-open", REFUSE,                                                    \
	    "A comment that is not closed in its block. Some controls pass over the rest of "      \
	    "the block, others over the blocks that follow. Close it with ).")                     \
	X(NUMBER_BAD, "number-bad", REFUSE,                                                        \
	    "A number that cannot be read: two points, no digits, or a sign in the middle. "       \
	    "The control alarms, or takes a part of it. Correct it.")                              \
	X(NUMBER_GAP, "number-gap", WARN,                                                          \
	    "Blanks stand between the digits of a number, as in X10 20. It is read as one "        \
	    "number, 1020; likely a letter was lost there. Write the number without blanks.")      \
	X(WORD_BAD, "word-bad", REFUSE,                                                            \
	    "Text outside comments that is not a word, a number or an expression: a letter "       \
	    "without a number, a number without its letter, N inside a block, a condition "        \
	    "that is not whole. Often a character or a line end was lost. Correct it, or "         \
	    "fetch the original again.")                                                           \
	X(WORD_DOUBLED, "word-doubled", WARN,                                                      \
	    "One letter stands twice in a block. Some controls take the last one, others "         \
	    "alarm. Often two blocks became one because a line end was lost.")                     \
	X(POINT_MISSING, "point-missing", WARN,                                                    \
	    "A dimension or feed without decimal point. On many controls X1 is 0.001 mm and "      \
	    "not 1 mm: a factor of 1000. Write the point, also for whole numbers; point = "        \
	    "no in the profile if this machine reads X1 as 1 mm.")                                 \
	X(BLOCK_LONG, "block-long", REFUSE,                                                        \
	    "A block is longer than the machine takes (profile: block_max). The control "          \
	    "alarms or drops the rest of it. Split the block.")                                    \
	X(SEQUENCE, "sequence", REFUSE,                                                            \
	    "A sequence number is outside what the machine takes (profile: sequence_max), "        \
	    "or is no plain whole number. The control alarms. Number the program again, in "       \
	    "smaller steps.")                                                                      \
	X(WORD_FORBIDDEN, "word-forbidden", REFUSE,                                                \
	    "A word that this channel does not take (profile: forbid). Often the two "             \
	    "programs were swapped: look at names and headers first.")                             \
	X(STOP_ONE_CHANNEL, "stop-one-channel", WARN,                                              \
	    "An optional stop stands in one channel only. With the switch on, one channel "        \
	    "stops while the other runs on to its next wait code. Write M01 into both, "           \
	    "between the same wait codes.")                                                        \
	/* flow */                                                                                 \
	X(SUB_MISSING, "sub-missing", REFUSE,                                                      \
	    "A called subprogram is not in this file. Its wait codes, if it has any, are "         \
	    "not known. Put it into the file; or, when it lives in the control and has no "        \
	    "wait code, name it in the profile: resident = O9000-O9999.")                          \
	X(SUB_RECURSIVE, "sub-recursive", REFUSE,                                                  \
	    "A subprogram calls itself without end. The control alarms when calls are "            \
	    "nested too deep. Remove the call.")                                                   \
	X(CALL_DEEP, "call-deep", REFUSE,                                                          \
	    "Calls are nested deeper than the machine takes (profile: call_depth). The "           \
	    "control alarms at the call that is one too many. Nest fewer.")                        \
	X(FLOW_UNFOLLOWED, "flow-unfollowed", REFUSE,                                              \
	    "Which wait codes are met depends on a jump, a condition or a call that was not "      \
	    "followed, or on words that controls read in different ways. Whether the wait "        \
	    "codes agree cannot be told. Write it straight out. If you compare by hand "           \
	    "instead, a profile can lower the weight of this finding for its machine; "            \
	    "nothing is proven then.")                                                             \
	X(JUMP_MISSING, "jump-missing", REFUSE,                                                    \
	    "A jump leads to a sequence number that does not stand in its "                        \
	    "program, or stands there more than once. The control alarms "                         \
	    "there, or takes the one it finds first. Correct the number.")                         \
	X(LOOP_ENDLESS, "loop-endless", REFUSE,                                                    \
	    "A loop runs for ever and holds no wait code: its condition "                          \
	    "never changes. The channel never reaches its next wait code, "                        \
	    "and the mate stands for ever. Correct the condition or what it "                      \
	    "counts.")                                                                             \
	X(RUN_LONG, "run-long", REFUSE,                                                            \
	    "The program runs longer than the check follows (profile: run_max). Whether the "      \
	    "wait codes agree cannot be told. Raise run_max if the program is meant so; "          \
	    "most often a repeat count is wrong.")                                                 \
	X(SKIP_MANY, "skip-many", REFUSE,                                                          \
	    "So many block-skip switches are in use that not every setting was examined. "         \
	    "Whether the wait codes agree in all of them cannot be told. Use fewer levels.")       \
	/* wait codes */                                                                           \
	X(WAIT_NONE, "wait-none", WARN,                                                            \
	    "No program of the pair has a wait code, so nothing was compared. Either the "         \
	    "channels need not wait, or the wait codes of this machine are others (profile: "      \
	    "codes in [wait]).")                                                                   \
	X(WAIT_MISSING, "wait-missing", REFUSE,                                                    \
	    "A wait code of one channel has no mate in the other. The waiting channel "            \
	    "stands for ever, and the other runs on without it. Add the code where the two "       \
	    "must meet, or remove it from both.")                                                  \
	X(WAIT_DOUBLED, "wait-doubled", REFUSE,                                                    \
	    "A wait code stands twice in one channel and once in the other. At the second "        \
	    "one its channel stands for ever. Remove one, or write it twice in both.")             \
	X(WAIT_SWAPPED, "wait-swapped", REFUSE,                                                    \
	    "The channels have the same wait codes in another order. Both stand for ever at "      \
	    "the first that differs. Put them into one order.")                                    \
	X(WAIT_DIFFERS, "wait-differs", REFUSE,                                                    \
	    "The channels wait at different codes at the same meeting: likely one was "            \
	    "mistyped. Both stand for ever. Write the same code in both.")                         \
	X(WAIT_SKIPPED, "wait-skipped", REFUSE,                                                    \
	    "With a block-skip switch on, a wait code is skipped in one channel and not in "       \
	    "the other. It works until the day the switch is turned on; then one channel "         \
	    "stands for ever. Give the code the same slash in both, or none.")                     \
	X(WAIT_BRANCH, "wait-branch", REFUSE,                                                      \
	    "A wait code stands in one branch only: whether it is met "                            \
	    "depends on a condition on data that the program does not hold, "                      \
	    "such as a common variable. When it is not met, the mate stands "                      \
	    "for ever. Move the code out of the branch, or write it into "                         \
	    "every branch.")                                                                       \
	X(WAIT_REPEATS, "wait-repeats", REFUSE,                                                    \
	    "A wait code is met in a loop or a repeated subprogram, and the "                      \
	    "channels repeat it a different number of times. The channel "                         \
	    "that repeats more often stands for ever. Give both the same "                         \
	    "count.")                                                                              \
	X(WAIT_PARTNERS, "wait-partners", REFUSE,                                                  \
	    "The channels that a wait code names do not all name each "                            \
	    "other. Each waits for another set of channels, and all stand "                        \
	    "for ever. Write the same list of channels in each of them.")                          \
	X(PARTNERS_BAD, "partners-bad", REFUSE,                                                    \
	    "A wait code names channels in a way that this machine cannot "                        \
	    "mean: a channel that it does not have, one twice, or no other "                       \
	    "channel than its own. Correct the list (profile: partners in "                        \
	    "[wait]).")                                                                            \
	X(SIGNAL_LEFT, "signal-left", WARN,                                                        \
	    "A signal was sent that nobody waits for. It stays in the "                            \
	    "control, and the next part begins with it: a channel may then "                       \
	    "run on where it should wait. Add the code that waits for it, "                        \
	    "or remove the one that sends.")                                                       \
	X(WAIT_RANGE, "wait-range", WARN,                                                          \
	    "An M code stands alone in its block as a wait code does, has "                        \
	    "as many digits, and is none of this machine's wait codes "                            \
	    "(profile: codes in [wait]). Nobody waits there. Correct the "                         \
	    "number; or name the code in [codes] of the profile if it does "                       \
	    "something else.")                                                                     \
	X(WAIT_IN_SKIPPED, "wait-in-skipped", WARN,                                                \
	    "A wait code stands behind a slash in both channels. They agree with one switch "      \
	    "for both; where each channel has a switch of its own, the two can be set "            \
	    "differently, and then one stands for ever. Set skip = separate in the profile "       \
	    "if the machine has two.")                                                             \
	X(WAIT_AFTER_END, "wait-after-end", REFUSE,                                                \
	    "A wait code after the program end is never reached, and a mate that waits for "       \
	    "it stands for ever. Move it before the end, or remove it in both.")                   \
	X(WAIT_LAST_BLOCK, "wait-last-block", REFUSE,                                              \
	    "A wait code stands in the last block, or in one block with the program end. "         \
	    "The control may end the program before it waits, or wait for ever. Give it a "        \
	    "block of its own before the end.")                                                    \
	X(WAIT_NOT_ALONE, "wait-not-alone", WARN,                                                  \
	    "A wait code shares its block with other words. On many controls it must stand "       \
	    "alone (with N and a comment); elsewhere the order within the block is not what "      \
	    "is written. Give it a block of its own; alone = no in the profile if this "           \
	    "machine takes it.")                                                                   \
	X(WAIT_COMPENSATION, "wait-compensation", WARN,                                            \
	    "A wait code while tool-nose or cutter compensation (G41, G42) is on. The "            \
	    "control may read ahead across it or end the compensation. Cancel it with G40 "        \
	    "first.")                                                                              \
	X(WAIT_UNCERTAIN, "wait-uncertain", REFUSE,                                                \
	    "Whether a wait code counts depends on the control: it stands after or inside a "      \
	    "comment that is nested or not closed, behind a semicolon, or in lower case "          \
	    "where the machine is not known to take it. Write it in capitals, in a block of "      \
	    "its own.")

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
