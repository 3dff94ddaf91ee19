#include "mount.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>
#include "file.h"
#include "place.h"

enum { OPEN_MAX_HERE = 4 }; /* a new program, and what is kept of the old one */

struct mount {
	struct folder folder;
	struct place place;
	struct {
		char name[NAME_MAX + 1]; /* "": none */
		int fd;
	} open[OPEN_MAX_HERE]; /* put, and not proven yet */
};

static const struct place *place_of(const struct folder *f)
{
	return &((const struct mount *)f)->place;
}

static int check(struct folder *f, struct fault *fault)
{
	return place_check(place_of(f), fault);
}

static bool same(const struct folder *a, const struct folder *b)
{
	return place_same(place_of(a), place_of(b));
}

static int read_one(struct folder *f, const char *name, bool keep, const struct folder_seen *guess,
    struct folder_seen *out)
{
	return file_read(place_of(f)->folder, name, keep, guess, &f->order->tick, out);
}

static int put(struct folder *f, const char *name, const struct folder_seen *what,
    const struct folder_seen *like)
{
	struct mount *m = (struct mount *)f;
	unsigned i = 0;
	int fd;

	while (i < OPEN_MAX_HERE && *m->open[i].name)
		i++;
	if (i == OPEN_MAX_HERE || strlen(name) >= sizeof m->open[i].name)
		return -EMFILE;
	fd = file_put(m->place.folder, name, what, like, &f->order->tick);
	if (fd < 0)
		return fd;
	strcpy(m->open[i].name, name);
	m->open[i].fd = fd;
	return 0;
}

/* The descriptor of what was put under the name and not proven yet, which is the caller's from here on; -1:
 * there is none. */
static int take_put(struct mount *m, const char *name)
{
	for (unsigned i = 0; i < OPEN_MAX_HERE; i++)
		if (*name && !strcmp(m->open[i].name, name)) {
			*m->open[i].name = '\0';
			return m->open[i].fd;
		}
	return -1;
}

static int prove(struct folder *f, const char *name, const struct folder_seen *what)
{
	int fd = take_put((struct mount *)f, name);

	return fd < 0 ? -ENOENT
	              : file_prove(place_of(f)->folder, name, fd, what, &f->order->tick);
}

static int twin(struct folder *f, const char *name, const char *second)
{
	int folder = place_of(f)->folder;

	if (!linkat(folder, name, folder, second, 0))
		return 0;
	if (errno == EEXIST || errno == ENOENT || errno == ENOSPC || errno == EIO)
		return -errno;
	return -EOPNOTSUPP; /* no links on this share, or not to this file */
}

/* Over a network a change that was reported as failed may have been done; these say that it was not.
 * ENOENT does not: it is also what a server says to a request that comes a second time. */
static int said_no(struct folder *f, int rc)
{
	static const int no[] = {EACCES, EBUSY, EDQUOT, EEXIST, EINVAL, EISDIR, ENOSPC, ENOTDIR,
	    EPERM, EROFS, ETXTBSY, EXDEV};

	f->order->refused = false;
	for (size_t i = 0; i < sizeof no / sizeof *no; i++)
		f->order->refused |= rc == -no[i];
	return rc;
}

static int rename_one(struct folder *f, const char *from, const char *to)
{
	int folder = place_of(f)->folder;

	return said_no(f, renameat(folder, from, folder, to) ? -errno : 0);
}

/* What is removed while it is open stays on some shares, under a name of their own, or is refused. */
static int remove_one(struct folder *f, const char *name)
{
	int fd = take_put((struct mount *)f, name);

	if (fd >= 0)
		close(fd);
	return said_no(f, file_remove(place_of(f)->folder, name));
}

static int list_of(
    struct folder *f, int folder, int (*each)(void *ctx, const char *name), void *ctx)
{
	int fd = openat(folder, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC), rc = 0;
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
		rc = folder_tick(f, 0);
		if (!rc)
			rc = each(ctx, e->d_name);
	}
	if (!rc && errno)
		rc = -errno;
	closedir(d);
	return rc;
}

static int list(struct folder *f, int (*each)(void *ctx, const char *name), void *ctx)
{
	return list_of(f, place_of(f)->folder, each, ctx);
}

static int sync_names(struct folder *f)
{
	return file_sync_folder(place_of(f)->folder);
}

static int is_like(void *ctx, const char *name)
{
	return strcasecmp(name, ctx) ? 0 : FOLDER_LIKE;
}

static int root_has(struct folder *f, const char *name)
{
	if (!faccessat(place_of(f)->root, name, F_OK, AT_SYMLINK_NOFOLLOW))
		return 1;
	return errno == ENOENT ? list_of(f, place_of(f)->root, is_like, (void *)name) : -errno;
}

static int room(struct folder *f, uint64_t *bytes)
{
	struct statvfs s;

	if (fstatvfs(place_of(f)->folder, &s))
		return -errno;
	*bytes = (uint64_t)s.f_bavail * s.f_frsize;
	return 0;
}

static int stamp(struct folder *f, const char *name, struct folder_stamp *out)
{
	struct stat st;

	*out = (struct folder_stamp){0};
	if (fstatat(place_of(f)->folder, name, &st, AT_SYMLINK_NOFOLLOW))
		return errno == ENOENT ? 0 : -errno;
	*out = (struct folder_stamp){.there = true,
	    .size = (uint64_t)st.st_size,
	    .inode = st.st_ino,
	    .written = st.st_mtim,
	    .changed = st.st_ctim};
	return 0;
}

static void close_one(struct folder *f)
{
	struct mount *m = (struct mount *)f;

	for (unsigned i = 0; i < OPEN_MAX_HERE; i++)
		if (*m->open[i].name)
			close(m->open[i].fd);
	place_close(&m->place);
	free(m);
}

static const struct folder_ops ops = {
    check,
    same,
    same, /* root, marker and folder: of another folder it says nothing */
    read_one,
    put,
    prove,
    twin,
    rename_one,
    remove_one,
    list,
    sync_names,
    root_has,
    room,
    stamp,
    close_one,
};

struct folder *mount_open(const struct line *line, uint32_t item, struct folder_order *order,
    struct folder *const *others, uint32_t n, struct fault *fault)
{
	struct mount *m = calloc(1, sizeof *m);
	int rc;

	if (!m) {
		fault_set(fault, CARRY_ERROR_IO, item, "no memory for a folder");
		return NULL;
	}
	m->folder = (struct folder){
	    .ops = &ops, .line = line, .item = item, .hide = ".", .order = order};
	rc = place_open(&m->place, &line->directory, item, fault);
	for (uint32_t i = 0; !rc; i++) {
		if (i == n) {
			rc = order->looks ? 0 : place_lock(&m->place, fault);
			break;
		}
		if (place_same(&m->place, place_of(others[i]))) {
			rc = place_join(&m->place, place_of(others[i]), fault);
			break;
		}
	}
	if (!rc)
		return &m->folder;
	close_one(&m->folder);
	return NULL;
}
