/*
 * Each program:
 *
 *   nothing --written, flushed, compared--> fresh beside the old one          stick_write_fresh
 *   fresh --old goes aside--> aside --fresh gets its name--> placed           stick_place
 *   placed --flushed, compared--> the old one is removed                      stick_settle
 *
 * A fault before the first goes aside leaves the stick as it was; one after it brings all back. A kill
 * leaves whole programs under their names or under none, never a part of one, and the note says that
 * the stick is not complete.
 */
#include "stick_write.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "download.h"
#include "exit.h"
#include "out.h"
#include "save.h"
#include "sha256.h"
#include "stick_back.h"
#include "yoke/stick.h"

static int fail(const struct stick *s, const char *what, const char *name, int error)
{
	out_error("%s: %s %s: %s%s", s->path, name, what, strerror(error),
	    error == EROFS    ? ": the stick is write-protected, or was mounted read-only"
	    : error == ENOSPC ? ": remove what is not needed any more from the stick"
	                      : "");
	return EXIT_SERVICE;
}

/* Compare what lies there with what was meant. */
static int compare(const struct stick_job *j, struct stick_file *f, const char *name)
{
	uint8_t want[YOKE_SHA_SIZE], sum[YOKE_SHA_SIZE];
	int error = stick_back(f->dir, name, sum, &f->past);

	if (error)
		return fail(j->stick, "cannot be read back", f->place, -error);
	if (sha256_parse(f->sha256, want) && !memcmp(want, sum, sizeof(sum)))
		return 0;
	out_error("%s: %s is not what was written when it is read back: do not use this stick",
	    j->stick->path, f->place);
	return EXIT_SERVICE;
}

static int write_one(struct stick_job *j, struct stick_file *f)
{
	int fd, status;

	/* What an export that was killed has left. */
	if (unlinkat(f->dir, f->fresh, 0) && errno != ENOENT)
		return fail(j->stick, "cannot be written", f->place, errno);
	fd = openat(
	    f->dir, f->fresh, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
	if (fd < 0)
		return fail(j->stick, "cannot be written", f->place, errno);
	f->written = true;
	status = download_into(f->sha256, fd, f->place);
	if (status == EXIT_DONE && fsync(fd))
		status = fail(j->stick, "cannot be written", f->place, errno);
	if (close(fd) && status == EXIT_DONE)
		status = fail(j->stick, "cannot be written", f->place, errno);
	return status == EXIT_DONE ? compare(j, f, f->fresh) : status;
}

/* Its folder, and what lies under its name. */
static int open_place(struct stick_job *j, struct stick_file *f)
{
	struct text place = {0};

	f->dir = stick_folder(j->stick, f->folder, true, &place);
	text_puts(&place, f->name);
	f->place = text_take(&place);
	if (f->dir < 0 || !f->place) {
		f->dir = -1;
		return EXIT_SERVICE;
	}
	return stick_find(f->dir, j->stick->path, f->name, &f->there) < 0 ? EXIT_REFUSED : 0;
}

/* Before anything is written: is there room beside what lies there? */
static int check_room(const struct stick_job *j)
{
	enum { SLACK = 64 << 10, CLUSTER = 64 << 10 }; /* list and note; FAT's largest cluster */
	uint64_t free_bytes = stick_free(j->stick), need = SLACK;

	for (uint32_t i = 0; i < j->files; i++)
		need += j->file[i].size + CLUSTER;
	if (free_bytes >= need)
		return 0;
	out_error("%s: there is no room: %llu KiB are needed, since the new programs are written "
	          "beside what lies there, and %llu are free; remove what is not needed any more. "
	          "Nothing was written",
	    j->stick->path, (unsigned long long)(need >> 10),
	    (unsigned long long)(free_bytes >> 10));
	return EXIT_SERVICE;
}

int stick_write_fresh(struct stick_job *j)
{
	int status = check_room(j);

	for (uint32_t i = 0; !status && i < j->files; i++)
		status = open_place(j, &j->file[i]);
	for (uint32_t i = 0; !status && i < j->files; i++)
		status = write_one(j, &j->file[i]);
	return status;
}

static int put_in_place(struct stick_job *j, struct stick_file *f, int64_t time)
{
	struct timespec times[2] = {{.tv_sec = time}, {.tv_sec = time}};

	/* A stick that takes no times loses how an import knows our own copies again, no more. */
	if (utimensat(f->dir, f->fresh, times, AT_SYMLINK_NOFOLLOW) && errno != EPERM &&
	    errno != ENOSYS && errno != EOPNOTSUPP)
		return fail(j->stick, "cannot get its file time", f->place, errno);
	if (f->there && renameat(f->dir, f->there, f->dir, f->old))
		return fail(j->stick, "cannot be replaced", f->place, errno);
	f->moved = f->there != NULL;
	if (renameat(f->dir, f->fresh, f->dir, f->name))
		return fail(j->stick, "cannot be put in place", f->place, errno);
	f->placed = true;
	return 0;
}

/* All as it was. What cannot be brought back is told, each once. */
static void put_back(struct stick_job *j)
{
	for (uint32_t i = 0; i < j->files; i++) {
		struct stick_file *f = &j->file[i];

		if (f->placed && renameat(f->dir, f->name, f->dir, f->fresh) == 0)
			f->placed = false;
		if (!f->placed && f->moved && renameat(f->dir, f->old, f->dir, f->there) == 0)
			f->moved = false;
		if (f->placed || f->moved)
			out_error("%s: %s cannot be put back either: do not use this stick%s%s",
			    j->stick->path, f->place, f->moved ? "; what lay there is now called " : "",
			    f->moved ? f->old : "");
	}
}

int stick_place(struct stick_job *j, int64_t time)
{
	int status = 0;

	for (uint32_t i = 0; !status && i < j->files; i++)
		status = put_in_place(j, &j->file[i], time);
	if (status)
		put_back(j);
	return status;
}

int stick_settle(struct stick_job *j)
{
	int status = 0;

	for (uint32_t i = 0; i < j->files; i++) {
		struct stick_file *f = &j->file[i];

		if (f->moved && unlinkat(f->dir, f->old, 0) && !status)
			status = fail(j->stick, "cannot be removed", f->old, errno);
		f->moved = false;
		/* Not every file system has folders that can be flushed one by one: syncfs does all. */
		if (fsync(f->dir) && errno != EINVAL && errno != ENOSYS && !status)
			status = fail(j->stick, "cannot be flushed", f->place, errno);
	}
	if (!status && syncfs(j->stick->fd))
		status = fail(j->stick, "cannot be flushed", "it", errno);
	for (uint32_t i = 0; !status && i < j->files; i++)
		status = compare(j, &j->file[i], j->file[i].name);
	return status;
}

/* A new file with this content, flushed. 0, or -errno. */
static int put_file(int dir, const char *name, const struct text *t)
{
	int fd = openat(dir, name, O_WRONLY | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0666);
	int error = fd < 0 ? -errno : t->failed ? -ENOMEM : save_all(fd, t->s, t->n);

	if (fd >= 0 && !error && fsync(fd))
		error = -errno;
	if (fd >= 0 && close(fd) && !error)
		error = -errno;
	return error;
}

int stick_put(const struct stick *s, const char *name, const char *aside, struct text *t)
{
	char *there = NULL;
	int status = EXIT_SERVICE, error = 0;

	if (stick_find(s->fd, s->path, name, &there) >= 0) {
		error = put_file(s->fd, aside, t);
		if (!error && renameat(s->fd, aside, s->fd, there ? there : name))
			error = -errno;
		status = error ? fail(s, "cannot be written", name, -error) : 0;
	}
	if (status)
		unlinkat(s->fd, aside, 0);
	text_free(t);
	free(there);
	return status;
}
