/* A ladder while it is drawn, and the parts of its drawing. */
#ifndef LADDER_RUNG_H
#define LADDER_RUNG_H

#include "ladder_plan.h"
#include "ladder_row.h"

enum { LADDER_RUNG_BESIDE = 16 }; /* room right of the last of three or four life lines */

struct ladder {
	const struct pair_report *r;
	const struct ladder_glyphs *g;
	struct text *out;
	struct ladder_row row;
	bool ascii;
	int lanes;
	size_t width;
	long x[YOKE_CHANNELS_MAX];     /* the life lines */
	long gap;                      /* cells from one to the next */
	long beside;                   /* cells right of the last one */
	bool open[YOKE_CHANNELS_MAX];  /* the life line is drawn open: its program is missing, or it
	                                  waits for ever */
	bool ended[YOKE_CHANNELS_MAX]; /* it has ended: no more life line */
};

/* "line 40  N200", mirrored where it stands left of its life line; without N where it is wider than
 * max. */
void ladder_rung_place(
    char *s, size_t size, const struct pair_stop *stop, bool mirrored, size_t max);

/* An empty row with its life lines. */
void ladder_rung_spacer(struct ladder *l);

/* All rungs, what lies between them, and how the run ends. */
void ladder_rung_all(struct ladder *l, const struct ladder_plan *plan);

#endif
