#include "stick_clash.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "fat_name.h"
#include "out.h"
#include "yoke/profile.h"
#include "yoke/program.h"
#include "yoke/stick.h"

enum { HEAD = 64 << 10, ENTRIES_MOST = 4000 }; /* bytes of a file that are read; files of a folder */

/* What the head of a program says. */
struct says {
	uint32_t number;
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
};

struct looking {
	struct stick_job *j;
	struct profile *profile;
	const char *job, *revision;
	bool clash;
};

/* The machine's own way of headers and numbers, from the service's answer. */
static void read_profile(const json_t *list, struct profile *p)
{
	const json_t *channel, *alias;
	struct text names = {0}, why = {0};
	char section[YOKE_NAME_MAX + 16];
	size_t i, k;

	profile_defaults(p);
	json_array_foreach(json_object_get(list, "channels"), i, channel)
		text_printf(&names, "%s%s", i ? ", " : "", ask_string(channel, "name"));
	if (names.s)
		profile_set(p, "programs", "channels", names.s, &why);
	text_free(&names);
	json_array_foreach(json_object_get(list, "channels"), i, channel)
	{
		json_array_foreach(json_object_get(channel, "aliases"), k, alias)
			text_printf(&names, "%s%s", k ? ", " : "", json_string_value(alias));
		snprintf(section, sizeof(section), "channel %s", ask_string(channel, "name"));
		if (names.s)
			profile_set(p, section, "aliases", names.s, &why);
		text_free(&names);
	}
	profile_set(p, "programs", "header", ask_string(list, "header"), &why);
	if (ask_true(list, "number_colon"))
		profile_set(p, "limits", "number_colon", "yes", &why);
	text_free(&why);
}

/* False: it is no file, or cannot be read. */
static bool look_at(const struct looking *l, int dir, const char *name, struct says *out)
{
	int fd = openat(dir, name, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
	struct program *p = program_new(l->profile, "");
	char *bytes = malloc(HEAD);
	struct stat st;
	ssize_t n = -1;
	bool good = false;

	memset(out, 0, sizeof(*out));
	if (fd >= 0 && p && bytes && !fstat(fd, &st) && S_ISREG(st.st_mode))
		n = read(fd, bytes, HEAD);
	if (n >= 0 && !program_feed(p, bytes, (size_t)n) && !program_finish(p)) {
		out->number = program_number(p);
		snprintf(out->job, sizeof(out->job), "%s", program_job(p));
		snprintf(out->revision, sizeof(out->revision), "%s", program_revision(p));
		good = true;
	}
	program_free(p);
	free(bytes);
	if (fd >= 0)
		close(fd);
	return good;
}

static void clash(struct looking *l, const char *place, const char *what)
{
	if (l->j->replace)
		return;
	l->clash = true;
	out_error("%s: %s %s: look what it is, and say --replace when it may go", l->j->stick->path,
	    place, what);
}

/* What lies under a name that is needed. */
static void look_under(struct looking *l, struct stick_file *f)
{
	struct says says;
	char what[2 * YOKE_NAME_MAX + 80];

	if (!f->there)
		return;
	if (!look_at(l, f->dir, f->there, &says)) {
		l->clash = true;
		out_error("%s: %s is there and is no program, or cannot be read: move it away",
		    l->j->stick->path, f->place);
	} else if (!*says.job) {
		clash(l, f->place, "is there already, and does not say what job it belongs to");
		text_puts(&f->replaced, "a program that does not say what it is");
	} else if (strcasecmp(says.job, l->job)) {
		snprintf(what, sizeof(what), "is there already, and belongs to job %s", says.job);
		clash(l, f->place, what);
		text_printf(&f->replaced, "%s@%s", says.job, says.revision);
	} else if (strcasecmp(says.revision, l->revision)) {
		text_printf(&f->replaced, "%s@%s", says.job, says.revision);
	}
}

static bool is_ours(const struct stick_job *j, const struct stick_file *in, const char *name)
{
	const char *end = strrchr(name, '.');

	if (end && strlen(end) == 4 && !strncasecmp(name, STICK_OWN, strlen(STICK_OWN)) &&
	    strcasestr(STICK_OWN_ENDS, end + 1))
		return true;
	for (uint32_t i = 0; i < j->files; i++)
		if (fat_name_same(j->file[i].folder, in->folder) &&
		    fat_name_same(j->file[i].name, name))
			return true;
	return false;
}

/* One other file of the folder: has it the number? */
static void look_beside(
    struct looking *l, const struct stick_file *f, uint32_t number, const char *name)
{
	struct says says;
	struct text place = {0};
	char what[2 * YOKE_NAME_MAX + 120];

	if (is_ours(l->j, f, name) || !look_at(l, f->dir, name, &says) || says.number != number ||
	    !strcasecmp(says.job, l->job))
		return;
	text_printf(&place, "%s%s%s", f->folder, *f->folder ? "/" : "", name);
	snprintf(what, sizeof(what), "has the same program number, O%04u, and belongs to %s%s", number,
	    *says.job ? "job " : "", *says.job ? says.job : "nobody knows which job");
	clash(l, place.s ? place.s : name, what);
	text_free(&place);
}

static int look_through(struct looking *l, const struct stick_file *f)
{
	struct says own;
	int fd = openat(f->dir, ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	DIR *d = fd < 0 ? NULL : fdopendir(fd);
	const struct dirent *e;
	unsigned n = 0;

	if (!d) {
		out_error("%s: %s", l->j->stick->path, strerror(errno));
		if (fd >= 0)
			close(fd);
		return EXIT_SERVICE;
	}
	if (look_at(l, f->dir, f->fresh, &own) && own.number)
		while (n++ < ENTRIES_MOST && (e = readdir(d)))
			look_beside(l, f, own.number, e->d_name);
	closedir(d);
	if (n <= ENTRIES_MOST)
		return 0;
	out_error("%s: more than %d files lie beside %s, and not all were looked at: clear the stick",
	    l->j->stick->path, ENTRIES_MOST, f->place);
	return l->j->replace ? 0 : EXIT_REFUSED;
}

int stick_clash(struct stick_job *j)
{
	struct looking l = {.j = j,
	    .profile = malloc(sizeof(*l.profile)),
	    .job = ask_string(j->list, "job"),
	    .revision = ask_string(j->list, "revision")};
	int status = 0;

	if (!l.profile) {
		out_error("out of memory");
		return EXIT_SERVICE;
	}
	read_profile(j->list, l.profile);
	for (uint32_t i = 0; i < j->files; i++)
		look_under(&l, &j->file[i]);
	for (uint32_t i = 0; !status && i < j->files; i++)
		status = look_through(&l, &j->file[i]);
	free(l.profile);
	return status ? status : l.clash ? EXIT_REFUSED : 0;
}
