/* Files as the check needs them: one pass over the bytes, that sums and reads at the same time. */
#ifndef LOAD_H
#define LOAD_H

#include <stdint.h>
#include "yoke/limits.h"
#include "yoke/profile.h"
#include "yoke/program.h"
#include "yoke/text.h"

/*
 * Open a file for reading, without ever waiting for a writer. Directories, devices, sockets and
 * files larger than YOKE_PROGRAM_MAX are refused. The descriptor, which the caller closes; -1 with
 * one line (without its end) in why.
 */
int load_open(const char *path, struct text *why);

/*
 * Read the descriptor to its end (a file from its beginning) in large chunks, sum and reader in one
 * pass. name is shown in findings and read by the pattern 'names'. *program is finished, belongs to
 * the caller and refers to profile. -1 with one line in why: it cannot be read, it is too large, or
 * it changed while it was read.
 */
int load_program(int fd, const char *name, const struct profile *profile, struct program **program,
    uint8_t sum[YOKE_SHA_SIZE], struct text *why);

/*
 * The same for a file that holds several channels, split at the profile's separator. sister: what
 * its programs may call, finished and outliving them; NULL without. keep: each keeps its text. The
 * number of its programs, which belong to the caller, in the order of the channels; 0 when no
 * separator of a channel stands in it. -1 as above.
 */
int load_split(int fd, const char *name, const struct profile *profile,
    struct program *const *sister, size_t sisters, bool keep,
    struct program *program[YOKE_CHANNELS_MAX], uint8_t sum[YOKE_SHA_SIZE], struct text *why);

/*
 * As load_program, into a program that the caller made (program_new, program_new_sister, with its
 * sisters), and finished here. 0, or -1; the program stays the caller's in either case.
 */
int load_into(int fd, const char *name, struct program *program, uint8_t sum[YOKE_SHA_SIZE],
    struct text *why);

/*
 * The whole content to put, in pieces and not summed; put gives 0, or what ends it. 0; what put gave,
 * why is empty then; -1 with one line in why, as load_program.
 */
int load_pour(int fd, const char *name, int (*put)(void *ctx, const void *bytes, size_t n), void *ctx,
    struct text *why);

/* The whole content in memory, for whom needs it at once. The caller frees *bytes. As load_program.
 */
int load_bytes(int fd, const char *name, char **bytes, size_t *n, uint8_t sum[YOKE_SHA_SIZE],
    struct text *why);

#endif
