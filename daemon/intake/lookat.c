#include "lookat.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include "endmark.h"
#include "parts.h"
#include "yoke/limits.h"

enum { RETRY_MS = 1000 }; /* after a shortage of ours: descriptors, memory, a lease on the file */

int lookat_open_folder(int rootfd, const char *path, int flags)
{
	int fd = openat(rootfd, ".", (*path ? O_PATH : flags) | O_DIRECTORY | O_CLOEXEC);

	while (fd >= 0 && *path) {
		char name[256];
		size_t len = strcspn(path, "/");
		int below = -1;

		if (len == 0 || len >= sizeof(name)) {
			close(fd);
			return -ENOENT;
		}
		memcpy(name, path, len);
		name[len] = '\0';
		path += len;
		path += *path == '/';
		below = openat(
		    fd, name, (*path ? O_PATH : flags) | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
		int error = errno;
		close(fd);
		errno = error;
		fd = below;
	}
	return fd < 0 ? -errno : fd;
}

void lookat_forget(struct intake *in, struct seen_file *f)
{
	due_clear(&in->due, f);
	seen_drop(&in->seen, f);
}

static struct seen_file *get(struct intake *in, const char *path)
{
	struct seen_file *f = seen_find(&in->seen, path);

	if (f)
		return f;
	if (due_reserve(&in->due, in->seen.count + 1) == 0)
		f = seen_get(&in->seen, path);
	if (!f)
		in->short_of_memory = true;
	return f;
}

static const char *const refusal_texts[] = {
#define TEXT(code, name, text) text,
    INTAKE_REFUSALS(TEXT)
#undef TEXT
};

static void refuse(struct intake *in, struct seen_file *f, enum intake_refusal why, int error)
{
	char text[1024], shown[512];

	due_clear(&in->due, f);
	if (f->refused == why + 1)
		return;
	f->refused = (uint8_t)(why + 1);
	in->counts.refused++;
	if (!in->calls.refused)
		return;
	filename_text(f->path, shown, sizeof(shown));
	if (error)
		snprintf(
		    text, sizeof(text), "%s: %s (%s)", shown, refusal_texts[why], strerror(error));
	else
		snprintf(text, sizeof(text), "%s: %s", shown, refusal_texts[why]);
	in->calls.refused(in->ctx, f->path, why, text);
}

static void look_again(struct intake *in, struct seen_file *f, uint64_t after_ms)
{
	f->candidate.due_ms = uv_now(in->loop) + after_ms;
	due_set(&in->due, f);
}

static void unreadable(struct intake *in, struct seen_file *f, int error)
{
	switch (error) {
	case EMFILE:
	case ENFILE:
	case ENOMEM:
	case EAGAIN:
	case EINTR:
		look_again(in, f, RETRY_MS);
		return;
	default:
		refuse(in, f, INTAKE_REFUSED_UNREADABLE, error);
		look_again(in, f, in->settings.incomplete_ms);
	}
}

void lookat_unreadable(struct intake *in, const char *path, int error)
{
	struct seen_file *f = get(in, path);

	if (f) {
		f->sweep = in->scan.sweep;
		unreadable(in, f, error);
	}
}

static bool skipped(const struct intake *in, const char *path)
{
	const char *const *dir = in->settings.skip_dirs;

	if (in->settings.marker && strcmp(path, in->settings.marker) == 0)
		return true;
	for (; dir && *dir; dir++)
		if (filename_under(path, *dir))
			return true;
	return false;
}

struct seen_file *lookat_name(struct intake *in, const char *path, const char *name)
{
	enum filename_kind kind = filename_check(name);

	if (skipped(in, path))
		return NULL;
	struct seen_file *f = get(in, path);
	if (!f)
		return NULL;
	if (kind == FILENAME_PLAIN && strlen(path) <= YOKE_PATH_MAX)
		return f;
	f->sweep = in->scan.sweep;
	switch (kind) {
	case FILENAME_IGNORED:
		if (!f->ignored)
			in->counts.ignored++;
		f->ignored = true;
		break;
	case FILENAME_CONTROL:
		refuse(in, f, INTAKE_REFUSED_CONTROL, 0);
		break;
	case FILENAME_ENCODING:
		refuse(in, f, INTAKE_REFUSED_ENCODING, 0);
		break;
	case FILENAME_DOTS:
		refuse(in, f, INTAKE_REFUSED_DOTS, 0);
		break;
	case FILENAME_PLAIN:
		refuse(in, f, INTAKE_REFUSED_LENGTH, 0);
		break;
	}
	return NULL;
}

static int64_t nanoseconds(struct timespec t)
{
	/* A file's time can be anything; far ones are cut to what fits. */
	if (t.tv_sec > INT64_MAX / 1000000000 - 1)
		return INT64_MAX;
	if (t.tv_sec < INT64_MIN / 1000000000 + 1)
		return INT64_MIN;
	return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

struct intake_state lookat_state(const struct stat *st)
{
	return (struct intake_state){.dev = st->st_dev,
	    .ino = st->st_ino,
	    .size = (uint64_t)st->st_size,
	    .mtime_ns = nanoseconds(st->st_mtim),
	    .ctime_ns = nanoseconds(st->st_ctim)};
}

static struct candidate_clock clock_now(const struct intake *in)
{
	struct timespec real = {0};

	clock_gettime(CLOCK_REALTIME, &real);
	return (struct candidate_clock){.loop_ms = uv_now(in->loop), .real_ns = nanoseconds(real)};
}

static struct candidate_rules rules_of(const struct intake *in)
{
	return (struct candidate_rules){in->settings.settle_ms, in->settings.incomplete_ms};
}

static void hand_over(
    struct intake *in, struct seen_file *f, int fd, const struct stat *st, bool complete)
{
	struct intake_file file = {.path = f->path,
	    .fd = fd,
	    .uid = st->st_uid,
	    .complete = complete,
	    .reason = f->reason,
	    .state = f->candidate.seen};

	in->counts.arrived++;
	in->counts.incomplete += !complete;
	in->calls.arrived(in->ctx, &file);
}

/* Opens the settled file and takes the last step. */
static void read_entry(struct intake *in, int dirfd, struct seen_file *f, const char *name)
{
	struct candidate_clock now = clock_now(in);
	struct candidate_rules rules = rules_of(in);
	struct stat st;
	int fd = openat(dirfd, name, O_RDONLY | O_NOFOLLOW | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
	int marked = -1;

	if (fd < 0 || fstat(fd, &st) < 0)
		goto fail;
	if (!S_ISREG(
	        st.st_mode)) { /* replaced between two calls: its own event or the timer follows */
		errno = EAGAIN;
		goto fail;
	}
	marked = endmark_of_file(fd, (uint64_t)st.st_size);
	if (marked < 0) {
		errno = -marked;
		goto fail;
	}
	/* Was the end that we judged the end of the state that we hand over? */
	if (fstat(fd, &st) < 0)
		goto fail;
	f->refused = 0;
	struct intake_state state = lookat_state(&st);
	switch (candidate_read(&f->candidate, &state, marked == 1, &now, &rules)) {
	case CANDIDATE_HAND_OVER:
	case CANDIDATE_INCOMPLETE:
		due_clear(&in->due, f);
		hand_over(in, f, fd, &st, marked == 1);
		return;
	case CANDIDATE_WAIT:
		due_set(&in->due, f);
		break;
	case CANDIDATE_REST:
	case CANDIDATE_READ:
		break;
	}
	close(fd);
	return;

fail:
	if (fd >= 0) {
		int error = errno;

		close(fd);
		errno = error;
	}
	if (errno == ENOENT || errno == ELOOP)
		look_again(in, f, 0);
	else
		unreadable(in, f, errno);
}

static void look_at_file(struct intake *in, int dirfd, struct seen_file *f, const char *name,
    enum candidate_cue cue, const struct stat *st)
{
	struct candidate_clock now = clock_now(in);
	struct candidate_rules rules = rules_of(in);
	struct intake_state state = lookat_state(st);

	if (f->refused != INTAKE_REFUSED_UNREADABLE + 1)
		f->refused = 0;
	switch (candidate_look(&f->candidate, &state, cue, &now, &rules)) {
	case CANDIDATE_READ:
		read_entry(in, dirfd, f, name);
		break;
	case CANDIDATE_WAIT:
		due_set(&in->due, f);
		break;
	default:
		due_clear(&in->due, f);
		break;
	}
}

void lookat_entry(struct intake *in, int dirfd, struct seen_file *f, const char *name,
    enum candidate_cue cue, enum treescan_why why)
{
	struct stat st;

	if (fstatat(dirfd, name, &st, AT_SYMLINK_NOFOLLOW) < 0) {
		if (errno == ENOENT || errno == ENOTDIR)
			lookat_forget(in, f);
		else
			unreadable(in, f, errno);
	} else if (S_ISDIR(st.st_mode)) {
		if (filename_depth(f->path) > INTAKE_DEPTH_MAX) {
			refuse(in, f, INTAKE_REFUSED_DEPTH, 0);
			return;
		}
		treescan_add(in, f->path, why);
		if (!f->refused) /* an unreadable folder stays remembered as told */
			lookat_forget(in, f);
	} else if (S_ISLNK(st.st_mode)) {
		refuse(in, f, INTAKE_REFUSED_LINK, 0);
	} else if (!S_ISREG(st.st_mode)) {
		refuse(in, f, INTAKE_REFUSED_KIND, 0);
	} else if ((unsigned long long)st.st_size > YOKE_PROGRAM_MAX) {
		refuse(in, f, INTAKE_REFUSED_SIZE, 0);
	} else {
		look_at_file(in, dirfd, f, name, cue, &st);
	}
}

void lookat_path(struct intake *in, int rootfd, struct seen_file *f, enum candidate_cue cue)
{
	char parent[PARTS_PATH_SIZE];
	const char *slash = strrchr(f->path, '/');
	size_t len = slash ? (size_t)(slash - f->path) : 0;
	const char *name = slash ? slash + 1 : f->path;
	int dirfd;

	if (len >= sizeof(parent))
		return;
	memcpy(parent, f->path, len);
	parent[len] = '\0';
	dirfd = lookat_open_folder(rootfd, parent, O_PATH);
	if (dirfd < 0) {
		if (dirfd == -ENOENT || dirfd == -ENOTDIR || dirfd == -ELOOP)
			lookat_forget(in, f);
		else
			unreadable(in, f, -dirfd);
		return;
	}
	lookat_entry(in, dirfd, f, name, cue, in->watch ? TREESCAN_NEW_FOLDER : TREESCAN_POLL);
	close(dirfd);
}
