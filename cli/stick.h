/*
 * A stick or memory card in front of the command: a mounted folder, reached by descriptors, with
 * names as FAT takes them. Everything that goes wrong is said on stderr where it happens.
 */
#ifndef STICK_H
#define STICK_H

#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include "yoke/limits.h"
#include "yoke/text.h"

struct stick {
	const char *path; /* as the person named it */
	int fd;           /* its folder */
	char *mount;      /* where the file system is mounted; NULL when that cannot be told */
};

/* Open the folder, which must be there. 0, or EXIT_USE. */
int stick_open(struct stick *s, const char *path);
void stick_close(struct stick *s);

/*
 * What lies in a folder (open as dir; where: its name, for messages) under this name, in whatever case
 * FAT has left it. 1 and *actual, which the caller frees; 0 nothing; -1: two that FAT would take for
 * one, or it cannot be read.
 */
int stick_find(int dir, const char *where, const char *name, char **actual);

/*
 * The folder at this path below the stick, "" for the stick itself; make: make what is missing. Its
 * descriptor, and its path with a / behind it, as it is spelt on the stick, added to place; -1 not
 * there; -2 failed.
 */
int stick_folder(const struct stick *s, const char *folder, bool make, struct text *place);

/* Bytes that are free for us, UINT64_MAX when the file system does not say. */
uint64_t stick_free(const struct stick *s);

/* One program on its way to the stick. Strings of the answer are its. */
struct stick_file {
	const char *channel, *folder, *name, *sha256; /* from the service's answer */
	uint64_t size;
	int dir;       /* its folder, -1 not open */
	char *place;   /* folder and name on the stick */
	char *there;   /* what lies under its name, as it is spelt; NULL: nothing */
	char fresh[16], old[16];
	bool written, moved, placed; /* fresh is there; there is called old; fresh is called name */
	bool past;                   /* it was read back past this computer's cache */
	struct text replaced;        /* what it replaces, for a person; empty: nothing of interest */
};

struct stick_job {
	struct stick *stick;
	const json_t *list; /* the service's answer, with look */
	struct stick_file file[YOKE_CHANNELS_MAX];
	uint32_t files;
	bool replace;        /* also what belongs to another job: asked for, or the machine weighs it less */
	struct text earlier; /* the checksum list as it was */
};

/* Fill files from the answer. 0, or EXIT_SERVICE. */
int stick_job_fill(struct stick_job *j, struct stick *s, const json_t *list);

/* Close and forget; what is there beside the names is removed. */
void stick_job_end(struct stick_job *j);

#endif
