/* The list of changes while it is made: which are kept, which only counted. */
#ifndef CHANGE_KEEP_H
#define CHANGE_KEEP_H

#include "change_lines.h"
#include "yoke/change.h"

struct change_keep {
	struct change_list *list;
	size_t limit;                   /* 0: all */
	size_t kept[WEIGHT_REFUSE + 1]; /* by weight */
};

/* Where a change stands on one side. line 0: nowhere. */
struct change_place {
	uint64_t line;
	struct change_span text;
};

/*
 * Count one change. True when it is to be kept: then change_keep_add must follow. When the list is
 * full, a heavier change takes the place of the last of the lightest: a lost decimal point is not
 * hidden by a thousand renumbered blocks.
 */
bool change_keep_wants(struct change_keep *k, enum change_kind kind);

/* Keep a change; what is taken over and freed. 0, or -1 without memory. */
int change_keep_add(struct change_keep *k, enum change_kind kind,
    const struct change_place *old_place, const struct change_place *new_place, struct text *what);

#endif
