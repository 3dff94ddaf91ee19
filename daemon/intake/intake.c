#include "intake.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include "events.h"
#include "lookat.h"
#include "parts.h"
#include "turn.h"
#include "yoke/limits.h"

/* Longer deadlines than this (34 years) would only overflow. */
#define LONGEST_MS (UINT64_C(1) << 40)

void intake_settings_default(struct intake_settings *s)
{
	*s = (struct intake_settings){
	    .events = true, .poll_ms = 2000, .settle_ms = 3000, .incomplete_ms = 60000};
}

static void release(struct intake *in)
{
	treescan_end(in);
	seen_end(&in->seen);
	due_end(&in->due);
	for (size_t i = 0; in->skip_dirs && in->skip_dirs[i]; i++)
		free(in->skip_dirs[i]);
	free(in->skip_dirs);
	free(in->root_path);
	free(in->marker);
	free(in);
}

static uint64_t at_most(uint64_t ms)
{
	return ms < LONGEST_MS ? ms : LONGEST_MS;
}

static int copy_settings(struct intake *in, const struct intake_settings *from)
{
	struct intake_settings *to = &in->settings;
	size_t n = 0;

	*to = *from;
	in->root_path = strdup(from->root);
	if (from->marker)
		in->marker = strdup(from->marker);
	while (from->skip_dirs && from->skip_dirs[n])
		n++;
	in->skip_dirs = calloc(n + 1, sizeof(char *));
	if (!in->root_path || !in->skip_dirs || (from->marker && !in->marker))
		return -ENOMEM;
	for (size_t i = 0; i < n; i++)
		if (!(in->skip_dirs[i] = strdup(from->skip_dirs[i])))
			return -ENOMEM;
	to->root = in->root.path = in->root_path;
	to->marker = in->root.marker = in->marker;
	to->skip_dirs = (const char *const *)in->skip_dirs;
	to->poll_ms = from->poll_ms ? at_most(from->poll_ms) : 1;
	to->settle_ms = at_most(from->settle_ms);
	to->incomplete_ms = at_most(from->incomplete_ms);
	if (to->incomplete_ms < to->settle_ms)
		to->incomplete_ms = to->settle_ms;
	return 0;
}

struct intake *intake_new(uv_loop_t *loop, const struct intake_settings *settings,
    const struct intake_calls *calls, void *ctx)
{
	struct intake *in;

	if (!settings->root || !*settings->root || !calls->arrived ||
	    (settings->marker && filename_check(settings->marker) == FILENAME_DOTS)) {
		errno = EINVAL;
		return NULL;
	}
	in = calloc(1, sizeof(*in));
	if (!in)
		return NULL;
	in->loop = loop;
	in->calls = *calls;
	in->ctx = ctx;
	if (seen_init(&in->seen) < 0)
		goto no_table;
	if (copy_settings(in, settings) < 0)
		goto fail;
	return in;

no_table:
	free(in);
	errno = ENOMEM;
	return NULL;
fail:
	release(in);
	errno = ENOMEM;
	return NULL;
}

void intake_let_go(void *ctx)
{
	struct intake *in = ctx;

	if (--in->handles == 0 && in->closing)
		release(in);
}

static void on_handle_closed(uv_handle_t *handle)
{
	intake_let_go(handle->data);
}

void intake_free(struct intake *in)
{
	if (!in || in->closing)
		return;
	in->closing = true;
	events_close(in);
	if (in->started) {
		uv_close((uv_handle_t *)&in->idle, on_handle_closed);
		uv_close((uv_handle_t *)&in->alarm, on_handle_closed);
		uv_close((uv_handle_t *)&in->beat, on_handle_closed);
	} else {
		release(in);
	}
}

int intake_start(struct intake *in)
{
	int rc;

	if (in->started)
		return -EALREADY;
	/* These three cannot fail in libuv 1.44; should one ever, nothing is half made. */
	rc = uv_idle_init(in->loop, &in->idle);
	if (rc == 0)
		rc = uv_timer_init(in->loop, &in->alarm);
	if (rc == 0)
		rc = uv_timer_init(in->loop, &in->beat);
	if (rc < 0)
		return rc;
	in->idle.data = in->alarm.data = in->beat.data = in;
	in->handles = 3;
	in->started = true;
	in->want_full = true;
	uv_update_time(in->loop);
	uv_timer_start(&in->beat, turn_on_beat, in->settings.poll_ms, in->settings.poll_ms);
	turn_wake(in);
	return 0;
}

void intake_pause(struct intake *in)
{
	in->paused = true;
	if (in->started && !in->closing) {
		uv_idle_stop(&in->idle);
		uv_timer_stop(&in->alarm);
	}
	if (in->watch)
		treewatch_hold(in->watch, true);
}

void intake_resume(struct intake *in)
{
	in->paused = false;
	if (in->watch)
		treewatch_hold(in->watch, false);
	turn_wake(in);
}

static bool could_arrive(const char *path)
{
	char name[256];

	if (*path == '\0' || strlen(path) > YOKE_PATH_MAX ||
	    filename_depth(path) > INTAKE_DEPTH_MAX + 1)
		return false;
	for (const char *p = path;; p++) {
		size_t len = strcspn(p, "/");

		if (len == 0 || len >= sizeof(name))
			return false;
		memcpy(name, p, len);
		name[len] = '\0';
		if (filename_check(name) != FILENAME_PLAIN)
			return false;
		p += len;
		if (*p == '\0')
			return true;
	}
}

int intake_known(struct intake *in, const char *path, const struct intake_state *state)
{
	struct seen_file *f;

	if (!could_arrive(path))
		return -EINVAL;
	if (due_reserve(&in->due, in->seen.count + 1) < 0 || !(f = seen_get(&in->seen, path)))
		return -ENOMEM;
	candidate_known(&f->candidate, state);
	return 0;
}

bool intake_still_same(struct intake *in, const struct intake_file *file)
{
	struct stat st;
	bool same = false;

	if (fstat(file->fd, &st) == 0) {
		struct intake_state state = lookat_state(&st);

		same = candidate_same(&file->state, &state);
	}
	if (!same)
		intake_again(in, file->path, in->settings.settle_ms);
	return same;
}

int intake_again(struct intake *in, const char *path, uint64_t after_ms)
{
	struct seen_file *f = seen_find(&in->seen, path);

	if (!f || f->ignored)
		return -ENOENT;
	candidate_reopen(&f->candidate, uv_now(in->loop), at_most(after_ms));
	due_set(&in->due, f);
	turn_wake(in);
	return 0;
}

void intake_rescan(struct intake *in)
{
	in->want_full = true;
	turn_wake(in);
}

struct intake_counts intake_counts(const struct intake *in)
{
	struct intake_counts counts = in->counts;

	counts.files = in->seen.count;
	counts.watches = in->watch ? treewatch_count(in->watch) : 0;
	counts.waiting = in->due.count;
	return counts;
}

bool intake_is_offline(const struct intake *in)
{
	return in->offline;
}

const char *intake_refusal_name(enum intake_refusal why)
{
	static const char *const names[] = {
#define NAME(code, name, text) name,
	    INTAKE_REFUSALS(NAME)
#undef NAME
	};

	return (unsigned)why < INTAKE_REFUSALS_COUNT ? names[why] : "unknown";
}

const char *intake_path_text(const char *path, char *out, size_t size)
{
	return filename_text(path, out, size);
}
