/*
 * A file that holds the programs of several channels, one part behind each separator: the blocks
 * that look like the profile's separator, such as "$ {channel}". One pass gives a program for each
 * channel; a part that belongs to another channel is read as empty lines, so that every finding
 * names the line of the file.
 *
 * What stands in front of the first separator belongs to every channel: %, the program number and
 * comments; any other block there is a finding, and so is a separator that names no channel of the
 * machine: the blocks behind it belong to none. A channel may have several parts; they are one
 * program. Where % opens the file in front of the first separator, the % at its end closes all
 * programs.
 */
#ifndef YOKE_SPLIT_H
#define YOKE_SPLIT_H

#include <stddef.h>
#include "yoke/profile.h"
#include "yoke/program.h"

struct split;

/*
 * Begin a file, as program_new; the profile must have a separator and outlive the programs. NULL
 * when memory runs out.
 */
struct split *split_new(const struct profile *profile, const char *file);

/* Let each of its programs call the subprograms of a sister, as program_sister. */
int split_sister(struct split *s, const struct program *sister);

/* Let each of its programs keep its text, as program_keep. */
void split_keep(struct split *s);

/* Read n more bytes, in order, in chunks of any size. 0, or -1 when memory ran out (sticky). */
int split_feed(struct split *s, const void *bytes, size_t n);

/* The end of the bytes: finishes the programs. Call once. 0, or -1 when memory ran out. */
int split_finish(struct split *s);

/*
 * After split_finish: the program of channel 0, 1, ... of the profile, which belongs to the caller
 * from now on, or NULL when no separator names that channel. Where none does for any, the file
 * holds one channel's program and was not split.
 */
struct program *split_take(struct split *s, int channel);

/* Free, with the programs that were not taken; NULL is allowed. */
void split_free(struct split *s);

#endif
