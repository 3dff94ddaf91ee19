/*
 * Loaded in front of the C library (LD_PRELOAD) of the real programs, to make happen what cannot be waited for:
 *
 *   YOKE_SHIM_CLOCK=FILE   the wall's time is off by so many seconds as FILE says, now and whenever it changes
 *   YOKE_SHIM_FAIL=KIND    the YOKE_SHIM_AT-th call of this kind fails, once: write, sync, rename, memory.
 *                          YOKE_SHIM_MARK=FILE is made then
 *
 * Calls are counted in the process that has YOKE_SHIM_NAME in its name alone.
 */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

static int clock_fd = -1;
static const char *mark;
static const char *kind = "";
static long at;
static atomic_long count;

extern void *__libc_malloc(size_t n);
extern void *__libc_calloc(size_t n, size_t size);
extern void *__libc_realloc(void *p, size_t n);

static __attribute__((constructor)) void begin(void)
{
	const char *file = getenv("YOKE_SHIM_CLOCK"), *fail = getenv("YOKE_SHIM_FAIL"),
	           *number = getenv("YOKE_SHIM_AT"), *name = getenv("YOKE_SHIM_NAME");
	char self[256] = "";
	ssize_t n = readlink("/proc/self/exe", self, sizeof(self) - 1);
	const char *base = strrchr(self, '/');

	if (file)
		clock_fd = open(file, O_RDONLY | O_CLOEXEC);
	if (n > 0 && name && strcmp(base ? base + 1 : self, name) != 0)
		return;
	mark = getenv("YOKE_SHIM_MARK");
	if (fail && number) {
		at = atol(number);
		kind = fail;
	}
}

/* Without a call that could fail itself. */
static void say(void)
{
	int fd = mark ? (int)syscall(SYS_openat, AT_FDCWD, mark, O_WRONLY | O_CREAT | O_CLOEXEC, 0644)
	              : -1;

	if (fd >= 0)
		syscall(SYS_close, fd);
}

static int fails(const char *what)
{
	if (*kind != *what || strcmp(kind, what) != 0 || atomic_fetch_add(&count, 1) + 1 != at)
		return 0;
	say();
	return 1;
}

/* --- The clock --- */

static long offset(void)
{
	char text[32] = "";

	if (clock_fd < 0 || pread(clock_fd, text, sizeof(text) - 1, 0) <= 0)
		return 0;
	return strtol(text, NULL, 10);
}

int clock_gettime(clockid_t which, struct timespec *t)
{
	int r = (int)syscall(SYS_clock_gettime, which, t);

	if (r == 0 && (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE))
		t->tv_sec += offset();
	return r;
}

int gettimeofday(struct timeval *restrict t, void *restrict zone)
{
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	t->tv_sec = now.tv_sec;
	t->tv_usec = now.tv_nsec / 1000;
	return 0;
}

time_t time(time_t *out)
{
	struct timespec now;

	clock_gettime(CLOCK_REALTIME, &now);
	if (out)
		*out = now.tv_sec;
	return now.tv_sec;
}

/* --- Calls that fail. Messages and pipes are not what is tested: files are. --- */

static int is_file(int fd)
{
	struct stat st;

	return *kind == 'w' && fstat(fd, &st) == 0 && S_ISREG(st.st_mode);
}

ssize_t write(int fd, const void *bytes, size_t n)
{
	if (is_file(fd) && fd > 2 && fails("write")) {
		errno = ENOSPC;
		return -1;
	}
	return syscall(SYS_write, fd, bytes, n);
}

ssize_t pwrite64(int fd, const void *bytes, size_t n, off64_t where)
{
	if (is_file(fd) && fails("write")) {
		errno = ENOSPC;
		return -1;
	}
	return syscall(SYS_pwrite64, fd, bytes, n, where);
}

ssize_t pwrite(int fd, const void *bytes, size_t n, off_t where)
{
	return pwrite64(fd, bytes, n, where);
}

int ftruncate64(int fd, off64_t n)
{
	if (is_file(fd) && fails("write")) {
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_ftruncate, fd, n);
}

int ftruncate(int fd, off_t n)
{
	return ftruncate64(fd, n);
}

int fsync(int fd)
{
	if (fails("sync")) {
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd)
{
	if (fails("sync")) {
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_fdatasync, fd);
}

int renameat2(int from_dir, const char *from, int to_dir, const char *to, unsigned flags)
{
	if (fails("rename")) {
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_renameat2, from_dir, from, to_dir, to, flags);
}

int renameat(int from_dir, const char *from, int to_dir, const char *to)
{
	return renameat2(from_dir, from, to_dir, to, 0);
}

int rename(const char *from, const char *to)
{
	return renameat2(AT_FDCWD, from, AT_FDCWD, to, 0);
}

int linkat(int from_dir, const char *from, int to_dir, const char *to, int flags)
{
	if (fails("rename")) {
		errno = EIO;
		return -1;
	}
	return (int)syscall(SYS_linkat, from_dir, from, to_dir, to, flags);
}

int link(const char *from, const char *to)
{
	return linkat(AT_FDCWD, from, AT_FDCWD, to, 0);
}

void *malloc(size_t n)
{
	if (fails("memory")) {
		errno = ENOMEM;
		return NULL;
	}
	return __libc_malloc(n);
}

void *calloc(size_t n, size_t size)
{
	if (fails("memory")) {
		errno = ENOMEM;
		return NULL;
	}
	return __libc_calloc(n, size);
}

void *realloc(void *p, size_t n)
{
	if (n > 0 && fails("memory")) {
		errno = ENOMEM;
		return NULL;
	}
	return __libc_realloc(p, n);
}
