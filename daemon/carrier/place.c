#include "place.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

/* Bytes of the UTF-8 sequence at s, 0 when it is none (RFC 3629: no overlong form, no surrogate, up
 * to U+10FFFF). */
static size_t utf8(const unsigned char *s)
{
	size_t n = s[0] < 0x80   ? 1
	           : s[0] < 0xc2 ? 0
	           : s[0] < 0xe0 ? 2
	           : s[0] < 0xf0 ? 3
	           : s[0] < 0xf5 ? 4
	                         : 0;

	for (size_t i = 1; i < n; i++)
		if ((s[i] & 0xc0) != 0x80)
			return 0;
	if ((s[0] == 0xe0 && s[1] < 0xa0) || (s[0] == 0xed && s[1] > 0x9f) ||
	    (s[0] == 0xf0 && s[1] < 0x90) || (s[0] == 0xf4 && s[1] > 0x8f))
		return 0;
	/* U+0080..U+009F are control characters too. */
	return n == 2 && s[0] == 0xc2 && s[1] < 0xa0 ? 0 : n;
}

bool place_name_ok(const char *name)
{
	const unsigned char *s = (const unsigned char *)name;
	size_t n = strlen(name), step;

	if (n < 1 || n > 255 || !strcmp(name, ".") || !strcmp(name, "..") ||
	    !strncmp(name, ".yoke-", 6))
		return false;
	for (; *s; s += step) {
		step = utf8(s);
		if (!step || *s < 0x20 || *s == 0x7f || *s == '/' || *s == '\\')
			return false;
	}
	/* Some file systems, and some servers with the last word of a command, leave these out. */
	return s[-1] != '.' && s[-1] != ' ';
}

/* Open one folder below dir after the other; -1 with the fault set. */
static int open_folder(const struct place *p, struct fault *f)
{
	char path[YOKE_PATH_MAX + 1], *rest = path, *part;
	int dir = openat(p->root, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);

	memcpy(path, p->line->folder, sizeof path);
	while (dir >= 0 && (part = strsep(&rest, "/"))) {
		int next, e;

		if (!*part)
			continue;
		if (!place_name_ok(part)) {
			close(dir);
			return fault_set(f, CARRY_ERROR_NAME, p->item,
			    "the folder '%s' is not allowed: no '..', no control characters; "
			    "change the machine's settings",
			    p->line->folder);
		}
		next = openat(dir, part, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
		e = errno;
		close(dir);
		errno = e;
		dir = next;
	}
	if (dir < 0)
		return fault_set(f, CARRY_ERROR_OFFLINE, p->item,
		    "the folder '%s' below %s cannot be opened (%s); it is never made: is the "
		    "share mounted?",
		    p->line->folder, p->line->root, strerror(errno));
	return dir;
}

static int check_marker(const struct place *p, struct fault *f)
{
	struct stat st;
	const char *m = p->line->marker;

	if (!*m)
		return 0;
	if (!place_name_ok(m))
		return fault_set(
		    f, CARRY_ERROR_NAME, p->item, "the marker's name is not one file name");
	if (fstatat(p->root, m, &st, AT_SYMLINK_NOFOLLOW) || !S_ISREG(st.st_mode))
		return fault_set(f, CARRY_ERROR_MARKER, p->item,
		    "the marker file '%s' is not in %s: the share is not mounted, or it is not "
		    "this machine's; "
		    "nothing was written",
		    m, p->line->root);
	return 0;
}

bool place_same(const struct place *a, const struct place *b)
{
	return a->folder_stat.st_dev == b->folder_stat.st_dev &&
	       a->folder_stat.st_ino == b->folder_stat.st_ino;
}

/* Their left-overs and ours must not be mistaken. */
int place_lock(struct place *p, struct fault *f)
{
	/* Some shares cannot lock a folder at all: that is no reason not to use them. */
	if (flock(p->folder, LOCK_EX | LOCK_NB) && errno == EWOULDBLOCK)
		return fault_set(f, CARRY_ERROR_BUSY, p->item,
		    "the folder '%s' below %s is used by another order; try again when it has "
		    "ended",
		    p->line->folder, p->line->root);
	return 0;
}

int place_join(struct place *p, const struct place *other, struct fault *f)
{
	close(p->folder);
	p->folder = fcntl(other->folder, F_DUPFD_CLOEXEC, 0);
	if (p->folder < 0)
		return fault_errno(f, errno, p->item, "the folder cannot be held open");
	return 0;
}

int place_open(
    struct place *p, const struct line_directory *line, uint32_t item, struct fault *f)
{
	p->line = line;
	p->item = item;
	p->folder = -1;
	p->root = open(line->root, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (p->root < 0 || fstat(p->root, &p->root_stat))
		return fault_set(f, CARRY_ERROR_OFFLINE, item,
		    "%s cannot be opened (%s): is the share mounted?", line->root, strerror(errno));
	if (check_marker(p, f))
		return -1;
	p->folder = open_folder(p, f);
	if (p->folder < 0)
		return -1;
	if (fstat(p->folder, &p->folder_stat))
		return fault_errno(f, errno, item, "the folder '%s' below %s cannot be looked at",
		    line->folder, line->root);
	return 0;
}

int place_check(const struct place *p, struct fault *f)
{
	struct stat st;
	int folder, rc;

	if (stat(p->line->root, &st) || st.st_dev != p->root_stat.st_dev ||
	    st.st_ino != p->root_stat.st_ino)
		return fault_set(f, CARRY_ERROR_OFFLINE, p->item,
		    "%s is no longer the folder that it was when the order began: the share went "
		    "away; mount it again",
		    p->line->root);
	if (check_marker(p, f))
		return -1;
	/* A folder that was moved away is not the one that the machine reads. */
	folder = open_folder(p, f);
	if (folder < 0)
		return -1;
	rc = fstat(folder, &st);
	close(folder);
	if (rc || st.st_dev != p->folder_stat.st_dev || st.st_ino != p->folder_stat.st_ino)
		return fault_set(f, CARRY_ERROR_OFFLINE, p->item,
		    "the folder '%s' below %s is no longer the one that it was when the order "
		    "began; look there, and send again",
		    p->line->folder, p->line->root);
	return 0;
}

void place_close(struct place *p)
{
	if (p->folder >= 0)
		close(p->folder);
	if (p->root >= 0)
		close(p->root);
	p->folder = p->root = -1;
}
