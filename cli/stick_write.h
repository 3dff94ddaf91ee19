/* Programs onto a stick: beside what lies there, and then in its place, all or none. */
#ifndef STICK_WRITE_H
#define STICK_WRITE_H

#include "stick.h"

/*
 * Open or make the folders, find what lies under the names, and write every program under a name of
 * its own beside it: flushed, read back and compared. Nothing that lay there is touched. 0, or the
 * exit status, said; stick_job_end removes what was written.
 */
int stick_write_fresh(struct stick_job *j);

/*
 * Put all in place, with this file time (seconds since 1970 UTC): what lay there goes aside first,
 * and comes back when one of them cannot be put in place. 0, or the exit status, said.
 */
int stick_place(struct stick_job *j, int64_t time);

/*
 * After the list and the note were written: what went aside is removed, everything is flushed and
 * read back under its name. 0, or the exit status, said.
 */
int stick_settle(struct stick_job *j);

/* A small file in the stick's root, whole or not at all, flushed. aside: a name of its own for the
 * moment. Frees the text. 0, or the exit status, said. */
int stick_put(const struct stick *s, const char *name, const char *aside, struct text *t);

#endif
