#include "verdict.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "save.h"

enum { FILE_NAME = 2 * YOKE_NAME_MAX + 16 };

/* What a file name may hold; anything else of a job's name becomes '_'. */
static void plain(char *s)
{
	for (; *s; s++)
		if ((unsigned char)*s < 0x21 || strchr("/\\:*?\"<>|.", *s))
			*s = '_';
}

static int open_folder(int at, const char *name, bool make)
{
	if (make && mkdirat(at, name, 0775) && errno != EEXIST)
		return -1;
	return openat(at, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
}

/* A file system that does not let us set the time makes the verdict be written again at the next
 * start: no harm. */
static int put(int folder, const char *name, const char *bytes, int64_t decided_us)
{
	const struct timespec time = {decided_us / 1000000, decided_us % 1000000 * 1000};
	char part[2 * YOKE_NAME_MAX + 32];
	int fd;

	snprintf(part, sizeof(part), ".%s.part", name);
	fd = openat(folder, part, O_WRONLY | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0664);
	if (fd < 0)
		return -1;
	if (save_all(fd, bytes, strlen(bytes))) {
		close(fd);
		goto fail;
	}
	if (decided_us)
		(void)!futimens(fd, (const struct timespec[]){time, time});
	if (close(fd) || renameat(folder, part, folder, name))
		goto fail;
	return 0;

fail:
	unlinkat(folder, part, 0);
	return -1;
}

/* The folder of an area's verdicts, made when make is set; -1. */
static int open_area(const struct service *s, const char *area, bool make)
{
	int root = open(s->conf->programs, O_RDONLY | O_DIRECTORY | O_CLOEXEC), top, folder;

	if (root < 0)
		return -1;
	top = open_folder(root, VERDICT_FOLDER, make);
	close(root);
	if (top < 0 || !*area)
		return top;
	folder = open_folder(top, area, make);
	close(top);
	return folder;
}

/* The two names of a verdict. */
static void name_files(const struct judgement *j, char text[FILE_NAME], char report[FILE_NAME])
{
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];

	memcpy(job, j->job, sizeof(job));
	memcpy(revision, j->revision, sizeof(revision));
	plain(job);
	plain(revision);
	snprintf(text, FILE_NAME, "%s-%s.txt", job, revision);
	snprintf(report, FILE_NAME, "%s-%s.json", job, revision);
}

/* The decision that stands on the pair: 1; 0 when it cannot be asked for; -1. */
static int standing(struct service *s, const struct judgement *j, struct vault_pair *pair)
{
	memset(pair, 0, sizeof(*pair));
	return *j->revision ? vault_pair(s->vault, j->area, j->job, j->revision, pair) : 0;
}

void verdict_write(struct service *s, const struct judgement *j)
{
	static bool complained;
	char text[FILE_NAME], report[FILE_NAME], *json;
	struct vault_pair pair;
	int folder = -1, failed = -1;

	if (standing(s, j, &pair) == 1 && pair.seq != j->event)
		return; /* the mate was decided on in the same turn, and writes the verdict */
	json = json_dumps(j->report, JSON_INDENT(2));
	if (json)
		folder = open_area(s, j->area, true);
	name_files(j, text, report);
	if (folder >= 0) {
		failed = put(folder, text, j->text, pair.utc_us);
		failed |= put(folder, report, json, pair.utc_us);
	}
	if (failed && !complained)
		fprintf(stderr,
		    "yoked: verdicts cannot be written into %s/" VERDICT_FOLDER
		    ": %s; programs are judged "
		    "all the same: see `yoke jobs`\n",
		    s->conf->programs, json ? strerror(errno) : "memory ran out");
	complained = failed;
	if (folder >= 0)
		close(folder);
	free(json);
}

static bool has_time(int folder, const char *name, int64_t decided_us)
{
	struct stat st;

	if (fstatat(folder, name, &st, AT_SYMLINK_NOFOLLOW) || !S_ISREG(st.st_mode))
		return false;
	return !decided_us || (st.st_mtim.tv_sec == decided_us / 1000000 &&
	                          st.st_mtim.tv_nsec / 1000 == decided_us % 1000000);
}

bool verdict_is_there(struct service *s, const struct judge_arrival *in)
{
	char text[FILE_NAME], report[FILE_NAME];
	struct vault_pair pair;
	struct judgement j;
	int folder;
	bool there;

	judge_name(&j, in);
	standing(s, &j, &pair);
	name_files(&j, text, report);
	folder = open_area(s, j.area, false);
	there = folder >= 0 && has_time(folder, text, pair.utc_us) &&
	        has_time(folder, report, pair.utc_us);
	if (folder >= 0)
		close(folder);
	return there;
}
