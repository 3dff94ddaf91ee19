/* What the files of the modal state share: a block's words, sorted. */
#ifndef MODAL_INSIDE_H
#define MODAL_INSIDE_H

#include "modal.h"

enum { MODAL_CODES_MAX = NC_WORDS_MAX };

/* A block's words by address. Words behind a comma are none of these. */
struct modal_words {
	const struct nc_word *of[26];               /* the last with this letter; G and M apart */
	int g[MODAL_CODES_MAX], m[MODAL_CODES_MAX]; /* in tenths, in order */
	size_t gs, ms;
	bool lost_g, lost_m; /* one of them is not known */
	bool axes;           /* X, Y, Z, U, V, W, A, B or C, or H as an incremental C */
	int64_t sequence;    /* N, -1 without */
};

/* modal_words.c */
void modal_words_read(struct modal_words *w, const struct modal *m, const struct nc_block *b);
bool modal_words_g(const struct modal_words *w, int tenths);
/* True when a code of motion other than G90, G92 and G94 stands in the block. */
bool modal_words_motion(const struct modal_words *w);
static inline const struct nc_word *modal_words_of(const struct modal_words *w, char letter)
{
	return w->of[letter - 'A'];
}
/* How often L or K says; 1 without, 0 when it is not known. */
uint64_t modal_words_repeat(const struct modal_words *w);

/* modal_set.c: settings in the order of NISTIR 6556, table 8, up to G98 and G99; what can be told
 * of the family comes first. */
void modal_set_family(struct modal *m, const struct modal_words *w);
void modal_set(struct modal *m, const struct modal_words *w, struct modal_step *s);
/* A code that is not known may have set anything of its kind; uncertain words anything at all. */
void modal_set_lost(struct modal *m, const struct modal_words *w, bool uncertain);

/* modal_place.c: places that are not known any more (all, or those the block names), or differ by
 * an offset. */
void modal_place_forget(struct modal *m);
void modal_place_forget_named(struct modal *m, struct modal_step *s);
void modal_place_shift(struct modal *m);
/* Where the block's axis words lead: named, to, way and shifted of the step. */
void modal_place_targets(struct modal *m, const struct modal_words *w, struct modal_step *s);
/* The axis goes by n from where it stood. */
void modal_place_by_way(struct modal_step *s, int axis, const struct modal_number *n);
/* The motion is done. */
void modal_place_arrive(struct modal *m, struct modal_step *s);
/* The axes stand where the words say, without motion. */
void modal_place_preset(struct modal *m, const struct modal_words *w, struct modal_step *s);

/* modal_data.c: what sets places or transforms them. True when the block's axis words are data and
 * move nothing. */
bool modal_data(struct modal *m, const struct modal_words *w, struct modal_step *s);

/* modal_drill.c: a block of a drilling cycle; begins: the first one. */
void modal_drill(struct modal *m, const struct modal_words *w, struct modal_step *s, bool begins);

/* modal_move.c: motion, behind all of these. */
void modal_move(struct modal *m, const struct modal_words *w, struct modal_step *s);

static inline bool modal_drills(int motion)
{
	return motion >= 810 && motion <= 890;
}

/* T names the tool and its offset. */
static inline bool modal_turret(const struct modal *m)
{
	return m->channel->offset_digits > 0;
}

#endif
