#include "conf_line.h"

#include <stdlib.h>
#include <string.h>
#include "conf_eia.h"
#include "conf_line_check.h"
#include "conf_line_remote.h"
#include "conf_value.h"
#include "remote_address.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

enum { HOUR_MS = 3600 * 1000, DAY_MS = 24 * HOUR_MS };

static const char *const kinds[] = {"none", "directory", "serial", "stick", "remote", NULL};
static const char *const bauds[] = {"110", "300", "600", "1200", "2400", "4800", "9600", "19200",
    "38400", "57600", "115200", "230400", "460800", "921600", NULL};
static const char *const framings[] = {"8n1", "7e1", "7e2", "7o1", "8n2", "8e1", NULL};
static const char *const codes[] = {"ascii", "iso", "eia", NULL};
static const char *const eobs[] = {"lf", "crlf", "lfcrcr", NULL};
static const char *const flows[] = {"xon", "rtscts", "dtrdsr", "both", "none", NULL};
static const char *const watches[] = {"none", "dsr", "dcd", NULL};
static const char *const read_backs[] = {"none", "punch", NULL};
static const char *const ends[] = {"as-is", "lf", "crlf", NULL};
static const char *const drips[] = {"no", "alone", "waits", NULL};

#define FIELD(type, name) offsetof(struct type, name), sizeof(((struct type *)0)->name)
#define NUMBER(type, name, low, high, unit)                                                        \
	{                                                                                          \
#name, CONF_NUMBER, FIELD(type, name), low, high, unit, NULL                       \
	}
#define CHOICE(type, name, kind, list)                                                             \
	{                                                                                          \
#name, kind, FIELD(type, name), 0, 0, "", list                                     \
	}
#define YES_NO(type, name)                                                                         \
	{                                                                                          \
#name, CONF_YES_NO, FIELD(type, name), 0, 0, "", NULL                              \
	}
#define STRING(type, name)                                                                         \
	{                                                                                          \
#name, CONF_STRING, FIELD(type, name), 0, 0, "", NULL                              \
	}

/* Keys of every line. */
static const struct conf_key common[] = {
    CHOICE(line, kind, CONF_CHOICE, kinds),
    STRING(line, name),
};

static const struct conf_key serial[] = {
    STRING(line_serial, address),
    CHOICE(line_serial, baud, CONF_LISTED, bauds),
    CHOICE(line_serial, framing, CONF_CHOICE, framings),
    CHOICE(line_serial, code, CONF_CHOICE, codes),
    STRING(line_serial, eia), /* see set() */
    CHOICE(line_serial, eob, CONF_CHOICE, eobs),
    CHOICE(line_serial, flow, CONF_CHOICE, flows),
    CHOICE(line_serial, watch, CONF_CHOICE, watches),
    CHOICE(line_serial, read_back, CONF_CHOICE, read_backs),
    CHOICE(line_serial, drip, CONF_CHOICE, drips),
    STRING(line_serial, channel_word),
    YES_NO(line_serial, wait_dc1),
    YES_NO(line_serial, dc2_dc4),
    NUMBER(line_serial, leader, 0, 10000, "NUL characters"),
    NUMBER(line_serial, trailer, 0, 10000, "NUL characters"),
    NUMBER(line_serial, char_pause, 0, 10000, "milliseconds"),
    NUMBER(line_serial, block_pause, 0, 60000, "milliseconds"),
    NUMBER(line_serial, reserve, 1, 65536, "characters"),
    NUMBER(line_serial, open_ms, 1, HOUR_MS, "milliseconds"),
    NUMBER(line_serial, first_ms, 0, DAY_MS, "milliseconds"),
    NUMBER(line_serial, stall_ms, 100, DAY_MS, "milliseconds"),
    NUMBER(line_serial, total_ms, 0, 7 * (uint32_t)DAY_MS, "milliseconds"),
    NUMBER(line_serial, read_back_ms, 100, DAY_MS, "milliseconds"),
    NUMBER(line_serial, silence_ms, 100, HOUR_MS, "milliseconds"),
};

static const struct conf_key directory[] = {
    STRING(line_directory, root),
    STRING(line_directory, marker),
    STRING(line_directory, folder),
    NUMBER(line_directory, total_ms, 100, DAY_MS, "milliseconds"),
};

static const struct conf_key stick[] = {
    STRING(line_stick, folder),
};

/* Keys of every line on which a program is a file. */
static const struct conf_key files[] = {
    CHOICE(line, eob, CONF_CHOICE, ends),
    YES_NO(line, upper_case),
    YES_NO(line, short_names),
};

static bool has_files(enum line_kind kind)
{
	return line_is_share(kind) || kind == LINE_STICK;
}

/* The further keys of each kind, and where in a line they fill what. */
static const struct {
	const struct conf_key *keys;
	size_t n, offset;
} by_kind[] = {
    [LINE_NONE] = {NULL, 0, 0},
    [LINE_DIRECTORY] = {directory, COUNT(directory), offsetof(struct line, directory)},
    [LINE_SERIAL] = {serial, COUNT(serial), offsetof(struct line, serial)},
    [LINE_STICK] = {stick, COUNT(stick), offsetof(struct line, stick)},
    [LINE_REMOTE] = {conf_line_remote_keys, CONF_LINE_REMOTE_KEYS, offsetof(struct line, remote)},
};

/* Where a channel's keys were set, for messages of checks across keys. */
struct reading {
	const struct conf_file *file;
	struct conf_report *report;
};

static void defaults(struct line *l)
{
	if (l->kind == LINE_SERIAL) {
		strcpy(l->name, "O{number}");
		l->serial = (struct line_serial){
		    .baud = 9600,
		    .framing = LINE_7E2,
		    .code = LINE_CODE_ISO,
		    .wait_dc1 = true,
		    .reserve = 64,
		    .open_ms = 10000,
		    .stall_ms = 30000,
		    .read_back_ms = 600000,
		    .silence_ms = 5000,
		};
	} else if (l->kind == LINE_DIRECTORY) {
		strcpy(l->name, "{job}_{channel}.NC");
		l->directory = (struct line_directory){.total_ms = 120000};
	} else if (l->kind == LINE_STICK) {
		strcpy(l->name, "{job}_{channel}.NC");
	} else if (l->kind == LINE_REMOTE) {
		strcpy(l->name, "{job}_{channel}.NC");
		conf_line_remote_defaults(&l->remote);
	}
}

static void unknown_key(const struct reading *r, enum line_kind kind, const struct conf_entry *e)
{
	const char *known[COUNT(common) + COUNT(files) + COUNT(serial)];
	size_t n = 0;

	for (size_t k = 0; k < COUNT(by_kind); k++)
		if (conf_value_key(by_kind[k].keys, by_kind[k].n, e->key)) {
			conf_report_error(r->report, r->file->path, e->line,
			    "'%s' belongs to a line of kind %s, this line is of kind %s", e->key,
			    kinds[k], kinds[kind]);
			return;
		}
	if (conf_value_key(files, COUNT(files), e->key)) {
		conf_report_error(r->report, r->file->path, e->line,
		    "'%s' belongs to a line whose programs are files, a share or a stick; this line is of kind %s",
		    e->key, kinds[kind]);
		return;
	}
	for (size_t i = 0; i < COUNT(common); i++)
		known[n++] = common[i].name;
	for (size_t i = 0; has_files(kind) && i < COUNT(files); i++)
		known[n++] = files[i].name;
	for (size_t i = 0; i < by_kind[kind].n; i++)
		known[n++] = by_kind[kind].keys[i].name;
	conf_value_unknown(r->file->path, e, known, n, r->report);
}

static void set(const struct reading *r, struct line *l, const struct conf_entry *e)
{
	const struct conf_key *key = conf_value_key(common, COUNT(common), e->key);
	char *base = (char *)l;

	if (!key && has_files(l->kind))
		key = conf_value_key(files, COUNT(files), e->key);
	if (!key) {
		key = conf_value_key(by_kind[l->kind].keys, by_kind[l->kind].n, e->key);
		base += by_kind[l->kind].offset;
	}
	if (!key)
		unknown_key(r, l->kind, e);
	else if (l->kind == LINE_SERIAL && strcmp(key->name, "eia") == 0)
		conf_eia_set(l->serial.eia, r->file->path, e, r->report);
	else
		conf_value_set(key, base, r->file->path, e, r->report);
}

static const struct conf_entry *find(
    const struct conf_file *f, const char *section, const char *key)
{
	for (size_t i = 0; i < f->n; i++)
		if (strcmp(f->v[i].section, section) == 0 &&
		    (!key || strcmp(f->v[i].key, key) == 0))
			return &f->v[i];
	return NULL;
}

/* The kind comes first, because it says which keys there are. False: the line cannot be read
 * further. */
static bool read_kind(const struct reading *r, struct line *l)
{
	const struct conf_entry *any = find(r->file, "line", NULL);
	const struct conf_entry *kind = find(r->file, "line", "kind");

	if (!kind) {
		for (size_t i = 0; !any && i < r->file->n; i++)
			if (conf_line_section(r->file->v[i].section))
				any = &r->file->v[i];
		if (any)
			conf_report_error(r->report, r->file->path, any->line,
			    "[line] does not say its kind; add 'kind = directory', 'kind = "
			    "remote', 'kind = serial' or 'kind = stick'");
		return false;
	}
	return conf_value_set(&common[0], l, r->file->path, kind, r->report) == 0;
}

/* Apply [line CHANNEL] entries. */
static void read_overrides(
    const struct reading *r, const struct profile *profile, struct line *line)
{
	for (size_t i = 0; i < r->file->n; i++) {
		const struct conf_entry *e = &r->file->v[i];
		const char *name = e->section + strlen("line ");
		int c;

		if (!conf_line_section(e->section) || strcmp(e->section, "line") == 0)
			continue;
		c = profile_channel_find(profile, name, strlen(name));
		if (c < 0) {
			const char *known[YOKE_CHANNELS_MAX];

			for (uint32_t k = 0; k < profile->channels; k++)
				known[k] = profile->channel[k].name;
			conf_value_unknown_section(
			    r->file->path, e, known, profile->channels, r->report);
		} else if (strcmp(e->key, "kind") == 0) {
			conf_report_error(r->report, r->file->path, e->line,
			    "'kind' is set in [line] alone: all channels are carried the same way");
		} else {
			set(r, &line[c], e);
		}
	}
}

void conf_line_read(const struct conf_file *file, const struct profile *profile,
    struct line line[YOKE_CHANNELS_MAX], struct conf_report *report)
{
	struct reading r = {file, report};
	struct line base;
	size_t before = report->errors;

	memset(&base, 0, sizeof(base));
	memset(line, 0, sizeof(*line) * YOKE_CHANNELS_MAX);
	if (!read_kind(&r, &base))
		return;
	defaults(&base);
	for (size_t i = 0; i < file->n; i++)
		if (strcmp(file->v[i].section, "line") == 0 && strcmp(file->v[i].key, "kind") != 0)
			set(&r, &base, &file->v[i]);
	for (uint32_t c = 0; c < profile->channels; c++)
		line[c] = base;
	read_overrides(&r, profile, line);
	if (report->errors == before)
		conf_line_check(file, profile, line, report);
}

bool conf_line_section(const char *section)
{
	return strcmp(section, "line") == 0 || strncmp(section, "line ", 5) == 0;
}

bool conf_line_same_place(const struct line *a, const struct line *b)
{
	struct text one = {0}, other = {0};
	bool same;

	conf_line_place(a, &one);
	conf_line_place(b, &other);
	same = one.n == other.n && one.n && !memcmp(one.s, other.s, one.n);
	text_free(&one);
	text_free(&other);
	return same;
}

const char *conf_line_unverified(const struct line *l)
{
	struct remote_address a;

	if (l->kind != LINE_REMOTE)
		return NULL;
	if (!l->remote.verify)
		return "verify = no";
	return !remote_address_read(l->remote.address, &a) && a.scheme == REMOTE_FTP ? "ftp://"
	                                                                             : NULL;
}

void conf_line_place(const struct line *l, struct text *out)
{
	if (l->kind == LINE_SERIAL) {
		text_puts(out, l->serial.address);
	} else if (l->kind == LINE_DIRECTORY) {
		conf_line_put_path(l->directory.root, out);
		conf_line_put_path(l->directory.folder, out);
	} else if (l->kind == LINE_REMOTE) {
		conf_line_remote_place(&l->remote, out);
	}
}
