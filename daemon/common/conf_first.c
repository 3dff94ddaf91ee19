#include "conf_first.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "conf_first_text.h"
#include "save.h"

static int fail(struct text *why, const char *path)
{
	const char *what = strerror(errno);

	text_visible(why, path, strlen(path));
	text_printf(why, ": cannot be made: %s", what);
	return -1;
}

static int make_folder(const char *path, struct text *why)
{
	struct stat st;

	if (mkdir(path, 0755) == 0)
		return 0;
	if (errno == EEXIST && stat(path, &st) == 0) {
		if (S_ISDIR(st.st_mode))
			return 0;
		errno = ENOTDIR;
	}
	return fail(why, path);
}

static int exists(const char *path)
{
	struct stat st;

	return lstat(path, &st) == 0;
}

/* Written beside, then linked under its name: there is never half a file, and link() never
 * overwrites. */
static int make_file(const char *path, const char *content, struct text *why)
{
	char *beside = NULL;
	int fd = -1, saved;

	if (exists(path))
		return 0;
	if (asprintf(&beside, "%s.XXXXXX", path) < 0) {
		errno = ENOMEM;
		return fail(why, path);
	}
	fd = mkostemp(beside, O_CLOEXEC);
	if (fd < 0)
		goto failed;
	if (save_all(fd, content, strlen(content)) < 0 || fsync(fd) < 0 || fchmod(fd, 0644) < 0)
		goto remove;
	if (link(beside, path) < 0 && errno != EEXIST)
		goto remove;
	unlink(beside);
	close(fd);
	free(beside);
	return 0;
remove:
	saved = errno;
	unlink(beside);
	close(fd);
	errno = saved;
failed:
	fail(why, path);
	free(beside);
	return -1;
}

int conf_first_write(const char *home, struct text *why)
{
	static const struct {
		const char *name, *content;
	} part[] = {
	    {"", NULL},
	    {"/machines", NULL},
	    {"/programs", NULL},
	    {"/yoke.conf", CONF_FIRST_YOKE},
	    {"/machines/EXAMPLE.conf.sample", CONF_FIRST_MACHINE},
	};

	for (size_t i = 0; i < sizeof(part) / sizeof(part[0]); i++) {
		char *path;
		int result;

		if (asprintf(&path, "%s%s", home, part[i].name) < 0) {
			errno = ENOMEM;
			return fail(why, home);
		}
		if (part[i].content)
			result = make_file(path, part[i].content, why);
		else
			result = make_folder(path, why);
		free(path);
		if (result < 0)
			return -1;
	}
	return 0;
}
