/*
 * One program, read in a single pass: who it says it is, its wait codes, calls and ends, and its
 * own findings. Memory grows with wait codes, calls and findings, not with motion blocks.
 */
#ifndef YOKE_PROGRAM_H
#define YOKE_PROGRAM_H

#include <stddef.h>
#include <stdint.h>
#include "yoke/finding.h"
#include "yoke/profile.h"
#include "yoke/text.h"

struct program;

/*
 * Begin a program. file: the name shown in findings and read by the pattern 'names' (its last path
 * component); copied. profile must outlive the program. NULL when memory runs out.
 */
struct program *program_new(const struct profile *profile, const char *file);

/*
 * The same for a file of subprograms, which is nobody's main program: it has no job, revision or
 * channel, and needs no end of its own.
 */
struct program *program_new_sister(const struct profile *profile, const char *file);

/*
 * Let p call the subprograms of a sister: where its own file lacks a number the sisters' are looked
 * through, in the order in which they were given. The sister must be finished and outlive p; call
 * before p is finished. 0, or -1 when p has as many as it can have (16).
 */
int program_sister(struct program *p, const struct program *sister);

/* Read n more bytes, in order, in chunks of any size. 0, or -1 when memory ran out (sticky). */
int program_feed(struct program *p, const void *bytes, size_t n);

/*
 * Keep hold of all the bytes that were fed, for what reads the text once more (timeline, setup
 * sheet, restart points). They are not copied and must outlive the program; NULL takes them back.
 * At any time before that.
 */
void program_lend(struct program *p, const void *bytes, size_t n);

/* Copy the bytes as they are fed, where nobody else has them as they were read. Before the first. */
void program_keep(struct program *p);

/* The end of the bytes. Call once, before any question below. 0, or -1 when memory ran out. */
int program_finish(struct program *p);

/* Free; NULL is allowed. */
void program_free(struct program *p);

/*
 * Job and revision from name and header, in upper case ("" when unknown), and channel index (-1 when unknown or
 * contradicted). Where name and header disagree the header's value is returned and a finding says
 * so. Belongs to the program.
 */
const char *program_job(const struct program *p);
const char *program_revision(const struct program *p);
int program_channel(const struct program *p);

/* The first program number, or 0 when there is none. */
uint32_t program_number(const struct program *p);

/* Bytes and blocks read. */
uint64_t program_size(const struct program *p);
uint64_t program_blocks(const struct program *p);

/* The program's own findings, in the order of their lines. Belongs to the program. */
const struct findings *program_findings(const struct program *p);

/*
 * Whether a control can execute the program while it reads it, with nothing of it in its memory
 * (drip feed): what it has read is gone, and what it has not read is not there yet, so that it can
 * neither jump, repeat nor call within the file, and the text must end with the program's end.
 * Common practice. waits: such a control does wait codes; without, a program with any in its text is
 * refused. What cannot be told is refused too. False with one sentence, naming the place, added to
 * why.
 */
bool program_drips(const struct program *p, bool waits, struct text *why);

/* True when the reader saw where the program ends (closing %, or M02/M30 without %). */
bool program_complete(const struct program *p);

#endif
