#include "file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>
#include "save.h"
#include "taking.h"

enum {
	CHUNK = 64 * 1024, /* stays in the processor's cache while it is compared or summed */
	/* Data goes to the share in pieces, so that no single sync is silent for long. */
	SYNC_EVERY = 4 * 1024 * 1024,
};

static int tick_call(const struct folder_tick *t, uint64_t done)
{
	return t ? t->call(t->ctx, done) : 0;
}

/* Everything that fd has. */
static int read_all(int fd, struct taking *t, const struct folder_tick *tick)
{
	unsigned char *buffer = malloc(CHUNK);
	int rc = buffer ? 0 : -ENOMEM;

	while (!rc) {
		ssize_t n = read(fd, buffer, CHUNK);

		if (n < 0 && errno == EINTR)
			continue;
		if (n <= 0) {
			rc = n < 0 ? -errno : 0;
			break;
		}
		rc = taking_add(t, buffer, (size_t)n);
		if (!rc)
			rc = tick_call(tick, t->size);
	}
	free(buffer);
	return rc;
}

int file_read(int dir, const char *name, bool keep, const struct folder_seen *guess,
    const struct folder_tick *tick, struct folder_seen *out)
{
	struct taking taking;
	struct stat st;
	int fd, rc;

	*out = (struct folder_seen){.fd = -1};
	/* O_NONBLOCK: a pipe under the name must not hold us; it means nothing to a regular file.
	 */
	fd = openat(dir, name, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
	if (fd < 0)
		return errno == ENOENT ? 0 : -errno;
	if (fstat(fd, &st)) {
		rc = -errno;
		goto out;
	}
	if (!S_ISREG(st.st_mode)) {
		rc = S_ISDIR(st.st_mode) ? -EISDIR : -ENXIO;
		goto out;
	}
	/* All of it, at once: a program is never read in part. */
	posix_fadvise(fd, 0, 0, POSIX_FADV_WILLNEED);
	rc = taking_begin(&taking, keep, guess);
	if (!rc)
		rc = read_all(fd, &taking, tick);
	rc = taking_end(&taking, rc, out);
	out->mode = st.st_mode & 07777;
	out->uid = st.st_uid;
	out->gid = st.st_gid;
out:
	close(fd);
	return rc;
}

/* Write in pieces; the last of them are on their way to the disk then, and not waited for. */
static int write_pieces(int fd, const struct folder_seen *what, const struct folder_tick *tick)
{
	size_t synced = 0;
	int rc = 0;

	for (size_t at = 0; at < what->size && !rc;) {
		size_t n = what->size - at < CHUNK ? what->size - at : CHUNK;

		rc = save_all(fd, what->bytes + at, n);
		at += n;
		if (!rc && at - synced >= SYNC_EVERY) {
			rc = fdatasync(fd) ? -errno : 0;
			synced = at;
		}
		if (!rc)
			rc = tick_call(tick, at);
	}
	if (!rc)
		sync_file_range(fd, (off_t)synced, 0, SYNC_FILE_RANGE_WRITE);
	return rc;
}

int file_put(int dir, const char *name, const struct folder_seen *what, const struct folder_seen *like,
    const struct folder_tick *tick)
{
	int fd = openat(dir, name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666), rc;

	if (fd < 0)
		return -errno;
	if (like && like->there) {
		/* A share may not know owners or modes: the program counts, not its attributes. */
		int ignored = fchown(fd, like->uid, like->gid);

		ignored = fchmod(fd, like->mode & 0777);
		(void)ignored;
	}
	rc = write_pieces(fd, what, tick);
	if (!rc)
		return fd;
	close(fd);
	return rc;
}

int file_prove(int dir, const char *name, int fd, const struct folder_seen *what,
    const struct folder_tick *tick)
{
	struct folder_seen back;
	int rc = fsync(fd) ? -errno : 0;

	/* So that reading back asks the disk where it can. */
	posix_fadvise(fd, 0, 0, POSIX_FADV_DONTNEED);
	if (close(fd) && !rc)
		rc = -errno;
	if (!rc)
		rc = file_read(dir, name, false, what, tick, &back);
	return !rc && !folder_equal(&back, what) ? -EBADMSG : rc;
}

int file_remove(int dir, const char *name)
{
	return unlinkat(dir, name, 0) && errno != ENOENT ? -errno : 0;
}

int file_sync_folder(int dir)
{
	/* Some network file systems cannot sync a folder and say so. */
	return fsync(dir) && errno != EINVAL && errno != ENOTSUP && errno != ENOSYS ? -errno : 0;
}
