#include "events.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include "lookat.h"
#include "parts.h"
#include "turn.h"

void events_close(struct intake *in)
{
	if (in->watch)
		treewatch_close(in->watch);
	in->watch = NULL;
}

static void on_event(
    void *ctx, enum treewatch_what what, const char *dir, const char *name, bool is_folder);

void events_open(struct intake *in)
{
	char text[512], shown[256];

	events_close(in);
	if (!in->settings.events)
		return;
	int rc = treewatch_open(
	    &in->watch, in->loop, in->settings.watch_limit, on_event, intake_let_go, in);
	if (rc == 0) {
		in->handles++;
		treewatch_hold(in->watch, in->paused);
		return;
	}
	in->watch = NULL;
	if (!in->calls.notice)
		return;
	filename_text(in->settings.root, shown, sizeof(shown));
	snprintf(text, sizeof(text),
	    "%s: events cannot be had (%s): the folder is polled every %llu ms; raise "
	    "fs.inotify.max_user_instances, then restart",
	    shown, strerror(-rc), (unsigned long long)in->settings.poll_ms);
	in->calls.notice(in->ctx, "", text);
}

static void lost_events(struct intake *in)
{
	in->want_full = true;
	in->counts.overflows++;
	if (in->calls.overflow)
		in->calls.overflow(in->ctx);
	turn_wake(in);
}

/* A name went away. Nobody is told; what waits for it is looked at, and forgotten when it is really
 * gone. */
static void name_gone(struct intake *in, const char *path, bool is_folder)
{
	struct seen_file *f = seen_find(&in->seen, path);

	if (is_folder && in->watch)
		treewatch_forget(in->watch, path);
	if (!f)
		return;
	if (f->ignored)
		lookat_forget(in, f);
	else
		seen_queue(&in->seen, f, CANDIDATE_TIMER);
}

static void on_event(
    void *ctx, enum treewatch_what what, const char *dir, const char *name, bool is_folder)
{
	struct intake *in = ctx;
	char path[PARTS_PATH_SIZE];

	if (what == TREEWATCH_OVERFLOW || what == TREEWATCH_BROKEN) {
		lost_events(in);
		return;
	}
	if (what == TREEWATCH_SELF) {
		/* The next turn looks at the root. A folder made anew in its place may bear its
		 * inode number, so watch and scan again in any case. Other folders are told of by
		 * the one that holds them. */
		in->want_full |= *dir == '\0';
		turn_wake(in);
		return;
	}
	int n = snprintf(path, sizeof(path), "%s%s%s", dir, *dir ? "/" : "", name);
	if (n < 0 || (size_t)n >= sizeof(path))
		return;
	if (what == TREEWATCH_GONE) {
		name_gone(in, path, is_folder);
		turn_wake(in);
		return;
	}
	struct seen_file *f = lookat_name(in, path, name);
	if (f) {
		bool whole = !is_folder && what != TREEWATCH_CREATED;

		f->sweep = in->scan.sweep;
		f->reason = INTAKE_EVENT;
		seen_queue(&in->seen, f, whole ? CANDIDATE_CLOSED : CANDIDATE_FOUND);
	}
	turn_wake(in);
}
