/*
 * Adding to a list of findings. Only core adds; everybody else reads include/yoke/finding.h.
 */
#ifndef FINDINGS_H
#define FINDINGS_H

#include "yoke/finding.h"

/* How many findings of one kind a list keeps; the rest is only counted in seen[]. A person reads
 * the first few. */
enum { FINDINGS_KEEP = 20 };

/* Where a finding stands. */
struct finding_place {
	int channel;      /* index, -1: the pair as a whole */
	const char *file; /* copied; NULL is "" */
	uint64_t line;    /* from 1; 0: the file as a whole */
	uint32_t col;     /* from 1; 0: the line as a whole */
};

/*
 * Add one finding. weights: the profile's, FINDING_COUNT of them, or NULL for the defaults; a
 * finding of weight off is neither kept nor counted. remedy: one line, copied; NULL is "". format:
 * what and why, one line. Returns the finding, which stays where it is until the next addition, or
 * NULL when it was not kept: weight off, more than FINDINGS_KEEP of its kind, or no memory (then
 * list->failed is set, and stays so).
 */
struct finding *findings_add(struct findings *list, const enum weight *weights, enum finding_id id,
    const struct finding_place *at, const char *remedy, const char *format, ...)
    __attribute__((format(printf, 6, 7)));

/* Give a finding its second place. f may be NULL: nothing happens. file is copied. */
void findings_place_also(
    struct findings *list, struct finding *f, const char *file, uint64_t line, uint32_t col);

/* Append copies of all findings of from, and its counts. Weights stay as they are. */
void findings_append(struct findings *list, const struct findings *from);

/* The same without those that the list has already: same kind, place and text. */
void findings_append_new(struct findings *list, const struct findings *from);

/* Sort by channel, file, line, column; what concerns the pair as a whole (file "") comes last. */
void findings_sort(struct findings *list);

/* The heaviest weight in the list, WEIGHT_OFF when it is empty. */
enum weight findings_heaviest(const struct findings *list);

/* Free all that the list owns and zero it. */
void findings_free(struct findings *list);

#endif
