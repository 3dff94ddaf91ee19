#include "conf_machine.h"

#include <string.h>
#include "conf_line.h"
#include "conf_profile.h"
#include "conf_running.h"
#include "conf_value.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static const char *const releases[] = {"wait", "carry", NULL};

static const struct conf_key keys[] = {
    {"title", CONF_STRING, offsetof(struct conf_machine, title),
        sizeof(((struct conf_machine *)0)->title), 0, 0, "", NULL},
    {"on_release", CONF_CHOICE, offsetof(struct conf_machine, on_release),
        sizeof(enum conf_release), 0, 0, "", releases},
    {"retry_s", CONF_NUMBER, offsetof(struct conf_machine, retry_s), sizeof(uint32_t), 0, 86400,
        "seconds", NULL},
    {"look_s", CONF_NUMBER, offsetof(struct conf_machine, look_s), sizeof(uint32_t), 0, 86400,
        "seconds", NULL},
};

bool conf_machine_name_ok(const char *s)
{
	size_t n = strspn(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_");

	return n > 0 && n <= YOKE_NAME_MAX && s[n] == '\0' && s[0] != '-';
}

/* The machine's name from the file's. */
static void read_name(const char *path, struct conf_machine *m, struct conf_report *report)
{
	const char *base = strrchr(path, '/');
	char name[YOKE_NAME_MAX + 2];
	size_t n;

	base = base ? base + 1 : path;
	n = strlen(base);
	if (n > 5 && strcmp(base + n - 5, ".conf") == 0)
		n -= 5;
	if (n > YOKE_NAME_MAX + 1)
		n = YOKE_NAME_MAX + 1;
	memcpy(name, base, n);
	name[n] = '\0';
	if (!conf_machine_name_ok(name)) {
		conf_report_error(report, path, 0,
		    "the machine's name comes from the file name: 1 to %d letters, digits, - and _ "
		    "before "
		    ".conf are allowed",
		    YOKE_NAME_MAX);
		return;
	}
	strcpy(m->name, name);
	strcpy(m->title, name);
}

static void read_entry(const struct conf_file *f, const struct conf_entry *e,
    struct conf_machine *m, struct conf_report *report)
{
	static const char *const own[] = {"machine", "line", "line CHANNEL", "call", "running", "running CHANNEL"};
	static const char *const known[] = {"title", "on_release", "retry_s", "look_s"};
	static const struct conf_sections sections = {own, COUNT(own)};
	const struct conf_key *key;

	if (conf_line_section(e->section) || conf_profile_section(e->section) ||
	    conf_running_section(e->section) || strcmp(e->section, "call") == 0)
		return;
	if (strcmp(e->section, "machine") != 0) {
		conf_profile_unknown_section(f->path, e, &sections, report);
		return;
	}
	key = conf_value_key(keys, COUNT(keys), e->key);
	if (!key)
		conf_value_unknown(f->path, e, known, COUNT(known), report);
	else
		conf_value_set(key, m, f->path, e, report);
}

/* A serial line cannot be looked at: its operator has to punch. */
static void check_look(
    const struct conf_file *f, const struct conf_machine *m, struct conf_report *report)
{
	for (size_t i = 0; i < f->n; i++)
		if (!strcmp(f->v[i].section, "machine") && !strcmp(f->v[i].key, "look_s") &&
		    m->look_s && !line_is_share(m->line[0].kind))
			conf_report_error(report, f->path, f->v[i].line,
			    "look_s = %u: only a share can be looked at, and the machine has none",
			    m->look_s);
}

int conf_machine_read(const char *path, const struct profile *shop, struct conf_machine *out,
    struct conf_report *report)
{
	struct conf_file file;
	size_t before = report->errors;

	memset(out, 0, sizeof(*out));
	out->profile = *shop;
	out->retry_s = 600;
	read_name(path, out, report);
	memset(out->profile.name, 0, sizeof(out->profile.name));
	strcpy(out->profile.name, out->name);
	conf_file_read(path, &file, report);
	conf_profile_read(&file, &out->profile, report);
	for (size_t i = 0; i < file.n; i++)
		read_entry(&file, &file.v[i], out, report);
	conf_line_read(&file, &out->profile, out->line, report);
	if (out->on_release == CONF_RELEASE_CARRY && out->line[0].kind == LINE_STICK)
		conf_report_error(report, path, 0,
		    "on_release = carry needs a line: a stick is carried by a person, see `yoke "
		    "help export`");
	conf_call_read(&file, &out->profile, out->line, &out->call, report);
	conf_running_read(&file, &out->profile, out->line, &out->running, report);
	check_look(&file, out, report);
	conf_file_free(&file);
	return report->errors == before ? 0 : -1;
}

void conf_machine_words(const struct conf_machine *m, struct carry_order *order)
{
	memset(order->word, 0, sizeof(order->word));
	for (uint32_t i = 0; i < m->profile.channels; i++) {
		struct carry_word *w = &order->word[i];

		memcpy(w->channel, m->profile.channel[i].name, sizeof(w->channel));
		if (m->line[i].kind == LINE_SERIAL)
			memcpy(w->word, m->line[i].serial.channel_word, sizeof(w->word));
	}
}
