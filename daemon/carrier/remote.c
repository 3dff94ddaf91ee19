#include "remote.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>
#include "parent.h"
#include "place.h"
#include "remote_session.h"
#include "taking.h"
#include "yoke/text.h"

enum {
	PATH_ROOM = 2 * YOKE_PATH_MAX + 300, /* root, folder and name */
	NAME_ROOM = 256,                     /* a longer line of a list is no name of interest */
	NAMES_MS = 1000,                     /* for how long a list counts */
	NAMES_MAX = 16 * 1024 * 1024,
};

/* What was last told of a folder: of all channels that have it, since each changes it. */
struct names {
	unsigned holders;
	struct text text; /* each name with its NUL */
	bool listed;      /* there are names, of: */
	uint64_t listed_ms;
};

struct remote {
	struct folder folder;
	struct remote_session *session;
	char root[YOKE_PATH_MAX + 2], path[PATH_ROOM]; /* each with one / at the end */
	struct names *names;                           /* NULL: not yet */
	bool marker_empty;                             /* it was read, and has no bytes */
};

static struct remote *of(struct folder *f)
{
	return (struct remote *)f;
}

static void path_to(const char *folder, const char *name, char path[PATH_ROOM])
{
	snprintf(path, PATH_ROOM, "%s%s", folder, name);
}

/* Append from, part by part, with a / behind each. -1: a part that is not allowed. */
static int put_parts(char *to, size_t room, const char *from)
{
	size_t at = strlen(to);

	while (*from) {
		size_t n = strcspn(from, "/");
		char part[YOKE_PATH_MAX + 1];

		snprintf(part, sizeof part, "%.*s", (int)n, from);
		if (n && (!place_name_ok(part) || at + n + 2 > room))
			return -1;
		if (n)
			at += (size_t)snprintf(to + at, room - at, "%s/", part);
		from += n + (from[n] == '/');
	}
	return 0;
}

/* --- Lists --- */

struct listing {
	int (*each)(void *ctx, const char *name);
	void *ctx;
	char line[NAME_ROOM];
	size_t n; /* over NAME_ROOM - 1: too long */
};

/* The name at the end of a line, which some servers give with its path. */
static int end_line(struct listing *l)
{
	size_t n = l->n;
	const char *name;

	l->n = 0;
	if (n >= NAME_ROOM)
		return 0;
	if (n && l->line[n - 1] == '\r')
		n--;
	l->line[n] = '\0';
	name = strrchr(l->line, '/');
	name = name ? name + 1 : l->line;
	return *name ? l->each(l->ctx, name) : 0;
}

static int take_list(void *ctx, const void *bytes, size_t n)
{
	struct listing *l = ctx;
	const char *s = bytes;
	int rc = 0;

	for (size_t i = 0; i < n && !rc; i++) {
		if (s[i] == '\n')
			rc = end_line(l);
		else if (l->n < NAME_ROOM - 1)
			l->line[l->n++] = s[i];
		else
			l->n = NAME_ROOM;
	}
	return rc;
}

static int list_path(struct remote *r, const char *path,
    int (*each)(void *ctx, const char *name), void *ctx)
{
	struct listing l = {.each = each, .ctx = ctx};
	int rc = remote_session_list(r->session, path, take_list, &l);

	return rc || !l.n ? rc : end_line(&l);
}

struct search {
	const char *name;
	bool found, like;
};

static int compare(void *ctx, const char *name)
{
	struct search *s = ctx;

	s->found |= !strcmp(name, s->name);
	s->like |= !strcasecmp(name, s->name);
	return 0;
}

/* As the folder's root_has. Asked anew each time. */
static int root_lists(struct remote *r, const char *name)
{
	struct search s = {.name = name};
	int rc = list_path(r, r->root, compare, &s);

	return rc ? rc : s.found ? 1 : s.like ? FOLDER_LIKE : 0;
}

static int keep_name(void *ctx, const char *name)
{
	struct text *names = &((struct remote *)ctx)->names->text;

	/* A list that does not end is ended by the time, and takes no more memory meanwhile. */
	if (names->n <= NAMES_MAX)
		text_add(names, name, strlen(name) + 1);
	return names->failed ? -ENOMEM : 0;
}

static void forget_names(struct remote *r)
{
	text_free(&r->names->text);
	r->names->listed = false;
}

/* The folder's names: before anything is written they are asked for four times in a row. */
static int list_folder(struct remote *r, int (*each)(void *ctx, const char *name), void *ctx)
{
	struct names *names = r->names;
	uint64_t now = parent_now();
	int rc = 0;

	if (!names->listed || now - names->listed_ms >= NAMES_MS) {
		forget_names(r);
		rc = list_path(r, r->path, keep_name, r);
		if (!rc && names->text.n > NAMES_MAX)
			rc = -EFBIG;
		names->listed = !rc;
		names->listed_ms = now;
	}
	for (size_t at = 0; !rc && at < names->text.n; at += strlen(names->text.s + at) + 1)
		rc = each(ctx, names->text.s + at);
	return rc;
}

/* As root_lists(), for the folder. */
static int is_listed(struct remote *r, const char *name)
{
	struct search s = {.name = name};
	int rc = list_folder(r, compare, &s);

	return rc ? rc : s.found;
}

/* --- What a folder does --- */

static int count(void *ctx, const void *bytes, size_t n)
{
	*(size_t *)ctx += n;
	return 0;
}

/* A fault out of what a session's call gave. */
static int tell(struct remote *r, int rc, const char *what, struct fault *fault)
{
	struct folder_order *o = r->folder.order;

	if (rc == FOLDER_SAID)
		return fault_set(fault, o->said.error, r->folder.item, "%s", o->said.text);
	if (rc == -ECANCELED)
		return fault_set(fault, CARRY_ERROR_CANCELLED, r->folder.item, "cancelled");
	if (rc == -ETIME)
		return fault_set(fault, CARRY_ERROR_TIME, r->folder.item,
		    "the order took longer than %u ms; see total_ms in the machine's settings",
		    folder_total(r->folder.line));
	return fault_errno(fault, -rc, r->folder.item, "%s: %s", remote_session_name(r->session), what);
}

/*
 * The marker is there. FTP tells by its size, which needs no second connection; a server that tells no
 * sizes gives the file. With SFTP it is read once; after an empty file libcurl takes the connection for
 * spoilt and logs in anew, so that an empty marker is looked for in the list from then on.
 */
static int find_marker(struct remote *r, const char *path)
{
	int64_t told = -1;
	size_t n = 0;
	int rc = 0;

	if (r->marker_empty) {
		rc = root_lists(r, r->folder.line->remote.marker);
		return rc < 0 ? rc : rc == 1 ? 0 : -ENOENT;
	}
	if (remote_session_vague(r->session))
		rc = remote_session_size(r->session, path, &told);
	if ((!rc && told >= 0) || (rc && rc != -ENOENT))
		return rc;
	rc = remote_session_get(r->session, path, count, &n);
	r->marker_empty = !rc && !n && !remote_session_vague(r->session);
	return rc;
}

static int check(struct folder *f, struct fault *fault)
{
	struct remote *r = of(f);
	const char *marker = f->line->remote.marker;
	char path[PATH_ROOM];
	int rc;

	if (!*marker)
		return 0;
	path_to(r->root, marker, path);
	rc = find_marker(r, path);
	if (rc == -ENOENT)
		return fault_set(fault, CARRY_ERROR_MARKER, f->item,
		    "%s: the marker file '%s' is not in %s, or this user may not read it: is this "
		    "the machine's own server? Nothing was written",
		    remote_session_name(r->session), marker, f->line->remote.root);
	return rc ? tell(r, rc, "reading the marker", fault) : 0;
}

static bool one_check(const struct folder *a, const struct folder *b)
{
	const struct remote *one = (const struct remote *)a, *other = (const struct remote *)b;

	return one->session == other->session && !strcmp(one->root, other->root) &&
	       !strcmp(a->line->remote.marker, b->line->remote.marker);
}

static bool same(const struct folder *a, const struct folder *b)
{
	const struct remote *one = (const struct remote *)a, *other = (const struct remote *)b;

	return one->session == other->session && !strcmp(one->path, other->path);
}

static int take(void *ctx, const void *bytes, size_t n)
{
	return taking_add(ctx, bytes, n);
}

/*
 * Read a file. FTP asks for its size first: a server that tells none of a file that is not there is
 * believed only when its list says the same; and a size that is told must be the size that comes, else
 * something was cut off, or is just being written (error). Not every server tells sizes.
 */
static int get(struct remote *r, const char *path, enum carry_error error, struct taking *t)
{
	struct fault *said = &r->folder.order->said;
	int64_t told = -1;
	int rc = 0;

	if (remote_session_vague(r->session))
		rc = remote_session_size(r->session, path, &told);
	if (!rc)
		rc = remote_session_get(r->session, path, take, t);
	if (rc || told < 0 || (uint64_t)told == t->size)
		return rc;
	*said = (struct fault){0};
	fault_set(said, error, 0,
	    "%s: it says that %s has %lld bytes, and gives %llu: is somebody writing it?",
	    remote_session_name(r->session), path, (long long)told, (unsigned long long)t->size);
	return FOLDER_SAID;
}

static int cannot_read(struct remote *r, const char *name)
{
	struct fault *said = &r->folder.order->said;

	*said = (struct fault){0};
	fault_set(said, CARRY_ERROR_REFUSED, 0,
	    "%s: '%s' is there and cannot be read: is it a folder, or not for this user?",
	    remote_session_name(r->session), name);
	return FOLDER_SAID;
}

static int read_one(struct folder *f, const char *name, bool keep, const struct folder_seen *guess,
    struct folder_seen *out)
{
	struct remote *r = of(f);
	struct taking t;
	char path[PATH_ROOM];
	int rc = taking_begin(&t, keep, guess);

	path_to(r->path, name, path);
	if (!rc)
		rc = get(r, path, CARRY_ERROR_IO, &t);
	if (rc != -ENOENT)
		return taking_end(&t, rc, out);
	taking_end(&t, rc, out);
	if (!remote_session_vague(r->session))
		return 0;
	rc = is_listed(r, name);
	return rc == 1 ? cannot_read(r, name) : rc;
}

static int put(struct folder *f, const char *name, const struct folder_seen *what,
    const struct folder_seen *like)
{
	struct remote *r = of(f);
	char path[PATH_ROOM];
	int rc;

	path_to(r->path, name, path);
	forget_names(r);
	rc = remote_session_put(r->session, path, what->bytes, what->size);
	/* It was opened: it cannot be the folder that is not there. */
	return rc == -ENOENT ? -EIO : rc;
}

/* The size that the server tells, and the bytes that it gives back. */
static int prove(struct folder *f, const char *name, const struct folder_seen *what)
{
	struct remote *r = of(f);
	struct folder_seen back;
	struct taking t;
	char path[PATH_ROOM];
	int rc = taking_begin(&t, false, what);

	path_to(r->path, name, path);
	if (!rc)
		rc = get(r, path, CARRY_ERROR_DIFFERS, &t);
	rc = taking_end(&t, rc == -ENOENT ? -EBADMSG : rc, &back);
	return !rc && !folder_equal(&back, what) ? -EBADMSG : rc;
}

static int twin(struct folder *f, const char *name, const char *second)
{
	return -EOPNOTSUPP;
}

static int rename_one(struct folder *f, const char *from, const char *to)
{
	struct remote *r = of(f);
	char old[PATH_ROOM], new[PATH_ROOM];

	path_to(r->path, from, old);
	path_to(r->path, to, new);
	forget_names(r);
	return remote_session_rename(r->session, old, new);
}

static int remove_one(struct folder *f, const char *name)
{
	struct remote *r = of(f);
	struct folder_order *o = f->order;
	struct fault said;
	char path[PATH_ROOM];
	int rc, listed;

	path_to(r->path, name, path);
	forget_names(r);
	rc = remote_session_remove(r->session, path);
	if (!rc || !o->refused)
		return rc;
	said = o->said;
	listed = is_listed(r, name);
	o->said = said;
	o->refused = listed > 0;
	return listed == 0 ? 0 : rc;
}

static int list(struct folder *f, int (*each)(void *ctx, const char *name), void *ctx)
{
	return list_folder(of(f), each, ctx);
}

static int sync_names(struct folder *f)
{
	return 0; /* a server has no such command */
}

static int root_has(struct folder *f, const char *name)
{
	return root_lists(of(f), name);
}

static void close_one(struct folder *f)
{
	struct remote *r = of(f);

	remote_session_free(r->session);
	if (r->names && !--r->names->holders) {
		forget_names(r);
		free(r->names);
	}
	free(f);
}

static const struct folder_ops ops = {
    .check = check,
    .same = same,
    .one_check = one_check,
    .read = read_one,
    .put = put,
    .prove = prove,
    .twin = twin,
    .rename = rename_one,
    .remove = remove_one,
    .list = list,
    .sync = sync_names,
    .root_has = root_has,
    .close = close_one,
};

static int set_paths(struct remote *r, struct fault *fault)
{
	const struct line_remote *l = &r->folder.line->remote;

	strcpy(r->root, "/");
	if (l->root[0] != '/' || put_parts(r->root, sizeof r->root, l->root))
		return fault_set(fault, CARRY_ERROR_NAME, r->folder.item,
		    "root '%s' is not allowed: an absolute path without '.', '..' and control "
		    "characters is; change the machine's settings",
		    l->root);
	strcpy(r->path, r->root);
	if (put_parts(r->path, sizeof r->path, l->folder))
		return fault_set(fault, CARRY_ERROR_NAME, r->folder.item,
		    "the folder '%s' is not allowed: no '..', no control characters; change the "
		    "machine's settings",
		    l->folder);
	if (*l->marker && !place_name_ok(l->marker))
		return fault_set(fault, CARRY_ERROR_NAME, r->folder.item,
		    "the marker's name is not one file name");
	return 0;
}

/* Those of another channel with this folder, or new ones. */
static int hold_names(
    struct remote *r, struct folder *const *others, uint32_t n, struct fault *fault)
{
	for (uint32_t i = 0; i < n && !r->names; i++)
		if (same(&r->folder, others[i]))
			r->names = of(others[i])->names;
	if (!r->names)
		r->names = calloc(1, sizeof *r->names);
	if (!r->names)
		return fault_set(fault, CARRY_ERROR_IO, r->folder.item, "no memory for a list");
	r->names->holders++;
	return 0;
}

static int nobody(void *ctx, const char *name)
{
	return 0;
}

/* It is there, and can be listed: what lies in it is looked for by its list. */
static int enter(struct remote *r, struct fault *fault)
{
	int rc = list_folder(r, nobody, NULL);

	if (rc == -ENOENT)
		return fault_set(fault, CARRY_ERROR_OFFLINE, r->folder.item,
		    "%s: the folder '%s' below %s is not there; it is never made: look at root and "
		    "folder in the machine's settings",
		    remote_session_name(r->session), r->folder.line->remote.folder,
		    r->folder.line->remote.root);
	return rc ? tell(r, rc, "listing the folder", fault) : 0;
}

struct folder *remote_open(const struct line *line, uint32_t item, struct folder_order *order,
    struct folder *const *others, uint32_t n, struct fault *fault)
{
	struct remote *r = calloc(1, sizeof *r);

	if (!r) {
		fault_set(fault, CARRY_ERROR_IO, item, "no memory for a folder");
		return NULL;
	}
	r->folder = (struct folder){
	    .ops = &ops, .line = line, .item = item, .hide = "", .order = order};
	for (uint32_t i = 0; i < n && !r->session; i++)
		if (remote_session_fits(of(others[i])->session, &line->remote))
			r->session = remote_session_hold(of(others[i])->session);
	if (!r->session)
		r->session = remote_session_new(&line->remote, item, order, fault);
	if (r->session && !set_paths(r, fault) && !hold_names(r, others, n, fault)) {
		bool checked = false;

		for (uint32_t i = 0; i < n; i++)
			if (one_check(&r->folder, others[i])) {
				checked = true;
				r->marker_empty = of(others[i])->marker_empty;
			}
		if ((checked || !check(&r->folder, fault)) && !enter(r, fault))
			return &r->folder;
	}
	close_one(&r->folder);
	return NULL;
}
