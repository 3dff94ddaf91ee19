/*
 * What differs between two programs, told by meaning. Bytes in, facts out.
 */
#ifndef YOKE_CHANGE_H
#define YOKE_CHANGE_H

#include <stddef.h>
#include <stdint.h>
#include "yoke/profile.h"
#include "yoke/text.h"

/* X(ENUM, name, weight on the shop floor, what it means) */
#define CHANGE_LIST(X)                                                                             \
	X(WAIT, "wait code", REFUSE, "the channels meet elsewhere")                                \
	X(POINT, "decimal point", REFUSE, "a decimal point was lost or added: a factor of 1000")   \
	X(MOTION, "motion", WARN, "the tool goes elsewhere")                                       \
	X(TOOL, "tool", WARN, "another tool")                                                      \
	X(OFFSET, "offset", WARN, "another tool offset, or compensation on another side")          \
	X(WORK_OFFSET, "work offset", WARN, "another zero point")                                  \
	X(SPEED, "speed", WARN, "spindle speed or its mode or limit")                              \
	X(FEED, "feed", WARN, "feed or its mode")                                                  \
	X(SKIP, "block skip", WARN, "a slash was added or removed")                                \
	X(STOP, "stop", WARN, "a stop or program end was added or removed")                        \
	X(FLOW, "flow", WARN, "calls, jumps, repeats or variables")                                \
	X(MOVED, "moved", WARN, "the same blocks in another place: the order of work")             \
	X(CODE, "code", WARN, "another preparatory or miscellaneous code")                         \
	X(NUMBER, "program number", NOTE, "the program number")                                    \
	X(COMMENT, "comment", NOTE, "comment text only")                                           \
	X(LAYOUT, "layout", NOTE, "blanks or the way a number is written")

enum change_kind {
#define X(id, name, weight, why) CHANGE_##id,
	CHANGE_LIST(X)
#undef X
	    CHANGE_COUNT
};

/* Three levels of sameness. */
enum change_sameness {
	CHANGE_SAME_BYTES = 0,
	CHANGE_SAME_TEXT,    /* after line ends, leader, filler and trailing blanks */
	CHANGE_SAME_MEANING, /* X1.50 and X1.5; comments and layout apart */
	CHANGE_DIFFERENT,
};

struct change {
	enum change_kind kind;
	uint64_t old_line, new_line; /* from 1; 0: the block is new, or gone */
	char *old_text, *new_text;   /* the blocks, visible text; "" where there is none */
	char *what;                  /* "feed F0.2 -> F0.25" */
};

struct change_list {
	enum change_sameness sameness;
	struct change *v;
	size_t n, cap;
	uint64_t count[CHANGE_COUNT]; /* all, also those past the limit */
	/* Blocks that differ in their sequence numbers alone, or in jumps that were numbered anew
	   with the blocks that they lead to: no changes. */
	uint64_t renumbered;
};

/*
 * Compare two programs. At most limit changes are kept (0: all), heavier ones before lighter;
 * counts are complete and the same in both directions. 0, -1 without memory. The difference is
 * found in linear space and is minimal in blocks, unless two long programs have so little in common
 * that the search would take longer than about a second.
 */
int change_compare(const struct profile *p, const void *old_bytes, size_t old_n,
    const void *new_bytes, size_t new_n, size_t limit, struct change_list *out);
void change_list_free(struct change_list *l);

const char *change_name(enum change_kind k);
enum weight change_weight(enum change_kind k);
const char *change_sameness_name(enum change_sameness s);

/* Heaviest first, one change per paragraph: kind, what, both lines; then a summary line. */
void change_print(
    const struct change_list *l, const char *old_name, const char *new_name, struct text *out);

#endif
