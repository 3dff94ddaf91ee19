/*
 * Preloaded into the carrier by tests: a mounted share that refuses renames onto a name that is there, as
 * a network's file system does on behalf of its server.
 *
 * YOKE_TEST_HELD: NAME=ERRNO, nothing is renamed onto that name. YOKE_TEST_REPLACES_NOT: set, nothing is
 * renamed onto any name. YOKE_TEST_FULL: set, no file longer than this many bytes survives its fsync.
 * YOKE_TEST_CLOCK: set, the share's clock stands still. In any case no file is removed that is still open.
 */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static int refusal(int dir, const char *to)
{
	const char *held = getenv("YOKE_TEST_HELD");
	size_t n = strlen(to);

	if (faccessat(dir, to, F_OK, AT_SYMLINK_NOFOLLOW))
		return 0;
	if (held && !strncmp(held, to, n) && held[n] == '=')
		return atoi(held + n + 1);
	return getenv("YOKE_TEST_REPLACES_NOT") ? EEXIST : 0;
}

int renameat(int from_dir, const char *from, int to_dir, const char *to)
{
	int (*real)(int, const char *, int, const char *) = dlsym(RTLD_NEXT, "renameat");
	int e = refusal(to_dir, to);

	if (!e)
		return real(from_dir, from, to_dir, to);
	errno = e;
	return -1;
}

static bool is_open(int dir, const char *name)
{
	struct stat one, other;

	if (fstatat(dir, name, &one, AT_SYMLINK_NOFOLLOW))
		return false;
	for (int fd = 3; fd < 64; fd++)
		if (!fstat(fd, &other) && one.st_dev == other.st_dev && one.st_ino == other.st_ino)
			return true;
	return false;
}

int unlinkat(int dir, const char *name, int flags)
{
	int (*real)(int, const char *, int) = dlsym(RTLD_NEXT, "unlinkat");

	if (!is_open(dir, name))
		return real(dir, name, flags);
	errno = EBUSY;
	return -1;
}

int fsync(int fd)
{
	int (*real)(int) = dlsym(RTLD_NEXT, "fsync");
	const char *full = getenv("YOKE_TEST_FULL");
	struct stat st;

	if (!full || fstat(fd, &st) || !S_ISREG(st.st_mode) || st.st_size <= atol(full))
		return real(fd);
	errno = ENOSPC;
	return -1;
}

/* The start of the calendar of FAT, where a clock without its battery begins. */
int fstatat(int dir, const char *name, struct stat *st, int flags)
{
	int (*real)(int, const char *, struct stat *, int) = dlsym(RTLD_NEXT, "fstatat");
	int rc = real(dir, name, st, flags);

	if (!rc && getenv("YOKE_TEST_CLOCK"))
		st->st_mtim = st->st_ctim = (struct timespec){.tv_sec = 315532800};
	return rc;
}
