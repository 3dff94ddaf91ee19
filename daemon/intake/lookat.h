/* Looking at one name: what is it, has it arrived? */
#ifndef YOKE_INTAKE_LOOKAT_H
#define YOKE_INTAKE_LOOKAT_H

#include <sys/stat.h>
#include "seen.h"
#include "treescan.h"

struct intake;

/*
 * Opens the folder path below rootfd with flags (O_RDONLY or O_PATH), following no link. Returns
 * the descriptor or a negative errno.
 */
int lookat_open_folder(int rootfd, const char *path, int flags);

/*
 * Judges a name by itself. Returns its file in the memory when it is to be looked at; NULL when it
 * is ignored (counted), refused (told), skipped, or there is no memory (a full scan follows).
 */
struct seen_file *lookat_name(struct intake *in, const char *path, const char *name);

/*
 * Looks at the entry `name` of the open folder dirfd, known as f: hands it over, refuses it, lets
 * it wait, or forgets it. A folder is added to the scan, as `why`. f may be gone afterwards.
 */
void lookat_entry(struct intake *in, int dirfd, struct seen_file *f, const char *name,
    enum candidate_cue cue, enum treescan_why why);

/* The same for a file known by its path alone. */
void lookat_path(struct intake *in, int rootfd, struct seen_file *f, enum candidate_cue cue);

/* Refuses a folder that cannot be read, and looks again after incomplete_ms. */
void lookat_unreadable(struct intake *in, const char *path, int error);

/* The state of a file as stat tells it; times beyond 64 bits of nanoseconds are cut. */
struct intake_state lookat_state(const struct stat *st);

/* Takes f out of deadlines and memory. */
void lookat_forget(struct intake *in, struct seen_file *f);

#endif
