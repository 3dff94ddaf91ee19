#include "load.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "sha256.h"
#include "yoke/split.h"

/* Stays in the processor's cache while it is summed and read. */
enum { CHUNK = 128 * 1024 };

/* Where the bytes go beside the sum. 0, or -1 without memory. */
typedef int sink_fn(void *ctx, const char *bytes, size_t n);

static int fail(struct text *why, const char *name, const char *what)
{
	text_visible(why, name, strlen(name));
	text_printf(why, ": %s", what);
	return -1;
}

static const char *unfit(const struct stat *st)
{
	if (S_ISDIR(st->st_mode))
		return "is a directory, not a program";
	if (!S_ISREG(st->st_mode) && !S_ISFIFO(st->st_mode))
		return "is a device or a socket, not a program";
	if (S_ISREG(st->st_mode) && (unsigned long long)st->st_size > YOKE_PROGRAM_MAX)
		return "is larger than 1 GiB, the most that is read";
	return NULL;
}

int load_open(const char *path, struct text *why)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
	struct stat st;
	const char *what;

	if (fd < 0)
		return fail(why, path, strerror(errno));
	what = fstat(fd, &st) < 0 ? strerror(errno) : unfit(&st);
	if (what) {
		fail(why, path, what);
		close(fd);
		return -1;
	}
	return fd;
}

/* One read that waits for a pipe's writer. */
static ssize_t more(int fd, bool regular, char *to, size_t n, off_t at)
{
	for (;;) {
		ssize_t got = regular ? pread(fd, to, n, at) : read(fd, to, n);
		struct pollfd p = {.fd = fd, .events = POLLIN};

		if (got >= 0 || (errno != EINTR && errno != EAGAIN))
			return got;
		if (errno == EAGAIN && poll(&p, 1, -1) < 0 && errno != EINTR)
			return -1;
	}
}

static bool changed(const struct stat *a, const struct stat *b, unsigned long long size)
{
	return (unsigned long long)b->st_size != size || a->st_mtim.tv_sec != b->st_mtim.tv_sec ||
	       a->st_mtim.tv_nsec != b->st_mtim.tv_nsec;
}

/* sum: NULL when nobody asks for it. */
static int pass(int fd, const char *name, sink_fn *sink, void *ctx, uint8_t *sum, struct text *why)
{
	struct sha256 *sha = sum ? sha256_new() : NULL;
	char *chunk = malloc(CHUNK);
	struct stat before, after;
	unsigned long long size = 0;
	const char *what = "out of memory";
	bool regular;
	ssize_t got;

	if ((sum && !sha) || !chunk)
		goto failed;
	what = fstat(fd, &before) < 0 ? strerror(errno) : unfit(&before);
	if (what)
		goto failed;
	regular = S_ISREG(before.st_mode);
	while ((got = more(fd, regular, chunk, CHUNK, (off_t)size)) > 0) {
		size += (unsigned long long)got;
		what = "is larger than 1 GiB, the most that is read";
		if (size > YOKE_PROGRAM_MAX)
			goto failed;
		what = "out of memory";
		if ((sha && sha256_add(sha, chunk, (size_t)got) < 0) || sink(ctx, chunk, (size_t)got) < 0)
			goto failed;
	}
	what = got < 0 || fstat(fd, &after) < 0 ? strerror(errno) : NULL;
	if (!what && regular && changed(&before, &after, size))
		what = "changed while it was read; try again";
	if (!what && sha && sha256_end(sha, sum) < 0)
		what = "its SHA-256 could not be computed";
	if (what)
		goto failed;
	free(chunk);
	sha256_free(sha);
	return 0;
failed:
	fail(why, name, what);
	free(chunk);
	sha256_free(sha);
	return -1;
}

static int feed(void *ctx, const char *bytes, size_t n)
{
	return program_feed(ctx, bytes, n);
}

int load_into(
    int fd, const char *name, struct program *program, uint8_t sum[YOKE_SHA_SIZE], struct text *why)
{
	if (pass(fd, name, feed, program, sum, why) < 0)
		return -1;
	return program_finish(program) < 0 ? fail(why, name, "out of memory") : 0;
}

int load_program(int fd, const char *name, const struct profile *profile, struct program **program,
    uint8_t sum[YOKE_SHA_SIZE], struct text *why)
{
	struct program *p = program_new(profile, name);

	*program = NULL;
	if (!p)
		return fail(why, name, "out of memory");
	if (load_into(fd, name, p, sum, why) < 0) {
		program_free(p);
		return -1;
	}
	*program = p;
	return 0;
}

static int feed_split(void *ctx, const char *bytes, size_t n)
{
	return split_feed(ctx, bytes, n);
}

int load_split(int fd, const char *name, const struct profile *profile,
    struct program *const *sister, size_t sisters, bool keep,
    struct program *program[YOKE_CHANNELS_MAX], uint8_t sum[YOKE_SHA_SIZE], struct text *why)
{
	struct split *s = split_new(profile, name);
	int n = 0;

	if (!s)
		return fail(why, name, "out of memory");
	for (size_t i = 0; i < sisters; i++) {
		if (split_sister(s, sister[i]) < 0) {
			fail(why, name, "more files of subprograms than a program can have");
			goto failed;
		}
	}
	if (keep)
		split_keep(s);
	if (pass(fd, name, feed_split, s, sum, why) < 0)
		goto failed;
	if (split_finish(s) < 0) {
		fail(why, name, "out of memory");
		goto failed;
	}
	for (uint32_t c = 0; c < profile->channels; c++) {
		program[n] = split_take(s, (int)c);
		n += program[n] != NULL;
	}
	split_free(s);
	return n;
failed:
	split_free(s);
	return -1;
}

struct pouring {
	int (*put)(void *ctx, const void *bytes, size_t n);
	void *ctx;
	int rc;
};

static int pour(void *ctx, const char *bytes, size_t n)
{
	struct pouring *p = ctx;

	p->rc = p->put(p->ctx, bytes, n);
	return p->rc ? -1 : 0;
}

int load_pour(int fd, const char *name, int (*put)(void *ctx, const void *bytes, size_t n), void *ctx,
    struct text *why)
{
	struct pouring p = {put, ctx, 0};
	int rc = pass(fd, name, pour, &p, NULL, why);

	if (p.rc)
		text_free(why);
	return p.rc ? p.rc : rc;
}

struct buffer {
	char *bytes;
	size_t n, cap;
};

static int gather(void *ctx, const char *bytes, size_t n)
{
	struct buffer *b = ctx;

	if (b->n + n > b->cap) {
		size_t cap = (b->n + n) * 3 / 2;
		char *grown = realloc(b->bytes, cap);

		if (!grown)
			return -1;
		b->bytes = grown;
		b->cap = cap;
	}
	memcpy(b->bytes + b->n, bytes, n);
	b->n += n;
	return 0;
}

int load_bytes(
    int fd, const char *name, char **bytes, size_t *n, uint8_t sum[YOKE_SHA_SIZE], struct text *why)
{
	struct buffer b = {0};
	struct stat st;

	*bytes = NULL;
	*n = 0;
	if (fstat(fd, &st) == 0 && S_ISREG(st.st_mode) && !unfit(&st))
		b.cap = (size_t)st.st_size;
	b.bytes = malloc(b.cap + 1);
	if (!b.bytes)
		return fail(why, name, "out of memory");
	if (pass(fd, name, gather, &b, sum, why) < 0) {
		free(b.bytes);
		return -1;
	}
	*bytes = b.bytes;
	*n = b.n;
	return 0;
}
