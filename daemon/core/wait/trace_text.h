/*
 * A place in the texts of a trace, moved as a walk moves: the text of a program and of its sisters,
 * and where in it the next block stands.
 */
#ifndef WAIT_TRACE_TEXT_H
#define WAIT_TRACE_TEXT_H

#include "cursor.h"
#include "walk.h"

/* No block: of an offset. */
#define TRACE_NO_BLOCK UINT64_MAX

/* One file. bytes NULL: not at hand. */
struct trace_file {
	struct nc_cursor *cursor;
	const char *name;
};

/* Where a program goes on. */
struct trace_place {
	uint32_t unit;
	uint64_t offset, line; /* of the line to come */
	uint64_t passed;       /* the block whose instructions are under way, or TRACE_NO_BLOCK */
};

/* Where a label was found before: loops come again and again. */
struct trace_memo {
	bool used;
	uint32_t label, next;
	struct trace_place at;
};

enum { TRACE_TEXT_MEMO = 64 };

struct trace_text {
	const struct wait_flow *f;
	struct trace_file file[WAIT_SISTERS_MAX + 1];
	struct trace_place at;
	uint64_t end; /* of the unit's text */
	struct trace_place
	    *caller; /* by depth: where each caller goes on; call_depth + 1 of them */
	uint32_t depth;
	uint64_t read; /* blocks so far, those included that were only looked at */
	struct trace_memo memo[TRACE_TEXT_MEMO];
};

/* At the beginning of the main program; false without memory. */
bool trace_text_begin(struct trace_text *t, const struct wait_flow *f, const void *bytes, size_t n);
void trace_text_end(struct trace_text *t);
/* Have the text of one file; false without memory. */
bool trace_text_file(
    struct trace_text *t, uint32_t file, const void *bytes, size_t n, const char *name);
/* The file of the unit at hand; its cursor is NULL when its text is not at hand. */
const struct trace_file *trace_text_here(const struct trace_text *t);
/*
 * Read the next block of the unit at hand, if it begins before limit. False, and the place stays,
 * when none does.
 */
bool trace_text_block(struct trace_text *t, uint64_t limit);
/* Follow the walk's last step. */
void trace_text_follow(struct trace_text *t, const struct wait_walk *w);

#endif
