/* The programs of a pair out of the vault, read and checked against a profile. */
#ifndef EXAM_H
#define EXAM_H

#include "vault.h"
#include "yoke/pair.h"

struct exam_paper {
	char channel[YOKE_NAME_MAX + 1];
	char path[YOKE_PATH_MAX + 1]; /* for names and findings */
	struct sha sha;
	struct program *ready; /* already read with the same profile; stays the caller's; NULL: read
	                          from the vault */
};

struct exam {
	struct program *program[YOKE_CHANNELS_MAX];
	bool own[YOKE_CHANNELS_MAX];
	size_t programs;
	struct pair_report *report;
};

/* One program out of the vault, read and finished; path is its name in findings. NULL when it is
 * missing, damaged, or memory ran out. */
struct program *exam_program(
    struct vault *v, const struct profile *profile, const char *path, const struct sha *sha);

/* A program's bytes, appended to out. 0; -1 when it is missing, damaged, or memory ran out. */
int exam_bytes(struct vault *v, const struct sha *sha, struct text *out);

/*
 * Read and check n papers, 1 to YOKE_CHANNELS_MAX. 0 and *e, which the caller frees; -1 with one
 * line in why (size whysize) when a program is missing, damaged, or memory ran out.
 */
int exam_run(struct exam *e, struct vault *v, const struct profile *profile,
    const struct exam_paper *paper, size_t n, char *why, size_t whysize);
void exam_free(struct exam *e);

#endif
