#include "stick.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/vfs.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "fat_name.h"
#include "mount_point.h"
#include "out.h"
#include "yoke/stick.h"

int stick_open(struct stick *s, const char *path)
{
	s->path = path;
	s->mount = NULL;
	s->fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (s->fd < 0) {
		out_error("%s: %s: it must be the folder at which the stick is mounted", path,
		    strerror(errno));
		return EXIT_USE;
	}
	s->mount = mount_point(path);
	return 0;
}

void stick_close(struct stick *s)
{
	if (s->fd >= 0)
		close(s->fd);
	free(s->mount);
	s->fd = -1;
	s->mount = NULL;
}

/* The better of two entries that FAT would take for one is the one that is spelt as asked; without
 * it nobody knows which is meant. */
static int choose(
    const char *where, const char *name, const char *entry, char **actual, bool *twice)
{
	bool exact = !strcmp(entry, name);

	if (*actual && !exact) {
		*twice = *twice || strcmp(*actual, name) != 0;
		return 0;
	}
	free(*actual);
	*twice = *twice && !exact;
	*actual = strdup(entry);
	if (*actual)
		return 0;
	out_error("%s/%s: out of memory", where, name);
	return -1;
}

int stick_find(int dir, const char *where, const char *name, char **actual)
{
	int fd = openat(dir, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	DIR *d = fd < 0 ? NULL : fdopendir(fd);
	const struct dirent *e;
	bool twice = false;

	*actual = NULL;
	if (!d)
		goto failed;
	while (errno = 0, (e = readdir(d)))
		if (fat_name_same(e->d_name, name) && choose(where, name, e->d_name, actual, &twice))
			goto out;
	if (errno)
		goto failed;
	if (twice) {
		out_error("%s: two names there are one on a stick, %s and another spelling of it: "
		          "remove the one that is not meant",
		    where, *actual);
		goto out;
	}
	closedir(d);
	return *actual ? 1 : 0;
failed:
	out_error("%s cannot be listed: %s", where, strerror(errno));
out:
	if (d)
		closedir(d);
	else if (fd >= 0)
		close(fd);
	free(*actual);
	*actual = NULL;
	return -1;
}

/* One folder below dir. As stick_folder. */
static int enter(
    const struct stick *s, int dir, const char *name, bool make, struct text *place)
{
	char *actual;
	int found = stick_find(dir, s->path, name, &actual), fd;

	if (found < 0)
		return -2;
	if (!found && !make)
		return -1;
	if (!found && mkdirat(dir, name, 0777)) {
		out_error("%s: folder %s%s cannot be made: %s", s->path, place->s ? place->s : "",
		    name, strerror(errno));
		return -2;
	}
	fd = openat(dir, found ? actual : name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
	if (fd < 0)
		out_error("%s: %s%s is no folder, or cannot be opened: %s", s->path,
		    place->s ? place->s : "", found ? actual : name, strerror(errno));
	text_printf(place, "%s/", found ? actual : name);
	free(actual);
	return fd < 0 ? -2 : fd;
}

int stick_folder(const struct stick *s, const char *folder, bool make, struct text *place)
{
	int fd = openat(s->fd, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	char name[256];

	if (fd < 0) {
		out_error("%s: %s", s->path, strerror(errno));
		return -2;
	}
	while (*folder) {
		size_t n = strcspn(folder, "/");
		int next;

		/* From the service, which has looked at it; a path must not lead out of the stick
		 * all the same. */
		if (n == 0 || n >= sizeof(name) || strspn(folder, ".") == n) {
			out_error("%s: '%s' is no folder on a stick", s->path, folder);
			close(fd);
			return -2;
		}
		memcpy(name, folder, n);
		name[n] = '\0';
		next = enter(s, fd, name, make, place);
		close(fd);
		if (next < 0)
			return next;
		fd = next;
		folder += n + (folder[n] == '/');
	}
	return fd;
}

uint64_t stick_free(const struct stick *s)
{
	struct statfs f;

	if (fstatfs(s->fd, &f) || f.f_blocks == 0)
		return UINT64_MAX;
	return (uint64_t)f.f_bavail * (uint64_t)f.f_bsize;
}

int stick_job_fill(struct stick_job *j, struct stick *s, const json_t *list)
{
	const json_t *o;
	size_t i;

	memset(j, 0, sizeof(*j));
	j->stick = s;
	j->list = list;
	json_array_foreach(json_object_get(list, "files"), i, o)
	{
		struct stick_file *f = &j->file[j->files];

		if (j->files == YOKE_CHANNELS_MAX)
			goto bad;
		*f = (struct stick_file){.channel = ask_string(o, "channel"),
		    .folder = ask_string(o, "folder"),
		    .name = ask_string(o, "name"),
		    .sha256 = ask_string(o, "sha256"),
		    .size = (uint64_t)ask_number(o, "size"),
		    .dir = -1};
		if (fat_name_fault(f->name, false) || fat_name_path_fault(f->folder, false))
			goto bad;
		snprintf(f->fresh, sizeof(f->fresh), STICK_NEW, j->files);
		snprintf(f->old, sizeof(f->old), STICK_OLD, j->files);
		j->files++;
	}
	if (j->files)
		return 0;
bad:
	out_error("the service's answer is no list of programs for a stick");
	return EXIT_SERVICE;
}

void stick_job_end(struct stick_job *j)
{
	for (uint32_t i = 0; i < j->files; i++) {
		struct stick_file *f = &j->file[i];

		if (f->written && !f->placed && unlinkat(f->dir, f->fresh, 0) && errno != ENOENT)
			out_error("%s: %s cannot be removed: %s", j->stick->path, f->fresh,
			    strerror(errno));
		if (f->dir >= 0)
			close(f->dir);
		free(f->place);
		free(f->there);
		text_free(&f->replaced);
	}
	text_free(&j->earlier);
	memset(j, 0, sizeof(*j));
}
