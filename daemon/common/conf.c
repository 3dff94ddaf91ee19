#include "conf.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "conf_file.h"
#include "conf_line.h"
#include "conf_profile.h"
#include "conf_value.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define FIELD(name) offsetof(struct conf, name), sizeof(((struct conf *)0)->name)

enum {
	SOCKET_MAX = 107,   /* bytes in sockaddr_un's sun_path without its NUL (unix(7)) */
	MACHINES_MAX = 256, /* files in machines/ */
};

static const char *const watches[] = {"events", "poll", NULL};

static const struct conf_key keys[] = {
    {"programs", CONF_STRING, FIELD(programs), 0, 0, "", NULL},
    {"socket", CONF_STRING, FIELD(socket), 0, 0, "", NULL},
    {"watch", CONF_CHOICE, FIELD(watch), 0, 0, "", watches},
    {"poll_ms", CONF_NUMBER, FIELD(poll_ms), 100, 3600000, "milliseconds", NULL},
    {"settle_ms", CONF_NUMBER, FIELD(settle_ms), 0, 3600000, "milliseconds", NULL},
    {"checkpoint_events", CONF_NUMBER, FIELD(trail.events), 1, 1000000, "", NULL},
    {"checkpoint_s", CONF_NUMBER, FIELD(trail.seconds), 1, 86400, "seconds", NULL},
    {"checkpoint_to", CONF_STRING, FIELD(trail.to), 0, 0, "", NULL},
    {"seal_key", CONF_STRING, FIELD(trail.key), 0, 0, "", NULL},
    {"incomplete_s", CONF_NUMBER, FIELD(incomplete_s), 1, 86400, "seconds", NULL},
    {"room_warn_mb", CONF_NUMBER, FIELD(room_warn_mb), 0, 1000000, "megabytes", NULL},
};

static void read_entry(const struct conf_file *f, const struct conf_entry *e, struct conf *c,
    struct conf_report *report)
{
	static const char *const own[] = {"yoke", "badges", "duties", "owners"};
	static const struct conf_sections sections = {own, COUNT(own)};
	const char *known[COUNT(keys)];
	const struct conf_key *key;

	if (conf_profile_section(e->section))
		return;
	if (strcmp(e->section, "badges") == 0) {
		conf_badge_add(&c->badges, f->path, e, report);
		return;
	}
	if (strcmp(e->section, "duties") == 0) {
		conf_duty_add(&c->duties, f->path, e, report);
		return;
	}
	if (strcmp(e->section, "owners") == 0) {
		conf_owner_add(&c->owners, f->path, e, report);
		return;
	}
	if (strcmp(e->section, "yoke") != 0) {
		conf_profile_unknown_section(f->path, e, &sections, report);
		return;
	}
	key = conf_value_key(keys, COUNT(keys), e->key);
	if (key) {
		conf_value_set(key, c, f->path, e, report);
		return;
	}
	for (size_t i = 0; i < COUNT(keys); i++)
		known[i] = keys[i].name;
	conf_value_unknown(f->path, e, known, COUNT(known), report);
}

/* Make a path that was given relative to home absolute. */
static void absolute(struct conf *c, const char *path, const char *key, char at[YOKE_PATH_MAX + 1],
    size_t max, struct conf_report *report)
{
	char whole[2 * YOKE_PATH_MAX + 2];
	size_t n;

	if (at[0] == '\0')
		conf_report_error(
		    report, path, 0, "%s is empty; a path is needed, absolute or below home", key);
	snprintf(whole, sizeof(whole), "%s%s%s", at[0] == '/' ? "" : c->home,
	    at[0] == '/' ? "" : "/", at);
	n = strlen(whole);
	if (n > max) {
		conf_report_error(report, path, 0,
		    "%s is the path %s of %zu bytes, at most %zu are allowed", key, whole, n, max);
		return;
	}
	memcpy(at, whole, n + 1);
}

static void read_yoke(struct conf *c, struct conf_report *report)
{
	struct conf_file file;
	char path[YOKE_PATH_MAX + 16];

	snprintf(path, sizeof(path), "%s/yoke.conf", c->home);
	conf_file_read(path, &file, report);
	conf_profile_read(&file, &c->profile, report);
	for (size_t i = 0; i < file.n; i++)
		read_entry(&file, &file.v[i], c, report);
	conf_file_free(&file);
	absolute(c, path, "programs", c->programs, YOKE_PATH_MAX, report);
	absolute(c, path, "socket", c->socket, SOCKET_MAX, report);
	conf_trail_check(&c->trail, c->home, path, report);
}

static int is_conf(const struct dirent *d)
{
	size_t n = strlen(d->d_name);

	return d->d_name[0] != '.' && n > 5 && strcmp(d->d_name + n - 5, ".conf") == 0;
}

static void read_machines(struct conf *c, struct conf_report *report)
{
	char path[YOKE_PATH_MAX + 300];
	struct dirent **names = NULL;
	int n;

	snprintf(path, sizeof(path), "%s/machines", c->home);
	n = scandir(path, &names, is_conf, alphasort);
	if (n < 0) {
		conf_report_error(report, path, 0, "cannot be listed: %s", strerror(errno));
		return;
	}
	if (n > MACHINES_MAX)
		conf_report_error(
		    report, path, 0, "%d machines, at most %d are allowed", n, MACHINES_MAX);
	else if (n > 0 && !(c->machine = calloc((size_t)n, sizeof(*c->machine))))
		conf_report_error(report, path, 0, "out of memory");
	for (int i = 0; i < n; i++) {
		snprintf(path, sizeof(path), "%s/machines/%s", c->home, names[i]->d_name);
		if (c->machine)
			conf_machine_read(path, &c->profile, &c->machine[c->machines++], report);
		free(names[i]);
	}
	free(names);
}

/* Whether two machines would write to the same place. */
static bool meet(const struct conf_machine *a, const struct conf_machine *b, struct text *where)
{
	for (uint32_t i = 0; i < a->profile.channels; i++) {
		struct text one = {0};
		bool same = false;

		conf_line_place(&a->line[i], &one);
		for (uint32_t k = 0; one.n > 0 && k < b->profile.channels && !same; k++) {
			struct text other = {0};

			conf_line_place(&b->line[k], &other);
			same = other.n == one.n && strcmp(one.s, other.s) == 0;
			text_free(&other);
		}
		if (same)
			text_puts(where, one.s);
		text_free(&one);
		if (same)
			return true;
	}
	return false;
}

/* Whether two machines would write the same file: then what one is given the other holds too. */
static bool same_file(const struct conf_machine *a, const struct conf_machine *b)
{
	for (uint32_t i = 0; i < a->profile.channels; i++)
		for (uint32_t k = 0; k < b->profile.channels; k++) {
			const struct line *one = &a->line[i], *other = &b->line[k];

			if (line_is_share(one->kind) && conf_line_same_place(one, other) &&
			    !strcasecmp(one->name, other->name) &&
			    (!strstr(one->name, "{channel}") ||
			        !strcmp(a->profile.channel[i].name, b->profile.channel[k].name)))
				return true;
		}
	return false;
}

/* Whether they have one folder on a server: there each would take what the other is about to put in place for
 * left over, since a server locks nothing. */
static bool same_remote_folder(const struct conf_machine *a, const struct conf_machine *b)
{
	for (uint32_t i = 0; i < a->profile.channels; i++)
		for (uint32_t k = 0; k < b->profile.channels; k++)
			if (a->line[i].kind == LINE_REMOTE && b->line[k].kind == LINE_REMOTE &&
			    conf_line_same_place(&a->line[i], &b->line[k]))
				return true;
	return false;
}

static void check_machines(const struct conf *c, struct conf_report *report)
{
	for (size_t i = 0; i < c->machines; i++)
		for (size_t k = 0; k < i; k++) {
			const struct conf_machine *a = &c->machine[k], *b = &c->machine[i];
			struct text where = {0};

			if (!meet(a, b, &where))
				continue;
			if (same_file(a, b))
				conf_report_error(report, "machines", 0,
				    "%s and %s have the same files in %s: what one is given the "
				    "other holds too, and nobody could say what; give each its own "
				    "folder or name",
				    a->name, b->name, where.s ? where.s : "");
			else if (same_remote_folder(a, b))
				conf_report_error(report, "machines", 0,
				    "%s and %s have the same folder %s, and on a server nothing keeps "
				    "their orders apart; give each its own folder",
				    a->name, b->name, where.s ? where.s : "");
			else
				conf_report_warning(report, "machines", 0,
				    "%s and %s share the line %s: the programs of one would reach "
				    "the other",
				    a->name, b->name, where.s ? where.s : "");
			text_free(&where);
		}
}

int conf_read(const char *home, struct conf *out, struct conf_report *report)
{
	size_t before = report->errors;
	size_t n = strlen(home);

	*out = (struct conf){.poll_ms = 2000, .settle_ms = 1000, .incomplete_s = 60,
	    .room_warn_mb = 500,
	    .trail = {.events = 100, .seconds = 900}};
	profile_defaults(&out->profile);
	if (n == 0 || n > YOKE_PATH_MAX) {
		conf_report_error(report, "home", 0, "the path has %zu bytes, 1 to %d are allowed",
		    n, YOKE_PATH_MAX);
		return -1;
	}
	while (n > 1 && home[n - 1] == '/')
		n--;
	memcpy(out->home, home, n);
	strcpy(out->programs, "programs");
	strcpy(out->socket, "yoke.sock");
	read_yoke(out, report);
	read_machines(out, report);
	check_machines(out, report);
	return report->errors == before ? 0 : -1;
}

const struct conf_machine *conf_find(const struct conf *c, const char *name)
{
	for (size_t i = 0; i < c->machines; i++)
		if (strcmp(c->machine[i].name, name) == 0)
			return &c->machine[i];
	return NULL;
}

void conf_free(struct conf *c)
{
	free(c->machine);
	*c = (struct conf){0};
}
