/* What the parts of an intake share. Not for users of intake.h. */
#ifndef YOKE_INTAKE_PARTS_H
#define YOKE_INTAKE_PARTS_H

#include "due.h"
#include "filename.h"
#include "intake.h"
#include "seen.h"
#include "treeroot.h"
#include "treescan.h"
#include "treewatch.h"

enum {
	/* Longest path that is ever put together: INTAKE_DEPTH_MAX folders and a name of 255 bytes
	   each. */
	PARTS_PATH_SIZE = (INTAKE_DEPTH_MAX + 1) * 256,
};

struct intake {
	uv_loop_t *loop;
	struct intake_settings settings;
	struct intake_calls calls;
	void *ctx;
	struct intake_counts counts;
	struct seen seen;
	struct due due;
	struct treeroot root;
	struct treescan scan;
	struct treewatch *watch; /* NULL while polling or offline */
	uv_idle_t idle;          /* runs while there is work */
	uv_timer_t alarm;        /* the soonest deadline */
	uv_timer_t beat;         /* every poll_ms */
	int handles;             /* that the loop has not let go yet */
	bool started, paused, closing, offline;
	bool want_full;                        /* a full scan is asked for */
	bool short_of_memory;                  /* ... and is to be asked for at the next beat */
	char *root_path, *marker, **skip_dirs; /* what settings points to */
};

/* True if no callback may be made now: paused, closing or offline. */
static inline bool parts_halted(const struct intake *in)
{
	return in->paused || in->closing || in->offline;
}

/* One handle of the intake was let go by the loop; the last one frees it. In intake.c. */
void intake_let_go(void *in);

#endif
