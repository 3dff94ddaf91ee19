#include "verdict.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* What a file name may hold; anything else of a job's name becomes '_'. */
static void plain(char *s)
{
	for (; *s; s++)
		if ((unsigned char)*s < 0x21 || strchr("/\\:*?\"<>|.", *s))
			*s = '_';
}

static int open_folder(int at, const char *name)
{
	if (mkdirat(at, name, 0775) && errno != EEXIST)
		return -1;
	return openat(at, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
}

static int write_all(int fd, const char *p, size_t n)
{
	while (n > 0) {
		ssize_t done = write(fd, p, n);

		if (done < 0 && errno == EINTR)
			continue;
		if (done < 0)
			return -1;
		p += done;
		n -= (size_t)done;
	}
	return 0;
}

static int put(int folder, const char *name, const char *bytes)
{
	char part[2 * YOKE_NAME_MAX + 32];
	int fd;

	snprintf(part, sizeof(part), ".%s.part", name);
	fd = openat(folder, part, O_WRONLY | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0664);
	if (fd < 0)
		return -1;
	if (write_all(fd, bytes, strlen(bytes))) {
		close(fd);
		goto fail;
	}
	if (close(fd) || renameat(folder, part, folder, name))
		goto fail;
	return 0;

fail:
	unlinkat(folder, part, 0);
	return -1;
}

void verdict_write(struct service *s, const struct judgement *j)
{
	static bool complained;
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1], name[2 * YOKE_NAME_MAX + 16];
	int root = -1, top = -1, folder = -1;
	char *report = json_dumps(j->report, JSON_INDENT(2));
	int failed = -1;

	memcpy(job, j->job, sizeof(job));
	memcpy(revision, j->revision, sizeof(revision));
	plain(job);
	plain(revision);
	root = open(s->conf->programs, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (root < 0 || !report)
		goto out;
	top = open_folder(root, VERDICT_FOLDER);
	if (top < 0)
		goto out;
	folder = *j->area ? open_folder(top, j->area) : dup(top);
	if (folder < 0)
		goto out;
	snprintf(name, sizeof(name), "%s-%s.txt", job, revision);
	failed = put(folder, name, j->text);
	snprintf(name, sizeof(name), "%s-%s.json", job, revision);
	failed |= put(folder, name, report);
out:
	if (failed && !complained)
		fprintf(stderr,
		    "yoked: verdicts cannot be written into %s/" VERDICT_FOLDER
		    ": %s; programs are judged "
		    "all the same: see `yoke jobs`\n",
		    s->conf->programs, strerror(errno));
	complained = failed;
	if (folder >= 0)
		close(folder);
	if (top >= 0)
		close(top);
	if (root >= 0)
		close(root);
	free(report);
}
