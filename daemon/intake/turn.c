/*
 * Watch and timers fill three sources of work, which one idle handle empties in slices.
 *
 *     inotify --events.c--> queue of names --+
 *     deadlines -----------alarm-------------+--> on_idle --> lookat.c --> the receiver
 *     start, beat, overflow -> folders to scan+
 *
 *     new --start--> online <--enter_root--> offline
 *                      | pause, resume: no turn, no event is read; the beat still looks at the root
 */
#include "turn.h"

#include <unistd.h>
#include "events.h"
#include "lookat.h"
#include "parts.h"

enum {
	SLICE = 64,          /* steps of each source in one turn of the loop */
	SLICE_NS = 10000000, /* a turn ends after this, but every source had one step */
};

static void on_idle(uv_idle_t *handle);
static void on_alarm(uv_timer_t *handle);

void turn_wake(struct intake *in)
{
	if (in->started && !in->paused && !in->closing)
		uv_idle_start(&in->idle, on_idle);
}

static void set_alarm(struct intake *in)
{
	struct seen_file *f = due_first(&in->due);
	uint64_t now = uv_now(in->loop);

	if (!f || parts_halted(in)) {
		uv_timer_stop(&in->alarm);
		return;
	}
	uint64_t due = f->candidate.due_ms;
	uv_timer_start(&in->alarm, on_alarm, due > now ? due - now : 0, 0);
}

static void drop_deadline(void *ctx, struct seen_file *f)
{
	struct intake *in = ctx;

	due_clear(&in->due, f);
}

static void go_offline(struct intake *in, const char *text)
{
	if (in->offline)
		return;
	in->offline = true;
	events_close(in);
	treescan_clear(in);
	while (seen_next(&in->seen))
		;
	seen_each(&in->seen, drop_deadline, in);
	if (in->calls.offline)
		in->calls.offline(in->ctx, true, text);
}

/* Looks at the root. Returns it open, or -1 when it is offline or cannot be told now: the beat asks
 * again. */
static int enter_root(struct intake *in)
{
	char text[1024];
	int fd;
	enum treeroot_verdict verdict = treeroot_enter(&in->root, &fd, text, sizeof(text));

	if (fd < 0) {
		if (verdict != TREEROOT_SHORT)
			go_offline(in, text);
		return -1;
	}
	if (verdict == TREEROOT_NEW || in->offline)
		in->want_full = true;
	if (in->offline) {
		in->offline = false;
		if (in->calls.offline)
			in->calls.offline(in->ctx, false, text);
	}
	return fd;
}

void turn_on_beat(uv_timer_t *handle)
{
	struct intake *in = handle->data;
	int fd = enter_root(in);

	if (fd < 0 || in->closing)
		goto out;
	in->want_full |= in->short_of_memory;
	in->short_of_memory = false;
	if (!in->paused && !in->want_full && in->scan.polled_count > 0 && !treescan_busy(in))
		treescan_begin(in, false);
	turn_wake(in);
out:
	if (fd >= 0)
		close(fd);
}

static bool look_at_next(struct intake *in, int rootfd)
{
	struct seen_file *f = seen_next(&in->seen);

	if (!f)
		return false;
	lookat_path(in, rootfd, f, f->cue);
	return true;
}

static bool look_at_due(struct intake *in, int rootfd)
{
	struct seen_file *f = due_first(&in->due);

	if (!f || f->candidate.due_ms > uv_now(in->loop))
		return false;
	due_clear(&in->due, f);
	lookat_path(in, rootfd, f, CANDIDATE_TIMER);
	return true;
}

static bool scan_on(struct intake *in, int rootfd)
{
	if (!treescan_busy(in))
		return false;
	treescan_step(in, rootfd);
	return true;
}

/* One slice of one source of work. Returns true if something may be left. */
static bool slice(
    struct intake *in, int rootfd, uint64_t end_ns, bool (*step)(struct intake *, int))
{
	for (int i = 0; i < SLICE; i++) {
		if (parts_halted(in) || in->want_full)
			return true;
		if (!step(in, rootfd))
			return false;
		if (uv_hrtime() >= end_ns)
			return true;
	}
	return true;
}

static void on_idle(uv_idle_t *handle)
{
	struct intake *in = handle->data;
	bool left = false;

	uv_update_time(in->loop);
	int rootfd = enter_root(in);
	if (rootfd >= 0 && in->want_full && !parts_halted(in)) {
		in->want_full = false;
		events_open(in);
		treescan_begin(in, true);
	}
	if (rootfd >= 0) {
		uint64_t end_ns = uv_hrtime() + SLICE_NS;

		left |= slice(in, rootfd, end_ns, look_at_next);
		left |= slice(in, rootfd, end_ns, look_at_due);
		left |= slice(in, rootfd, end_ns, scan_on);
		close(rootfd);
	}
	if (in->closing)
		return;
	if (!left || parts_halted(in))
		uv_idle_stop(&in->idle);
	set_alarm(in);
}

static void on_alarm(uv_timer_t *handle)
{
	turn_wake(handle->data);
}
