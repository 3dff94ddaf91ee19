/* The parts of a job's report that list entries of the trail. Each entry stands in one of them, once. */
#ifndef DOSSIER_SECTIONS_H
#define DOSSIER_SECTIONS_H

#include "dossier.h"
#include "yoke/sheet.h"

/* What came in, and what was decided about it. */
void dossier_sections_intake(struct sheet *s, const struct dossier *d);

/* Each order for this job from its wish to its end. */
void dossier_sections_orders(struct sheet *s, const struct dossier *d);

/* What was said or found of machines besides. */
void dossier_sections_machines(struct sheet *s, const struct dossier *d);

/* All others. */
void dossier_sections_rest(struct sheet *s, const struct dossier *d);

/* What bears on the whole trail: these name no job, and stand beside the others. */
void dossier_sections_general(struct sheet *s, const struct dossier *d);

/* Who is named in which entries. */
void dossier_sections_people(struct sheet *s, const struct dossier *d);

#endif
