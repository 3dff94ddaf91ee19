#include "file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>
#include "save.h"
#include "sha256.h"

enum {
	CHUNK = 256 * 1024,
	/* Data goes to the share in pieces, so that no single sync is silent for long. */
	SYNC_EVERY = 4 * 1024 * 1024,
};

static int tick_call(const struct file_tick *t, uint64_t done)
{
	return t ? t->call(t->ctx, done) : 0;
}

/* Everything that fd has, summed, and copied to the memory descriptor unless it is -1. */
static int read_all(int fd, int memory, const struct file_tick *tick, struct file_seen *out)
{
	unsigned char *buffer = malloc(CHUNK);
	struct sha256 *sum = sha256_new();
	int rc = buffer && sum ? 0 : -ENOMEM;

	out->size = 0;
	while (!rc) {
		ssize_t n = read(fd, buffer, CHUNK);

		if (n < 0 && errno == EINTR)
			continue;
		if (n <= 0) {
			rc = n < 0 ? -errno : 0;
			break;
		}
		out->size += (uint64_t)n;
		if (out->size > YOKE_PROGRAM_MAX)
			rc = -EFBIG;
		else if (sha256_add(sum, buffer, (size_t)n))
			rc = -EIO;
		else if (memory >= 0)
			rc = save_all(memory, buffer, (size_t)n);
		if (!rc)
			rc = tick_call(tick, out->size);
	}
	if (!rc && sha256_end(sum, out->sha.b))
		rc = -EIO;
	sha256_free(sum);
	free(buffer);
	return rc;
}

static int seal(int fd)
{
	int seals = F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL;

	return fcntl(fd, F_ADD_SEALS, seals) ? -errno : 0;
}

int file_read(
    int dir, const char *name, bool keep, const struct file_tick *tick, struct file_seen *out)
{
	struct stat st;
	int fd, rc;

	*out = (struct file_seen){.fd = -1};
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
	out->there = true;
	out->mode = st.st_mode & 07777;
	out->uid = st.st_uid;
	out->gid = st.st_gid;
	if (keep) {
		out->fd = memfd_create("old", MFD_CLOEXEC | MFD_ALLOW_SEALING);
		if (out->fd < 0) {
			rc = -errno;
			goto out;
		}
	}
	rc = read_all(fd, out->fd, tick, out);
	if (!rc && keep)
		rc = seal(out->fd);
out:
	if (rc && out->fd >= 0) {
		close(out->fd);
		out->fd = -1;
	}
	close(fd);
	return rc;
}

/* Write and sync in pieces; the caller closes. */
static int write_pieces(
    int fd, const unsigned char *bytes, size_t size, const struct file_tick *tick)
{
	size_t synced = 0;
	int rc = 0;

	for (size_t at = 0; at < size && !rc;) {
		size_t n = size - at < CHUNK ? size - at : CHUNK;

		rc = save_all(fd, bytes + at, n);
		at += n;
		if (!rc && at - synced >= SYNC_EVERY) {
			rc = fdatasync(fd) ? -errno : 0;
			synced = at;
		}
		if (!rc)
			rc = tick_call(tick, at);
	}
	if (!rc && fsync(fd))
		rc = -errno;
	return rc;
}

int file_write(int dir, const char *name, const unsigned char *bytes, size_t size,
    const struct sha *want, const struct file_seen *like, const struct file_tick *tick)
{
	struct file_seen back;
	int fd, rc;

	fd = openat(dir, name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
	if (fd < 0)
		return -errno;
	if (like && like->there) {
		/* A share may not know owners or modes: the program counts, not its attributes. */
		int ignored = fchown(fd, like->uid, like->gid);

		ignored = fchmod(fd, like->mode & 0777);
		(void)ignored;
	}
	rc = write_pieces(fd, bytes, size, tick);
	posix_fadvise(
	    fd, 0, 0, POSIX_FADV_DONTNEED); /* so that reading back asks the disk where it can */
	if (close(fd) && !rc)
		rc = -errno;
	if (!rc)
		rc = file_read(dir, name, false, tick, &back);
	if (!rc && (!back.there || back.size != size || memcmp(&back.sha, want, sizeof *want) != 0))
		rc = -EBADMSG;
	return rc;
}

static int write_kept(
    int dir, const char *beside, const struct file_seen *seen, const struct file_tick *tick)
{
	unsigned char *bytes = NULL;
	int rc;

	if (seen->size) {
		bytes = mmap(NULL, seen->size, PROT_READ, MAP_PRIVATE, seen->fd, 0);
		if (bytes == MAP_FAILED)
			return -errno;
	}
	rc = file_write(dir, beside, bytes, seen->size, &seen->sha, seen, tick);
	if (bytes)
		munmap(bytes, seen->size);
	return rc;
}

int file_keep_beside(int dir, const char *name, const char *beside, const struct file_seen *seen,
    const struct file_tick *tick)
{
	struct file_seen now;
	int rc;

	if (linkat(dir, name, dir, beside, 0)) {
		if (errno == EEXIST || errno == ENOENT || errno == ENOSPC || errno == EIO)
			return -errno;
		/* No links on this share, or not to this file. */
		return write_kept(dir, beside, seen, tick);
	}
	rc = file_read(dir, beside, false, tick, &now);
	if (!rc && !file_same(&now, seen))
		rc = -EBADMSG;
	return rc;
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

bool file_same(const struct file_seen *a, const struct file_seen *b)
{
	if (a->there != b->there)
		return false;
	return !a->there || (a->size == b->size && !memcmp(&a->sha, &b->sha, sizeof a->sha));
}
