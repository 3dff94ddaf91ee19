#include "conf_running.h"

#include <string.h>
#include <strings.h>
#include "conf_value.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define STRING(name)                                                                               \
	{#name, CONF_STRING, offsetof(struct settings, name),                                      \
	    sizeof(((struct settings *)0)->name), 0, 0, "", NULL}

struct settings {
	char file[YOKE_NAME_MAX + 1], idle_file[YOKE_NAME_MAX + 1];
	char agent[YOKE_PATH_MAX + 1], device[YOKE_NAME_MAX + 1], path[YOKE_NAME_MAX + 1];
	uint32_t answer_ms;
};

static const struct conf_key keys[] = {
    STRING(file),
    STRING(idle_file),
    STRING(agent),
    STRING(device),
    {"answer_ms", CONF_NUMBER, offsetof(struct settings, answer_ms), sizeof(uint32_t), 100, 60000,
        "milliseconds", NULL},
};

static const struct conf_key channel_keys[] = {STRING(path)};

bool conf_running_section(const char *section)
{
	return strcmp(section, "running") == 0 || strncmp(section, "running ", 8) == 0;
}

static void set(const struct conf_key *table, size_t n, struct settings *to, const char *path,
    const struct conf_entry *e, struct conf_report *report)
{
	const struct conf_key *key = conf_value_key(table, n, e->key);
	const char *known[COUNT(keys)];

	for (size_t i = 0; i < n; i++)
		known[i] = table[i].name;
	if (key)
		conf_value_set(key, to, path, e, report);
	else
		conf_value_unknown(path, e, known, n, report);
}

static void set_channel(const struct profile *profile, struct running *out, const char *path,
    const struct conf_entry *e, struct conf_report *report)
{
	const char *name = e->section + 8;
	int i = profile_channel_find(profile, name, strlen(name));
	struct settings s = {0};

	if (i < 0) {
		conf_report_error(report, path, e->line, "[%s]: the machine has no channel '%s'",
		    e->section, name);
		return;
	}
	set(channel_keys, COUNT(channel_keys), &s, path, e, report);
	memcpy(out->path[i], s.path, sizeof(s.path));
}

static bool is_url(const char *s)
{
	return (!strncasecmp(s, "http://", 7) && s[7]) || (!strncasecmp(s, "https://", 8) && s[8]);
}

struct place {
	const char *path;
	unsigned line; /* of the section's last key */
	struct conf_report *report;
};

static void check_file(const struct place *at, const char *name, const struct line *line)
{
	if (strchr(name, '/') || !strcmp(name, ".") || !strcmp(name, ".."))
		conf_report_error(at->report, at->path, at->line,
		    "[running]: '%s': the name of a file in the share's root is needed, without /",
		    name);
	if (line[0].kind == LINE_REMOTE && name[0] == '.')
		conf_report_error(at->report, at->path, at->line,
		    "[running]: '%s': many servers do not list names with a dot in front", name);
	if (!line_is_share(line[0].kind))
		conf_report_error(at->report, at->path, at->line,
		    "[running]: a file tells it on a share only; the machine has none");
}

static void check_agent(
    const struct place *at, const struct profile *profile, const struct running *r)
{
	/* What stands in front of an @ may be a password, which nothing may repeat. */
	if (strchr(r->agent, '@'))
		conf_report_error(at->report, at->path, at->line,
		    "[running]: agent: user and password are not taken here; an agent that only some may "
		    "read belongs behind a firewall");
	else if (!is_url(r->agent))
		conf_report_error(at->report, at->path, at->line,
		    "[running]: agent = '%s': http://HOST:PORT is needed", r->agent);
	for (uint32_t i = 0; i < profile->channels; i++)
		if (!*r->path[i])
			conf_report_error(at->report, at->path, at->line,
			    "[running]: agent needs the path of every channel: [running %s] path = "
			    "the name or id of its Path in the agent's answer",
			    profile->channel[i].name);
	for (uint32_t i = 0; i < profile->channels; i++)
		for (uint32_t k = 0; k < i; k++)
			if (*r->path[i] && !strcmp(r->path[i], r->path[k]))
				conf_report_warning(at->report, at->path, at->line,
				    "[running]: %s and %s have the same path '%s': whether the other "
				    "one runs is not asked; right only where the agent has one Path for both",
				    profile->channel[k].name, profile->channel[i].name, r->path[i]);
}

/* Exactly one of the ways, or none. */
static void choose(const struct place *at, const struct settings *s, struct running *out)
{
	unsigned ways = (*s->file != 0) + (*s->idle_file != 0) + (*s->agent != 0);

	if (ways > 1)
		conf_report_error(at->report, at->path, at->line,
		    "[running]: one of file, idle_file and agent tells it, not several");
	if (*s->agent)
		out->kind = RUNNING_AGENT;
	else if (*s->idle_file)
		out->kind = IDLE_FILE;
	else if (*s->file)
		out->kind = RUNNING_FILE;
	memcpy(out->file, *s->file ? s->file : s->idle_file, sizeof(out->file));
	memcpy(out->agent, s->agent, sizeof(out->agent));
	memcpy(out->device, s->device, sizeof(out->device));
	out->answer_ms = s->answer_ms;
}

void conf_running_read(const struct conf_file *file, const struct profile *profile,
    const struct line line[YOKE_CHANNELS_MAX], struct running *out, struct conf_report *report)
{
	struct settings s = {.answer_ms = 5000};
	struct place at = {file->path, 0, report};

	*out = (struct running){0};
	for (size_t i = 0; i < file->n; i++) {
		const struct conf_entry *e = &file->v[i];

		if (!conf_running_section(e->section))
			continue;
		at.line = e->line;
		if (e->section[7])
			set_channel(profile, out, file->path, e, report);
		else
			set(keys, COUNT(keys), &s, file->path, e, report);
	}
	if (!at.line)
		return;
	choose(&at, &s, out);
	if (out->kind == RUNNING_NOT_TOLD)
		conf_report_error(report, file->path, at.line,
		    "[running] says nothing: set file, idle_file or agent");
	if (out->kind == RUNNING_FILE || out->kind == IDLE_FILE)
		check_file(&at, out->file, line);
	if (out->kind == RUNNING_AGENT)
		check_agent(&at, profile, out);
}
