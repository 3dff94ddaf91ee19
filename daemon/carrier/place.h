/*
 * A channel's place on a mounted share: root, marker and folder, held open by descriptor.
 *
 * When a server or a mount dies, its path may be an empty local folder in which everything seems to
 * work. So the root must carry its marker file, and the path must still lead to the device and
 * folder that were opened, before each step that writes.
 */
#ifndef PLACE_H
#define PLACE_H

#include <sys/stat.h>
#include "fault.h"

struct place {
	const struct line_directory *line;
	uint32_t item;    /* for faults */
	int root, folder; /* -1 when not open */
	struct stat root_stat, folder_stat;
};

/*
 * Open root and folder; neither is ever made. No link is followed below the root. 0, or -1 with the
 * fault set: OFFLINE, MARKER, NAME.
 */
int place_open(
    struct place *p, const struct line_directory *line, uint32_t item, struct fault *f);

/* Keep other carriers out of the folder. 0, or -1 with BUSY. */
int place_lock(struct place *p, struct fault *f);

/* Hold the same open folder as the other, so that its lock is ours already. 0, or -1. */
int place_join(struct place *p, const struct place *other, struct fault *f);

/* The paths of root and folder still lead to what was opened and the marker is there. 0, or -1 with
 * OFFLINE or MARKER. */
int place_check(const struct place *p, struct fault *f);

/* True when both are the same folder. */
bool place_same(const struct place *a, const struct place *b);

/* Close; also one that failed to open or was never opened (root and folder -1). */
void place_close(struct place *p);

/*
 * True when name may be a file's name on a share: one path component of valid UTF-8, no control
 * character, no backslash, which many servers take for a slash, no dot or blank at the end, with which
 * many reach the name without it, not the beginning of our own temporaries, at most 255 bytes.
 */
bool place_name_ok(const char *name);

#endif
