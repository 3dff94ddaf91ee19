#include "port_holder.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool holds(const char *proc, const char *pid, const char *device)
{
	char path[PATH_MAX], target[PATH_MAX];
	bool found = false;
	struct dirent *e;
	ssize_t n;
	DIR *d;

	if (snprintf(path, sizeof path, "%s/%s/fd", proc, pid) >= (int)sizeof path)
		return false;
	d = opendir(path);
	while (d && !found && (e = readdir(d))) {
		if (snprintf(path, sizeof path, "%s/%s/fd/%s", proc, pid, e->d_name) >=
		    (int)sizeof path)
			continue;
		n = readlink(path, target, sizeof target - 1);
		target[n > 0 ? n : 0] = '\0';
		found = strcmp(target, device) == 0;
	}
	if (d)
		closedir(d);
	return found;
}

static void name_of(const char *proc, const char *pid, char name[64])
{
	char path[PATH_MAX];
	ssize_t n = 0;
	int fd = -1;

	if (snprintf(path, sizeof path, "%s/%s/comm", proc, pid) < (int)sizeof path)
		fd = open(path, O_RDONLY | O_CLOEXEC);
	if (fd >= 0) {
		n = read(fd, name, 63);
		close(fd);
	}
	name[n > 0 ? n : 0] = '\0';
	name[strcspn(name, "\n")] = '\0';
	for (char *s = name; *s; s++)
		if (*s < ' ' || *s > '~')
			*s = '?';
	if (!*name)
		strcpy(name, "a program");
}

unsigned port_holder_find(const char *proc, const char *device, struct text *out)
{
	unsigned found = 0;
	struct dirent *e;
	DIR *d = opendir(proc);
	char name[64];

	while (d && (e = readdir(d))) {
		if (!isdigit((unsigned char)e->d_name[0]) || atol(e->d_name) == (long)getpid() ||
		    !holds(proc, e->d_name, device))
			continue;
		name_of(proc, e->d_name, name);
		text_printf(out, "%s%s (process %s)", found ? ", " : "", name, e->d_name);
		found++;
	}
	if (d)
		closedir(d);
	return found;
}

unsigned port_holder_lock(const char *lock, const char *name, struct text *out)
{
	char path[PATH_MAX], number[32];
	ssize_t n = 0;
	long pid;
	int fd;

	if (snprintf(path, sizeof path, "%s/LCK..%s", lock, name) >= (int)sizeof path)
		return 0;
	fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
	if (fd < 0)
		return 0;
	n = read(fd, number, sizeof number - 1);
	close(fd);
	number[n > 0 ? n : 0] = '\0';
	errno = 0;
	pid = strtol(number, NULL, 10);
	/* One whose process is gone was left behind. */
	if (errno || pid <= 0 || pid > INT_MAX || pid == (long)getpid() ||
	    (kill((pid_t)pid, 0) && errno != EPERM))
		return 0;
	text_printf(out, "process %ld (lock file %s)", pid, path);
	return 1;
}
