#include "leftover.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "file.h"

static const char *const ending[LEFTOVER_COUNT] = {".part", ".old", ".none"};

void leftover_name(
    char name[LEFTOVER_NAME], uint64_t order, const char *channel, enum leftover kind)
{
	snprintf(name, LEFTOVER_NAME, ".yoke-%" PRIu64 "-%s%s", order, channel, ending[kind]);
}

enum leftover leftover_parse(const char *name, uint64_t *order)
{
	const char *dot = strrchr(name, '.'), *digits = name + 6;
	unsigned kind = 0;
	char *end;

	if (strncmp(name, ".yoke-", 6) != 0 || *digits < '0' || *digits > '9')
		return LEFTOVER_COUNT;
	errno = 0;
	*order = strtoull(digits, &end, 10);
	if (errno || *end != '-' || dot <= end + 1)
		return LEFTOVER_COUNT;
	while (kind < LEFTOVER_COUNT && strcmp(dot, ending[kind]) != 0)
		kind++;
	return kind;
}

int leftover_sweep(int folder, bool (*want)(void *ctx, enum leftover kind, uint64_t order),
    void *ctx, bool remove, int (*tick)(void *tick_ctx), void *tick_ctx)
{
	int fd = openat(folder, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC), rc = 0, n = 0;
	struct dirent *e;
	DIR *d;

	if (fd < 0)
		return -errno;
	d = fdopendir(fd);
	if (!d) {
		rc = -errno;
		close(fd);
		return rc;
	}
	while (!rc && (errno = 0, e = readdir(d))) {
		uint64_t order = 0;
		enum leftover kind = leftover_parse(e->d_name, &order);

		rc = tick(tick_ctx);
		if (rc || kind == LEFTOVER_COUNT || !want(ctx, kind, order))
			continue;
		n++;
		if (remove)
			rc = file_remove(folder, e->d_name);
	}
	if (!rc && errno)
		rc = -errno;
	closedir(d);
	return rc ? rc : n;
}
