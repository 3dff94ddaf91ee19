/*
 * What the parts of the work on a share have in common: share.c begins and ends an order, share_keep.c
 * does what comes before the first writing, share_send.c writes and replaces, share_replace.c puts one
 * name in place of another, share_settle.c puts right, share_tidy.c removes what is left over.
 */
#ifndef SHARE_WORK_H
#define SHARE_WORK_H

#include "folder.h"
#include "job.h"
#include "leftover.h"

/* What an order, this or another, has left in the folders. */
struct share_left {
	struct leftover of;
	uint32_t folder; /* the first item with this folder */
};

struct share_work {
	struct job *job;
	uint32_t n; /* items */
	struct folder_order common;
	struct folder *folder[YOKE_CHANNELS_MAX];
	struct folder_seen old[YOKE_CHANNELS_MAX]; /* before the order, where old_known */
	struct folder_seen now[YOKE_CHANNELS_MAX]; /* at the last look, where now_known */
	bool old_known[YOKE_CHANNELS_MAX], now_known[YOKE_CHANNELS_MAX];
	int now_rc[YOKE_CHANNELS_MAX];  /* of the last look */
	bool twin[YOKE_CHANNELS_MAX];   /* its .old is the old file itself, and no copy */
	bool done[YOKE_CHANNELS_MAX];   /* this program was replaced, or removed */
	bool unsure[YOKE_CHANNELS_MAX]; /* how the last change of it ended is not known: it may come late */
	uint32_t try;                   /* in the names of what this try writes */
	bool edited; /* somebody has changed a program since the order read it */
	bool gap; /* the share replaces nothing that is there: programs are removed first */
	uint64_t away_ms[YOKE_CHANNELS_MAX]; /* for how long a name had no program because of that */
	bool rescue; /* puts right what was begun: a wish to stop does not count */
	uint64_t deadline; /* parent_now() clock */
	struct carry_progress at;
	struct folder_seen none; /* what is written where there was no program */
	struct share_left *left; /* of the last survey */
	size_t lefts, room;
	bool surveyed; /* nothing was changed since, but by removing what it no longer lists */
};

/* Begin a phase of an item for progress messages. */
void share_phase(struct share_work *d, uint32_t item, enum carry_phase phase, uint64_t total);

/* Note the fault of a folder's call: cancelled, out of time, what the folder said, or the system
 * call's own. Always -1. */
int share_fault(struct share_work *d, int rc, uint32_t item, const char *what);

/* Ask for a step; -1 with CARRY_ERROR_CANCELLED when it is not granted. */
int share_step(struct share_work *d, enum carry_step_kind step, uint32_t item);

/* True when the file is what the order wants item i to be. */
bool share_wanted(const struct share_work *d, uint32_t i, const struct folder_seen *seen);

/* Item i's program as a file that holds it; its memory is the job's. Nothing is there when the order
 * brings none. */
struct folder_seen share_program(const struct share_work *d, uint32_t i);

/* The folder is still the one that was opened. 0, or -1 with the fault set. */
int share_check(struct share_work *d, uint32_t i);

/* The same for all, each share once. */
int share_check_all(struct share_work *d);

/* The name of one of this order's temporaries. */
void share_name(
    const struct share_work *d, uint32_t i, enum leftover_kind kind, char name[LEFTOVER_NAME]);

/* Read the old programs, hand them over, and look that no name beside them may be taken for theirs.
 * 0, or -1 with the fault set. */
int share_keep(struct share_work *d);

/* Everything of CARRY_SEND that comes before the first writing, for CARRY_TRY. */
void share_try(struct share_work *d);

/* For running_check: the share's root has a file of this name. ctx: the work. */
int share_in_root(void *ctx, const char *name, const char **why);

/* Replace the programs: CARRY_SEND after the folders are open. */
void share_send(struct share_work *d);

/*
 * Put the file from in place of item i's program, which must look as before says. Where the share
 * replaces nothing that is there the program is removed first. 0; SHARE_CHANGED: it looked otherwise,
 * and nothing was done; or what a folder's call gave. done says that something was changed, unsure
 * that something may have been: look before anything else.
 */
enum { SHARE_CHANGED = INT_MIN + 1 };
int share_replace(
    struct share_work *d, uint32_t i, const char *from, const struct folder_seen *before);

/* After a change whose end is not known: true when item i's new program was put in its place. What the
 * folder said stays. */
bool share_was_done(struct share_work *d, uint32_t i);

/* Note the end of a change of item i's program. rc. */
int share_changed(struct share_work *d, uint32_t i, int rc);

/* The outcome's words on programs that were away, where there were any. */
void share_tell_gap(struct share_work *d);

/* Read what item i's name holds into now. */
void share_look_at(struct share_work *d, uint32_t i, bool keep);

/* Read what every name holds into now, and fill the job's channels from it. */
void share_look(struct share_work *d);

/* True when each name was read and holds what the order wants. */
bool share_all_new(const struct share_work *d);

/* Put the old programs back where ours are, in reverse order, and look again. 0: there was nothing to
 * put back; 1: done; -1 with the fault set: it is still mixed, or not known. */
int share_put_back(struct share_work *d);

/* Look what every name holds, and hand over what is neither the new program nor the one that was believed
 * to be there. */
void share_tell_edits(struct share_work *d);

/* CARRY_INSPECT after the folders are open. */
void share_inspect(struct share_work *d);

/* Look what is left over in the folders. 0, or what a folder's call gave. */
int share_survey(struct share_work *d);

/* True when the last survey has seen this of item i. */
bool share_has(const struct share_work *d, uint32_t i, enum leftover_kind kind);

/* Sync the names in every folder, each once, also after a failure. 0, or what the first gave. */
int share_sync(struct share_work *d);

/* How many of this order's temporaries the last survey has seen. */
size_t share_own(const struct share_work *d);

/* Remove this order's own temporaries, without a step: they are part of the step that made them. */
int share_clean(struct share_work *d);

/* Which left-overs go. */
enum share_sweep {
	SHARE_SWEEP_OWN,  /* stumps of other orders' new programs, which nobody needs again,
	                     and all of this order's, from an earlier try */
	SHARE_SWEEP_PAST, /* of the others also the old programs of earlier orders: this
	                     machine's state is known now */
};

/* Remove them under CARRY_STEP_TIDY, which is asked only when there are any. 0, or -1 with the
 * fault set. */
int share_tidy(struct share_work *d, enum share_sweep what);

#endif
