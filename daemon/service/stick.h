/* How a machine's programs are called on a stick, and how they are written there. */
#ifndef STICK_H
#define STICK_H

#include "inside.h"

struct stick_file {
	char channel[YOKE_NAME_MAX + 1];
	char folder[YOKE_PATH_MAX + 1]; /* on the stick, "" for its root */
	char name[YOKE_PATH_MAX + 1];
	struct sha program; /* as it was released */
	struct sha written; /* as it is written: with the line ends that the machine wants */
	uint64_t size;      /* of what is written, bytes */
};

/*
 * Names by the machine's line: on a stick by its own settings; a machine with a share has the names
 * and folders of the share, one with a serial line a folder with each channel's name. FAT's rules
 * hold for all. n parts, which must be present; file has YOKE_CHANNELS_MAX. 0, or -1 with one line
 * in why.
 */
int stick_names(struct service *s, const struct service_machine *m, const char *job,
    const char *revision, const struct vault_part *part, uint32_t n, struct stick_file *file,
    char *why, size_t whysize);

/*
 * What is to be written, as programs in the vault: a program with other line ends is one with a
 * SHA-256 of its own. Fills written and size. 0, or -1 with why.
 */
int stick_programs(struct service *s, const struct service_machine *m, struct stick_file *file,
    uint32_t n, char *why, size_t whysize);

#endif
