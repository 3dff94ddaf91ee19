/* What the parts of the directory carrier share: directory.c begins and ends an order,
 * directory_send.c replaces, directory_settle.c puts right. */
#ifndef DIRECTORY_WORK_H
#define DIRECTORY_WORK_H

#include "file.h"
#include "job.h"
#include "leftover.h"
#include "place.h"

struct directory {
	struct job *job;
	uint32_t n; /* items */
	struct place place[YOKE_CHANNELS_MAX];
	struct file_seen old[YOKE_CHANNELS_MAX]; /* before the order, where old_known */
	struct file_seen now[YOKE_CHANNELS_MAX]; /* at the last look, where now_known */
	bool old_known[YOKE_CHANNELS_MAX], now_known[YOKE_CHANNELS_MAX];
	bool done[YOKE_CHANNELS_MAX]; /* our rename over this program may have happened */
	bool rescue;                  /* puts right what was begun: a wish to stop does not count */
	uint64_t deadline;            /* parent_now() clock */
	struct carry_progress at;
};

/* Begin a phase of an item for progress messages. */
void directory_phase(struct directory *d, uint32_t item, enum carry_phase phase, uint64_t total);

/* The tick for file work; ends it with -ECANCELED or -ETIME. */
struct file_tick directory_tick(struct directory *d);

/* Note the fault of a negative errno from file work: cancelled, out of time, or the system call's
 * own. Always -1. */
int directory_fault(struct directory *d, int rc, uint32_t item, const char *what);

/* Ask for a step; -1 with CARRY_ERROR_CANCELLED when it is not granted. */
int directory_step(struct directory *d, enum carry_step_kind step, uint32_t item);

/* True when the file is what the order wants item i to be. */
bool directory_wanted(const struct directory *d, uint32_t i, const struct file_seen *seen);

/* Replace the programs: CARRY_SEND after the places are open. */
void directory_send(struct directory *d);

/* Read what every target holds into now. */
void directory_look(struct directory *d);

/* True when each target was read and holds what the order wants. */
bool directory_all_new(const struct directory *d);

/* Put the old programs back where ours are, in reverse order, and look again. -1 when it is still
 * mixed. */
int directory_put_back(struct directory *d);

/* Remove this order's own temporaries, without a step: they are part of the step that made them. */
int directory_clean(struct directory *d);

/* CARRY_INSPECT after the places are open. */
void directory_inspect(struct directory *d);

/* Which left-overs go. */
enum directory_sweep {
	DIRECTORY_SWEEP_OWN,  /* stumps of other orders' new programs, which nobody needs again,
	                         and all of this order's, from an earlier try */
	DIRECTORY_SWEEP_PAST, /* of the others also the old programs of earlier orders: this
	                         machine's state is known now */
};

/* Remove them under CARRY_STEP_TIDY, which is asked only when there are any. 0, or -1 with the
 * fault set. */
int directory_tidy(struct directory *d, enum directory_sweep what);

#endif
