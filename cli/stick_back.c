/*
 * Past the cache in one of two ways. Direct reading (O_DIRECT) does not look at it; where the file
 * system does not take that, the kernel is asked to drop the file's pages, and mincore(2) tells whether
 * it did. What a stick's own controller keeps back nobody can look past.
 */
#include "stick_back.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/vfs.h>
#include <unistd.h>
#include "sha256.h"

enum { PIECE = 1 << 20, ALIGN = 4096, TMPFS = 0x01021994 };
#define RAMFS 0x858458f6u /* statfs(2) */

/* Everything from the descriptor into the sum. 0, -errno. */
static int sum_all(int fd, struct sha256 *sum)
{
	void *piece;
	ssize_t got = -1;
	int error = 0;

	if (posix_memalign(&piece, ALIGN, PIECE))
		return -ENOMEM;
	while (!error && got != 0) {
		got = read(fd, piece, PIECE);
		if (got < 0 && errno == EINTR)
			continue;
		if (got < 0)
			error = -errno;
		else if (got && sha256_add(sum, piece, (size_t)got))
			error = -ENOMEM;
	}
	free(piece);
	return error;
}

/* True when nothing of the file lies in the cache. */
static bool is_cold(int fd)
{
	struct stat st;
	unsigned char page[4096];
	size_t size, step = sizeof(page) * (size_t)sysconf(_SC_PAGESIZE);
	unsigned char *p;
	bool cold = true;

	if (fstat(fd, &st) || st.st_size <= 0)
		return false;
	size = (size_t)st.st_size;
	p = mmap(NULL, size, PROT_READ, MAP_SHARED, fd, 0);
	if (p == MAP_FAILED)
		return false;
	for (size_t at = 0; cold && at < size; at += step) {
		size_t n = size - at < step ? size - at : step;
		size_t pages = (n + (size_t)sysconf(_SC_PAGESIZE) - 1) / (size_t)sysconf(_SC_PAGESIZE);

		cold = mincore(p + at, n, page) == 0;
		for (size_t i = 0; cold && i < pages; i++)
			cold = !(page[i] & 1);
	}
	munmap(p, size);
	return cold;
}

/* A folder in memory is no stick. */
static bool in_memory(int fd)
{
	struct statfs f;

	return fstatfs(fd, &f) == 0 &&
	       ((unsigned)f.f_type == TMPFS || (unsigned)f.f_type == RAMFS);
}

static int read_direct(int dir, const char *name, struct sha256 *sum)
{
	int fd = openat(dir, name, O_RDONLY | O_DIRECT | O_NOFOLLOW | O_CLOEXEC);
	int error = fd < 0 ? -errno : sum_all(fd, sum);

	if (fd >= 0)
		close(fd);
	return error;
}

static int read_dropped(int dir, const char *name, struct sha256 *sum, bool *past)
{
	int fd = openat(dir, name, O_RDONLY | O_NOFOLLOW | O_CLOEXEC);
	int error;

	if (fd < 0)
		return -errno;
	posix_fadvise(fd, 0, 0, POSIX_FADV_DONTNEED);
	*past = is_cold(fd);
	error = sum_all(fd, sum);
	close(fd);
	return error;
}

int stick_back(int dir, const char *name, uint8_t sum[YOKE_SHA_SIZE], bool *past)
{
	struct sha256 *s = sha256_new();
	int error = s ? read_direct(dir, name, s) : -ENOMEM;

	*past = true;
	if (s && error == -EINVAL && !sha256_end(s, sum)) /* begins anew */
		error = read_dropped(dir, name, s, past);
	if (!error && sha256_end(s, sum))
		error = -ENOMEM;
	if (in_memory(dir))
		*past = false;
	sha256_free(s);
	return error;
}
