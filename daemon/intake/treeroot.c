#include "treeroot.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "filename.h"

enum treeroot_verdict treeroot_judge(const struct treeroot_facts *f)
{
	if (!f->there)
		return TREEROOT_MISSING;
	if (f->wants_marker && !f->has_marker)
		return TREEROOT_NO_MARKER;
	if (!f->known)
		return TREEROOT_NEW;
	if (f->dev != f->dev_was)
		return f->wants_marker ? TREEROOT_NEW : TREEROOT_OTHER_DEVICE;
	return f->ino == f->ino_was ? TREEROOT_SAME : TREEROOT_NEW;
}

static void explain(
    const struct treeroot *root, enum treeroot_verdict verdict, int error, char *text, size_t size)
{
	char path[512], marker[256];

	filename_text(root->path, path, sizeof(path));
	filename_text(root->marker ? root->marker : "", marker, sizeof(marker));
	switch (verdict) {
	case TREEROOT_MISSING:
		snprintf(text, size, "%s: offline: %s; mount the share or create the folder", path,
		    strerror(error));
		break;
	case TREEROOT_OTHER_DEVICE:
		snprintf(text, size,
		    "%s: offline: the folder lies on another device than before; mount the share "
		    "again, or name a marker file, or restart the service if the move is meant",
		    path);
		break;
	case TREEROOT_NO_MARKER:
		snprintf(text, size,
		    "%s: offline: the marker file %s is missing; mount the share, or put the "
		    "marker "
		    "back if this is the right folder",
		    path, marker);
		break;
	case TREEROOT_SHORT:
		snprintf(text, size, "%s: cannot be opened now: %s", path, strerror(error));
		break;
	case TREEROOT_SAME:
	case TREEROOT_NEW:
		snprintf(text, size, "%s: online", path);
		break;
	}
}

enum treeroot_verdict treeroot_enter(struct treeroot *root, int *fd, char *text, size_t size)
{
	struct treeroot_facts facts = {.known = root->known,
	    .dev_was = root->dev,
	    .ino_was = root->ino,
	    .wants_marker = root->marker != NULL};
	struct stat st;
	int error = 0;

	*fd = open(root->path, O_PATH | O_DIRECTORY | O_CLOEXEC);
	if (*fd < 0 || fstat(*fd, &st) < 0) {
		error = errno;
	} else {
		facts.there = true;
		facts.dev = st.st_dev;
		facts.ino = st.st_ino;
		facts.has_marker = root->marker &&
		                   fstatat(*fd, root->marker, &st, AT_SYMLINK_NOFOLLOW) == 0 &&
		                   S_ISREG(st.st_mode);
	}
	enum treeroot_verdict verdict = treeroot_judge(&facts);
	if (error == EMFILE || error == ENFILE || error == ENOMEM)
		verdict = TREEROOT_SHORT;
	explain(root, verdict, error, text, size);
	if (verdict != TREEROOT_SAME && verdict != TREEROOT_NEW) {
		if (*fd >= 0)
			close(*fd);
		*fd = -1;
		return verdict;
	}
	root->known = true;
	root->dev = facts.dev;
	root->ino = facts.ino;
	return verdict;
}
