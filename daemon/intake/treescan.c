#include "treescan.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "lookat.h"
#include "parts.h"

struct treescan_folder {
	struct treescan_folder *next;
	enum treescan_why why;
	char path[];
};

void treescan_add(struct intake *in, const char *path, enum treescan_why why)
{
	struct treescan *s = &in->scan;
	struct treescan_folder *f = malloc(sizeof(*f) + strlen(path) + 1);

	if (!f) {
		in->short_of_memory = true;
		return;
	}
	strcpy(f->path, path);
	f->why = why;
	f->next = NULL;
	if (s->last)
		s->last->next = f;
	else
		s->first = f;
	s->last = f;
}

static void leave_folder(struct treescan *s)
{
	if (s->stream)
		closedir(s->stream);
	s->stream = NULL;
	free(s->now);
	s->now = NULL;
}

void treescan_clear(struct intake *in)
{
	struct treescan *s = &in->scan;

	leave_folder(s);
	for (struct treescan_folder *f = s->first, *next; f; f = next) {
		next = f->next;
		free(f);
	}
	s->first = s->last = NULL;
	s->sweeping = false;
}

static void forget_polled(struct treescan *s)
{
	for (size_t i = 0; i < s->polled_count; i++)
		free(s->polled[i]);
	free(s->polled);
	s->polled = NULL;
	s->polled_count = 0;
}

void treescan_end(struct intake *in)
{
	treescan_clear(in);
	forget_polled(&in->scan);
}

void treescan_begin(struct intake *in, bool full)
{
	struct treescan *s = &in->scan;

	treescan_clear(in);
	s->sweep++;
	s->sweeping = true;
	s->full = full;
	s->partial = s->noticed = false;
	if (full) {
		forget_polled(s);
		treescan_add(in, "", TREESCAN_FULL);
	}
	for (size_t i = 0; i < s->polled_count; i++)
		treescan_add(in, s->polled[i], TREESCAN_POLL);
}

bool treescan_busy(const struct intake *in)
{
	return in->scan.first || in->scan.now || in->scan.sweeping;
}

/* From now on path and all below it is polled. Says so once in a sweep. */
static void poll_instead(struct intake *in, const char *path, int error)
{
	struct treescan *s = &in->scan;
	char **polled;
	char text[512], shown[256];

	for (size_t i = 0; i < s->polled_count; i++)
		if (filename_under(path, s->polled[i]))
			return;
	polled = realloc(s->polled, (s->polled_count + 1) * sizeof(char *));
	if (polled)
		s->polled = polled;
	if (!polled || !(s->polled[s->polled_count] = strdup(path))) {
		in->short_of_memory = true;
		return;
	}
	s->polled_count++;
	if (error == 0 || s->noticed || !in->calls.notice)
		return;
	s->noticed = true;
	filename_text(*path ? path : ".", shown, sizeof(shown));
	snprintf(text, sizeof(text),
	    "%s: cannot be watched by events (%s): this folder and those that follow are polled "
	    "every "
	    "%llu ms; raise fs.inotify.max_user_watches and max_user_instances, then restart",
	    shown, error == ENOSPC ? "the limit of watches is reached" : strerror(error),
	    (unsigned long long)in->settings.poll_ms);
	in->calls.notice(in->ctx, path, text);
}

/* A folder that cannot be read: tell it, unless it went away or we are short of something
 * ourselves. */
static void cannot_open(struct intake *in, const char *path, int error)
{
	if (error == ENOENT || error == ENOTDIR || error == ELOOP)
		return;
	in->scan.partial = true;
	if (*path)
		lookat_unreadable(in, path, error);
}

static void enter_folder(struct intake *in, int rootfd)
{
	struct treescan *s = &in->scan;
	struct treescan_folder *f = s->first;

	s->first = f->next;
	if (!s->first)
		s->last = NULL;
	s->now = f;
	int fd = lookat_open_folder(rootfd, f->path, O_RDONLY);
	if (fd < 0) {
		cannot_open(in, f->path, -fd);
		leave_folder(s);
		return;
	}
	struct seen_file *was_unreadable = seen_find(&in->seen, f->path);
	if (was_unreadable)
		lookat_forget(in, was_unreadable);
	/* Watch first, read then: nothing can come in between. */
	if (f->why != TREESCAN_POLL) {
		int rc = in->watch ? treewatch_add(in->watch, fd, f->path) : -ENOSYS;

		if (rc < 0) {
			f->why = TREESCAN_POLL;
			poll_instead(in, f->path, in->watch ? -rc : 0);
		}
	}
	s->stream = fdopendir(fd);
	if (!s->stream) {
		cannot_open(in, f->path, errno);
		close(fd);
		leave_folder(s);
	}
}

static void take_entry(struct intake *in, const char *name)
{
	struct treescan *s = &in->scan;
	char path[PARTS_PATH_SIZE];
	const char *dir = s->now->path;

	if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0)
		return;
	int n = snprintf(path, sizeof(path), "%s%s%s", dir, *dir ? "/" : "", name);
	if (n < 0 || (size_t)n >= sizeof(path))
		return; /* cannot be: the depth is bounded where folders are added */
	struct seen_file *f = lookat_name(in, path, name);
	if (!f)
		return;
	enum candidate_cue cue = CANDIDATE_FOUND;
	if (s->now->why == TREESCAN_POLL)
		cue = CANDIDATE_POLLED;
	else if (s->now->why == TREESCAN_FULL && f->sweep != s->sweep)
		cue = CANDIDATE_RESCAN;
	f->sweep = s->sweep;
	f->reason = s->now->why == TREESCAN_POLL   ? INTAKE_POLL
	            : s->now->why == TREESCAN_FULL ? INTAKE_RESCAN
	                                           : INTAKE_EVENT;
	lookat_entry(in, dirfd(s->stream), f, name, cue, s->now->why);
}

static void forget_unmet(void *ctx, struct seen_file *f)
{
	struct intake *in = ctx;
	struct treescan *s = &in->scan;
	bool covered = s->full;

	if (f->sweep == s->sweep || f->queued)
		return;
	for (size_t i = 0; i < s->polled_count && !covered; i++)
		covered = filename_under(f->path, s->polled[i]);
	if (covered)
		lookat_forget(in, f);
}

static void end_sweep(struct intake *in)
{
	struct treescan *s = &in->scan;
	bool full = s->full;

	if (!s->partial)
		seen_each(&in->seen, forget_unmet, in);
	s->sweeping = false;
	if (!full)
		return;
	in->counts.scans++;
	if (in->calls.scanned)
		in->calls.scanned(in->ctx);
}

void treescan_step(struct intake *in, int rootfd)
{
	struct treescan *s = &in->scan;

	if (s->stream) {
		errno = 0;
		struct dirent *e = readdir(s->stream);

		if (e) {
			take_entry(in, e->d_name);
			return;
		}
		if (errno)
			cannot_open(in, s->now->path, errno);
		leave_folder(s);
	} else if (s->first) {
		enter_folder(in, rootfd);
	} else if (s->sweeping) {
		end_sweep(in);
	}
}
