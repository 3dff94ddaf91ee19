#include "treewatch.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>
#include "filename.h"

enum {
	BUCKETS = 4096,
	BUFFER = 64 * 1024, /* bytes of events taken in one turn of the loop */
};

#define MASK                                                                                       \
	(IN_CLOSE_WRITE | IN_MOVED_TO | IN_CREATE | IN_DELETE | IN_MOVED_FROM | IN_DELETE_SELF |   \
	    IN_MOVE_SELF | IN_ONLYDIR | IN_EXCL_UNLINK)

struct folder {
	struct folder *chain;
	int wd;
	char path[];
};

struct treewatch {
	uv_poll_t poll;
	int fd;
	bool closed; /* by treewatch_close: events still in the buffer are dropped */
	uint32_t limit;
	size_t count;
	treewatch_event *event;
	void (*gone)(void *ctx);
	void *ctx;
	struct folder *buckets[BUCKETS];
};

static struct folder **place(struct treewatch *w, int wd)
{
	struct folder **p = &w->buckets[(unsigned)wd % BUCKETS];

	while (*p && (*p)->wd != wd)
		p = &(*p)->chain;
	return p;
}

static void drop(struct treewatch *w, struct folder **p)
{
	struct folder *f = *p;

	*p = f->chain;
	w->count--;
	free(f);
}

static void report(struct treewatch *w, const struct inotify_event *e)
{
	bool is_folder = (e->mask & IN_ISDIR) != 0;

	if (e->mask & IN_Q_OVERFLOW) {
		w->event(w->ctx, TREEWATCH_OVERFLOW, NULL, NULL, false);
		return;
	}
	struct folder **p = place(w, e->wd);
	if (!*p)
		return; /* forgotten meanwhile */
	/* The callback may forget this folder: keep its name. */
	char *dir = strdup((*p)->path);
	if (!dir) {
		w->event(w->ctx, TREEWATCH_OVERFLOW, NULL, NULL, false);
		return;
	}
	if (e->mask & IN_IGNORED)
		drop(w, p);
	else if (e->mask & (IN_DELETE_SELF | IN_MOVE_SELF | IN_UNMOUNT))
		w->event(w->ctx, TREEWATCH_SELF, dir, NULL, true);
	else if (e->len == 0)
		; /* nothing that we asked for */
	else if (e->mask & IN_CLOSE_WRITE)
		w->event(w->ctx, TREEWATCH_CLOSED, dir, e->name, false);
	else if (e->mask & IN_MOVED_TO)
		w->event(w->ctx, TREEWATCH_MOVED_IN, dir, e->name, is_folder);
	else if (e->mask & IN_CREATE)
		w->event(w->ctx, TREEWATCH_CREATED, dir, e->name, is_folder);
	else if (e->mask & (IN_DELETE | IN_MOVED_FROM))
		w->event(w->ctx, TREEWATCH_GONE, dir, e->name, is_folder);
	free(dir);
}

static void on_readable(uv_poll_t *handle, int status, int events)
{
	struct treewatch *w = handle->data;
	_Alignas(struct inotify_event) char buf[BUFFER];
	ssize_t n;

	(void)status;
	(void)events;
	do {
		n = read(w->fd, buf, sizeof(buf));
	} while (n < 0 && errno == EINTR);
	if (n < 0 && errno == EAGAIN)
		return;
	if (n <= 0) {
		uv_poll_stop(&w->poll);
		w->event(w->ctx, TREEWATCH_BROKEN, NULL, NULL, false);
		return;
	}
	/* After treewatch_close w itself lives on until the loop lets the handle go. */
	for (char *p = buf; p < buf + n && !w->closed;) {
		const struct inotify_event *e = (const struct inotify_event *)(void *)p;

		p += sizeof(*e) + e->len;
		report(w, e);
	}
}

int treewatch_open(struct treewatch **out, uv_loop_t *loop, uint32_t limit, treewatch_event *event,
    void (*gone)(void *ctx), void *ctx)
{
	struct treewatch *w = calloc(1, sizeof(*w));
	int rc;

	if (!w)
		return -ENOMEM;
	w->limit = limit;
	w->event = event;
	w->gone = gone;
	w->ctx = ctx;
	w->fd = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
	if (w->fd < 0) {
		rc = -errno;
		goto no_fd;
	}
	rc = uv_poll_init(loop, &w->poll, w->fd);
	if (rc < 0)
		goto no_poll;
	w->poll.data = w;
	treewatch_hold(w, false);
	*out = w;
	return 0;

no_poll:
	close(w->fd);
no_fd:
	free(w);
	return rc;
}

static void on_closed(uv_handle_t *handle)
{
	struct treewatch *w = handle->data;

	w->gone(w->ctx);
	free(w);
}

void treewatch_close(struct treewatch *w)
{
	if (w->closed)
		return;
	w->closed = true;
	for (size_t i = 0; i < BUCKETS; i++)
		while (w->buckets[i])
			drop(w, &w->buckets[i]);
	uv_close((uv_handle_t *)&w->poll, on_closed);
	close(w->fd);
}

void treewatch_hold(struct treewatch *w, bool hold)
{
	if (hold)
		uv_poll_stop(&w->poll);
	else
		uv_poll_start(&w->poll, UV_READABLE, on_readable);
}

int treewatch_add(struct treewatch *w, int dirfd, const char *path)
{
	char link[32];
	int wd;

	/* By descriptor: the path could lead elsewhere by now. */
	snprintf(link, sizeof(link), "/proc/self/fd/%d", dirfd);
	wd = inotify_add_watch(w->fd, link, MASK);
	if (wd < 0)
		return -errno;
	struct folder **p = place(w, wd);
	if (*p)
		drop(w, p);
	if (w->limit && w->count >= w->limit) {
		inotify_rm_watch(w->fd, wd);
		return -ENOSPC;
	}
	struct folder *f = malloc(sizeof(*f) + strlen(path) + 1);
	if (!f) {
		inotify_rm_watch(w->fd, wd);
		return -ENOMEM;
	}
	strcpy(f->path, path);
	f->wd = wd;
	p = &w->buckets[(unsigned)wd % BUCKETS];
	f->chain = *p;
	*p = f;
	w->count++;
	return 0;
}

void treewatch_forget(struct treewatch *w, const char *path)
{
	for (size_t i = 0; i < BUCKETS; i++) {
		for (struct folder **p = &w->buckets[i]; *p;) {
			if (!filename_under((*p)->path, path)) {
				p = &(*p)->chain;
				continue;
			}
			inotify_rm_watch(w->fd, (*p)->wd);
			drop(w, p);
		}
	}
}

size_t treewatch_count(const struct treewatch *w)
{
	return w->count;
}
