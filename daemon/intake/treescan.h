/* Scanning the tree in small steps: at start, after an overflow, by polling, and each new folder.
 */
#ifndef YOKE_INTAKE_TREESCAN_H
#define YOKE_INTAKE_TREESCAN_H

#include <dirent.h>
#include <stdbool.h>
#include <stdint.h>

struct intake;

enum treescan_why {
	TREESCAN_NEW_FOLDER, /* it was created or moved here */
	TREESCAN_FULL,       /* part of a full scan */
	TREESCAN_POLL,       /* part of a poll: below it nothing is watched */
};

struct treescan_folder;

struct treescan {
	struct treescan_folder *first, *last; /* still to be scanned */
	struct treescan_folder *now;          /* being scanned, with its stream */
	DIR *stream;
	char **polled; /* folders that are polled with all below; owned */
	size_t polled_count;
	uint32_t sweep; /* number of the newest sweep; a sweep is a full scan or a poll */
	bool sweeping;
	bool full;    /* the sweep is a full one */
	bool partial; /* the sweep could not read everything: what it missed may still be there */
	bool noticed; /* told already that watches ran out */
};

/* Adds the folder path. Without memory a full scan follows at the next beat. */
void treescan_add(struct intake *in, const char *path, enum treescan_why why);

/*
 * Begins a sweep: a full one (what was under way is dropped, polled folders are watched again) or
 * of the polled folders. The watch must be open by now.
 */
void treescan_begin(struct intake *in, bool full);

/* True if there is something to scan. */
bool treescan_busy(const struct intake *in);

/*
 * Takes one entry, or opens one folder, or ends the sweep. rootfd is the open root.
 * At the end of a sweep names that it did not meet are forgotten, unless it was partial.
 */
void treescan_step(struct intake *in, int rootfd);

/* Drops everything that is under way. */
void treescan_clear(struct intake *in);

/* The same, and the list of polled folders: at the end. */
void treescan_end(struct intake *in);

#endif
