/* Whose programs lie on a stick already. */
#ifndef STICK_CLASH_H
#define STICK_CLASH_H

#include "stick.h"

/*
 * Look through the folders of the job, whose programs are there as fresh: what lies under their names,
 * and which others have their program numbers. What belongs to another job, or does not say to whom,
 * is a clash: refused, unless j->replace. Fills replaced. 0, or EXIT_REFUSED, said.
 */
int stick_clash(struct stick_job *j);

#endif
