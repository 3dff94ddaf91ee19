#include "replace.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

int replace_sync(const char *path)
{
	char *copy = strdup(path);
	int fd, r, saved;

	if (!copy)
		return -1;
	fd = open(dirname(copy), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	free(copy);
	if (fd < 0)
		return -1;
	r = fsync(fd);
	saved = errno;
	close(fd);
	errno = saved;
	return r;
}

/* A path with something behind it. False: it is too long. */
static bool with(char out[RESCUE_PATH], const char *path, const char *tail)
{
	return snprintf(out, RESCUE_PATH, "%s%s", path, tail) < RESCUE_PATH;
}

void replace_undo(const char *new)
{
	static const char *const tail[] = {"", "-wal", "-shm", "-journal", ".end", ".lock"};
	char name[RESCUE_PATH];

	for (size_t i = 0; i < sizeof(tail) / sizeof(tail[0]); i++)
		if (with(name, new, tail[i]))
			unlink(name);
}

int replace_begin(struct vault *held, char out[RESCUE_PATH])
{
	if (!with(out, held->path, ".new"))
		return db_say(held, "its path is too long");
	replace_undo(out);
	return 0;
}

/* A second name for a file, where there is one. 0; -1 with errno. */
static int also(const char *path, const char *aside, const char *tail)
{
	char from[RESCUE_PATH], to[RESCUE_PATH];

	errno = ENAMETOOLONG;
	if (!with(from, path, tail) || !with(to, aside, tail))
		return -1;
	return link(from, to) == 0 || errno == ENOENT ? 0 : -1;
}

/* The file and its log get second names, the note its only one: the new vault's note is written anew. */
static int move_aside(const char *path, const char *aside)
{
	char from[RESCUE_PATH], to[RESCUE_PATH];

	if (also(path, aside, "") < 0 || also(path, aside, "-wal") < 0)
		return -1;
	errno = ENAMETOOLONG;
	if (!with(from, path, ".end") || !with(to, aside, ".end"))
		return -1;
	return rename(from, to) == 0 || errno == ENOENT ? replace_sync(path) : -1;
}

static int put(const char *path, const char *new, const struct endnote *end)
{
	static const char *const tail[] = {"-wal", "-shm"};
	char name[RESCUE_PATH];

	/* From here on a start with the old file refuses: its trail is not the one that is told. */
	if (endnote_put(path, end) < 0)
		return -1;
	for (size_t i = 0; i < 2; i++)
		if (!with(name, path, tail[i]) || (unlink(name) < 0 && errno != ENOENT))
			return -1;
	return rename(new, path) < 0 ? -1 : replace_sync(path);
}

static bool is_free(const char *aside)
{
	static const char *const tail[] = {"", "-wal", ".end"};
	char name[RESCUE_PATH];

	for (size_t i = 0; i < sizeof(tail) / sizeof(tail[0]); i++)
		if (!with(name, aside, tail[i]) || access(name, F_OK) == 0)
			return false;
	return true;
}

/* PATH.WORD-TIME, and a number behind it when that was taken within this second. False: there is none. */
static bool name_aside(const char *path, const char *word, int64_t utc_us, char aside[RESCUE_PATH])
{
	time_t s = (time_t)(utc_us / 1000000);
	char time[32] = "", number[8] = "";
	struct tm tm;

	if (gmtime_r(&s, &tm))
		strftime(time, sizeof(time), "%Y%m%dT%H%M%SZ", &tm);
	for (int i = 2; i < 1000; i++) {
		if (snprintf(aside, RESCUE_PATH, "%s.%s-%s%s", path, word, time, number) >= RESCUE_PATH)
			return false;
		if (is_free(aside))
			return true;
		snprintf(number, sizeof(number), "-%d", i);
	}
	return false;
}

int replace_end(struct vault *held, const char *new, const struct endnote *end, const char *word,
    int64_t utc_us, char aside[RESCUE_PATH])
{
	char name[RESCUE_PATH];

	if (!name_aside(held->path, word, utc_us, aside))
		return db_say(held, "there is no name to move it aside to: its path is too long");
	if (move_aside(held->path, aside) < 0) {
		return db_say(held, "what is there cannot be moved aside as %.400s: %s", aside,
		    strerror(errno));
	}
	if (put(held->path, new, end) < 0)
		return db_say(held, "the new one cannot be put in its place: %s; what was there is %.400s",
		    strerror(errno), aside);
	if (access(aside, F_OK) < 0 && (!with(name, aside, "-wal") || access(name, F_OK) < 0))
		*aside = 0;
	replace_undo(new);
	return 0;
}
