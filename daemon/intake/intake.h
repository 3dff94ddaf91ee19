/*
 * Intake: watches a folder tree and says "this file has arrived".
 *
 * What it promises
 *  1. A file is opened for reading only. Nothing below the root is ever altered, removed or
 * created.
 *  2. A file arrives when its writer closed it, or it was moved here whole, and it carries an end
 * mark; where no event can tell (polling, a scan, a hard link), when its size and times stayed the
 * same for settle_ms and it carries an end mark. Without an end mark it arrives after incomplete_ms
 * without a change, with complete = false, so that it can be held with a finding rather than be
 * lost.
 *  3. One state of a file (device, inode, size, modification and change time) is handed over once.
 * The one exception is a file closed again while its times could not tell two saves apart (same
 * clock tick): better twice than lost. Every change of state is handed over again, also one of the
 * times alone (a stick that is an hour older after the clock change). So the receiver decides by
 * content (SHA-256) and by order of arrival what is new, never by the file's time.
 *  4. Files that go away are not reported: there is no "deleted". A root that is missing, lies on
 * another device than before, or lacks its marker file is offline, and nothing below it is looked
 * at.
 *  5. Links are never followed, not in the middle of a path either.
 *  6. The work done in one turn of the loop is bounded; a full scan goes on in slices.
 *
 * The end mark: the last text of the file is a lone `%` that is not the opening one; or, when the
 * file does not open with `%`, the last block holds M02, M30 or M99 (ISO 6983-1 program end; M99
 * ends a subprogram: common practice). NUL, DEL, Ctrl-Z, DC1..DC4 and blank lines may follow.
 *
 * Everything runs in the caller's thread, inside the loop. A root on a network share must be polled
 * by a process of its own, because a dead mount blocks the caller.
 */
#ifndef YOKE_INTAKE_H
#define YOKE_INTAKE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <uv.h>

struct intake;

enum {
	INTAKE_DEPTH_MAX = 32, /* folders below the root that are entered */
};

/* What tells one state of a file from another. Times in nanoseconds since 1970 UTC. */
struct intake_state {
	uint64_t dev;
	uint64_t ino;
	uint64_t size; /* bytes */
	int64_t mtime_ns;
	int64_t ctime_ns;
};

enum intake_reason {
	INTAKE_EVENT,  /* the kernel told of it */
	INTAKE_RESCAN, /* found by the scan at start, after an overflow, or on request */
	INTAKE_POLL,   /* found by polling */
};

/* One arrived file, as it was at the moment of hand over. */
struct intake_file {
	const char
	    *path; /* below the root, without leading slash, UTF-8; valid during the call only */
	int fd; /* O_RDONLY|O_NOFOLLOW|O_CLOEXEC|O_NONBLOCK, at offset 0; the receiver closes it */
	uint32_t uid;  /* the owner, by the kernel */
	bool complete; /* it carries an end mark */
	enum intake_reason reason;
	struct intake_state state;
};

/* Why a name below the root cannot become a program: X(CODE, name, text). The text follows the
 * path. */
#define INTAKE_REFUSALS(X)                                                                         \
	X(LINK, "link",                                                                            \
	    "is a symbolic link, and links are never followed: put the file itself here")          \
	X(KIND, "not-a-file",                                                                      \
	    "is a pipe, socket or device: only regular files are read; remove it")                 \
	X(UNREADABLE, "unreadable", "cannot be read: give the service permission to read it")      \
	X(SIZE, "too-big", "is larger than 1 GiB, the most that is read as a program: split it")   \
	X(CONTROL, "control-characters", "has control characters in its name: rename it")          \
	X(ENCODING, "not-utf-8", "has a name that is not UTF-8: rename it")                        \
	X(DOTS, "dots", "has '.' or '..' or nothing as a part of its path: rename it")             \
	X(LENGTH, "path-too-long", "has a path of more than 1024 bytes: shorten the names")        \
	X(DEPTH, "too-deep", "lies more than 32 folders deep: move it up")

enum intake_refusal {
#define INTAKE_REFUSAL_ENUM(code, name, text) INTAKE_REFUSED_##code,
	INTAKE_REFUSALS(INTAKE_REFUSAL_ENUM)
#undef INTAKE_REFUSAL_ENUM
	    INTAKE_REFUSALS_COUNT
};

struct intake_settings {
	const char *root;       /* the folder; itself it may be a link */
	const char *marker;     /* name of a file that must lie in root, or NULL: then the device id
	                           alone tells */
	bool events;            /* inotify; false: poll */
	uint64_t poll_ms;       /* between two polls, and between two looks at the root itself */
	uint64_t settle_ms;     /* quiet time of a file of which no event said that it is whole */
	uint64_t incomplete_ms; /* quiet time of a file without end mark */
	uint32_t
	    watch_limit; /* most folders watched by events, the rest is polled; 0: the kernel's */
	const char *const
	    *skip_dirs; /* NULL-terminated paths below root that are never looked into, or NULL */
};

/* Called inside the loop. All but arrived may be NULL. Each may call any function of this header.
 */
struct intake_calls {
	/* A file has arrived. */
	void (*arrived)(void *ctx, const struct intake_file *file);
	/* path (raw bytes) cannot be taken. text is a whole printable sentence. Told once while it
	 * stays so. */
	void (*refused)(void *ctx, const char *path, enum intake_refusal why, const char *text);
	/* The kernel dropped events; a full scan has been scheduled. */
	void (*overflow)(void *ctx);
	/* The root went offline (true) or came back (false). */
	void (*offline)(void *ctx, bool offline, const char *text);
	/* path cannot be watched by events and is polled, or memory ran out; text says why and what
	 * to do. */
	void (*notice)(void *ctx, const char *path, const char *text);
	/* A full scan has ended: every file below the root was looked at. */
	void (*scanned)(void *ctx);
};

/* Running totals since intake_new, and the present number of files. */
struct intake_counts {
	uint64_t arrived;    /* hand-overs */
	uint64_t incomplete; /* those of them without end mark */
	uint64_t refused;    /* refusals told */
	uint64_t ignored;    /* temporary and back-up names met, each once while it exists */
	uint64_t overflows;
	uint64_t scans; /* full scans ended */
	uint64_t files; /* names remembered now */
	uint64_t watches;
	uint64_t waiting; /* files seen that have not settled or have no end mark yet */
};

/*
 * Sets every field: root NULL, marker NULL, events on, poll 2 s, settle 3 s (longer than the
 * two-second time stamps of FAT), incomplete 60 s, no watch limit, no skipped folders.
 */
void intake_settings_default(struct intake_settings *s);

/*
 * Makes an intake on loop; settings are copied, nothing is opened. calls is copied, ctx handed to
 * them. Returns NULL with errno EINVAL (no root, no arrived, marker with a slash) or ENOMEM. End it
 * with intake_free.
 */
struct intake *intake_new(uv_loop_t *loop, const struct intake_settings *settings,
    const struct intake_calls *calls, void *ctx);

/*
 * Says, before intake_start, that path was handed over in this state in an earlier run, so that it
 * need not be read again. dev and ctime_ns may be 0: not remembered, not compared. Returns 0,
 * -EINVAL for a path that could not have arrived, -ENOMEM.
 */
int intake_known(struct intake *in, const char *path, const struct intake_state *state);

/*
 * Begins to watch and to scan. A root that is missing is told through offline and looked for every
 * poll_ms; it is no error. Returns 0, -EALREADY or a negative errno of the loop.
 */
int intake_start(struct intake *in);

/*
 * Back-pressure: no file is handed over between pause and resume. What happens meanwhile waits in
 * the kernel's queue; if that overflows, a scan follows. Pausing twice is pausing once.
 */
void intake_pause(struct intake *in);
void intake_resume(struct intake *in);

/*
 * To be asked after the last read of file->fd and before what was read is used: is the file still
 * in the state that was handed over? If not, what was read may be torn: discard it; false also
 * schedules a new look at file->path. file->fd must still be open, file->path still valid.
 */
bool intake_still_same(struct intake *in, const struct intake_file *file);

/*
 * Asks for path to be handed over again after after_ms, although it has not changed (say, it could
 * not be stored). Returns 0, -ENOENT when intake does not know the path.
 */
int intake_again(struct intake *in, const char *path, uint64_t after_ms);

/* Schedules a full scan, as after an overflow. */
void intake_rescan(struct intake *in);

/* The totals, and whether the root is offline now. */
struct intake_counts intake_counts(const struct intake *in);
bool intake_is_offline(const struct intake *in);

/* Ends the intake; no call comes after this. Memory goes when the loop has turned. NULL does
 * nothing. */
void intake_free(struct intake *in);

/* The name of a refusal, never NULL. */
const char *intake_refusal_name(enum intake_refusal why);

/*
 * Writes path as printable text: control characters, C1 included, and bytes that are not UTF-8
 * become \xNN; what does not fit in size bytes ends in "...". size at least 8. Returns out.
 */
const char *intake_path_text(const char *path, char *out, size_t size);

#endif
