/* The deadlines of files, soonest first: a binary heap whose room is made before it is needed. */
#ifndef YOKE_INTAKE_DUE_H
#define YOKE_INTAKE_DUE_H

#include <stddef.h>
#include <stdint.h>

struct seen_file;

struct due {
	struct seen_file **heap;
	size_t count, room;
};

/* Makes room for n deadlines in all. Returns 0 or -ENOMEM. A zeroed struct due is empty. */
int due_reserve(struct due *d, size_t n);
void due_end(struct due *d);

/* Sets or moves the deadline of f to f->candidate.due_ms (loop time). Room for it must have been
 * made. */
void due_set(struct due *d, struct seen_file *f);

/* Takes f's deadline away, if it has one. */
void due_clear(struct due *d, struct seen_file *f);

/* The file with the soonest deadline, NULL for none; it keeps its deadline. */
struct seen_file *due_first(const struct due *d);

#endif
