#include "conf_line_check.h"

#include <string.h>
#include <strings.h>
#include "channel_word.h"
#include "conf_line.h"
#include "conf_line_remote.h"
#include "fat_name.h"
#include "port_address.h"

unsigned conf_line_where(const struct conf_line_of *c, const char *key)
{
	unsigned line = 0;

	for (size_t i = 0; i < c->file->n; i++) {
		const struct conf_entry *e = &c->file->v[i];

		if (strcmp(e->key, key) != 0 || strncmp(e->section, "line", 4) != 0)
			continue;
		if (e->section[4] == ' ' && strcasecmp(e->section + 5, c->channel) == 0)
			return e->line;
		if (e->section[4] == '\0')
			line = e->line;
	}
	return line;
}

static bool digits(const char *s, unsigned long *value)
{
	*value = 0;
	if (!*s || strlen(s) > 5)
		return false;
	for (; *s; s++) {
		if (*s < '0' || *s > '9')
			return false;
		*value = *value * 10 + (unsigned long)(*s - '0');
	}
	return true;
}

static void check_address(const struct conf_line_of *c, const char *address)
{
	const char *host = NULL, *colon;
	struct text advice = {0};
	struct port_address local;
	unsigned long port;

	if (address[0] == '\0') {
		conf_report_error(c->report, c->file->path, conf_line_where(c, "address"),
		    "channel %s: a serial line needs an address: tcp://HOST:PORT, "
		    "rfc2217://HOST:PORT or a local port as 'yoke ports' shows it",
		    c->channel);
		return;
	}
	if (port_address_read(address, &local))
		return;
	if (strncmp(address, "tcp://", 6) == 0)
		host = address + 6;
	else if (strncmp(address, "rfc2217://", 10) == 0)
		host = address + 10;
	if (host) {
		colon = strrchr(host, ':');
		if (colon && colon > host && digits(colon + 1, &port) && port >= 1 &&
		    port <= 65535 && !strpbrk(host, " /"))
			return;
		text_puts(&advice, "HOST:PORT with a port from 1 to 65535 is needed");
	} else {
		port_address_advise(address, &advice);
	}
	conf_report_error(c->report, c->file->path, conf_line_where(c, "address"), "address = '%s': %s",
	    address, advice.s ? advice.s : "not understood");
	text_free(&advice);
}

/* What cannot be together on a local port. Over raw TCP the device server has the lines. */
static void check_lines(const struct conf_line_of *c, const struct line_serial *s)
{
	if (s->watch != LINE_WATCH_NONE && strncmp(s->address, "tcp://", 6) == 0)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "watch"),
		    "channel %s: watch needs a local port, or a device server with rfc2217://; a "
		    "raw "
		    "TCP connection does not show DSR and DCD",
		    c->channel);
	if (s->watch == LINE_WATCH_DSR && s->flow == LINE_FLOW_DTRDSR)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "watch"),
		    "channel %s: with flow = dtrdsr the control brakes with DSR, so it cannot tell "
		    "a lost control; watch dcd, or none",
		    c->channel);
}

/* No part of the path may be "." or "..", so that nothing is written outside the root. */
static bool climbs(const char *path)
{
	while (*path) {
		size_t n = strcspn(path, "/");

		if ((n == 1 && path[0] == '.') || (n == 2 && path[0] == '.' && path[1] == '.'))
			return true;
		path += n;
		path += *path == '/';
	}
	return false;
}

void conf_line_check_root(const struct conf_line_of *c, const char *root)
{
	unsigned where = conf_line_where(c, "root");

	if (root[0] != '/')
		conf_report_error(c->report, c->file->path, where,
		    "root = '%s': an absolute path is needed, beginning with /", root);
	else if (climbs(root))
		conf_report_error(c->report, c->file->path, where,
		    "root = '%s': . and .. are not allowed in it", root);
}

void conf_line_check_folder(const struct conf_line_of *c, const char *folder)
{
	if (folder[0] == '/' || climbs(folder))
		conf_report_error(c->report, c->file->path, conf_line_where(c, "folder"),
		    "folder = '%s': a path below root is needed, without / in front and without . "
		    "and ..",
		    folder);
}

void conf_line_check_marker(const struct conf_line_of *c, const char *marker)
{
	if (strchr(marker, '/') || strcmp(marker, ".") == 0 || strcmp(marker, "..") == 0)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "marker"),
		    "marker = '%s': the name of a file in root is needed, without /", marker);
}

static void check_directory(const struct conf_line_of *c, const struct line_directory *d)
{
	if (d->root[0] == '\0')
		conf_report_error(c->report, c->file->path, conf_line_where(c, "root"),
		    "channel %s: a directory line needs root, the absolute path of the share's "
		    "mount point",
		    c->channel);
	else
		conf_line_check_root(c, d->root);
	conf_line_check_folder(c, d->folder);
	conf_line_check_marker(c, d->marker);
	if (d->root[0] == '/' && d->marker[0] == '\0')
		conf_report_warning(c->report, c->file->path, conf_line_where(c, "root"),
		    "channel %s: no marker; without a marker file an unmounted share looks like an "
		    "empty one",
		    c->channel);
}

static void check_name(const struct conf_line_of *c, const char *name)
{
	static const char *const fields[] = {"{number}", "{job}", "{rev}", "{channel}"};
	bool tells = strstr(name, "{number}") || strstr(name, "{job}");

	for (const char *s = strchr(name, '{'); s; s = strchr(s + 1, '{')) {
		size_t i = 0;

		while (i < 4 && strncmp(s, fields[i], strlen(fields[i])) != 0)
			i++;
		if (i == 4)
			tells = false;
	}
	if (!tells || strchr(name, '/') || name[0] == '.')
		conf_report_error(c->report, c->file->path, conf_line_where(c, "name"),
		    "name = '%s': a file name with {number} or {job}, and {rev} and {channel} if "
		    "wished, is "
		    "allowed; no /, no . in front, no other { }",
		    name);
}

/* The name with each {value} as one character: what is literal in it. */
static void literal(const char *pattern, char out[YOKE_PATH_MAX + 1])
{
	while (*pattern) {
		const char *close = *pattern == '{' ? strchr(pattern, '}') : NULL;

		*out++ = close ? 'A' : *pattern;
		pattern = close ? close + 1 : pattern + 1;
	}
	*out = '\0';
}

/* Names as FAT takes them, in so far as the pattern alone decides that. */
static void check_short(const struct conf_line_of *c, const struct line *l)
{
	char name[YOKE_PATH_MAX + 1];
	const char *fault;

	literal(l->name, name);
	if (l->short_names)
		fat_name_upper(name);
	fault = fat_name_fault(name, l->short_names);
	if (fault)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "name"),
		    "name = '%s': such a name %s", l->name, fault);
}

/* A stick is formatted with FAT, whose rules hold for the names. */
static void check_stick(const struct conf_line_of *c, const struct line *l)
{
	const struct line_stick *s = &l->stick;
	const char *fault;

	check_short(c, l);
	fault = climbs(s->folder) ? "holds . or .." : fat_name_path_fault(s->folder, l->short_names);
	if (fault)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "folder"),
		    "folder = '%s': it %s; a path on the stick is needed, without / in front",
		    s->folder, fault);
}

/* Two patterns that give one name; where names are made upper case they do so in any case. */
static bool same_name(const struct line *a, const struct line *b)
{
	bool upper = (a->upper_case || a->short_names) && (b->upper_case || b->short_names);

	return upper ? fat_name_same(a->name, b->name) : strcmp(a->name, b->name) == 0;
}

static bool same_file(const struct line *a, const struct line *b)
{
	if (a->kind == LINE_STICK && b->kind == LINE_STICK)
		return fat_name_same(a->name, b->name) &&
		       fat_name_same(a->stick.folder, b->stick.folder) &&
		       !strstr(a->name, "{channel}");
	return line_is_share(a->kind) && same_name(a, b) && !strstr(a->name, "{channel}") &&
	       conf_line_same_place(a, b);
}

/* EIA needs bit 8, and has an end of block of its own. */
static void check_code(const struct conf_line_of *c, const struct line_serial *s)
{
	if (s->code != LINE_CODE_EIA)
		return;
	if (line_seven(s->framing))
		conf_report_error(c->report, c->file->path, conf_line_where(c, "code"),
		    "channel %s: code = eia needs 8 bits; set framing = 8n2, or as the control's "
		    "manual says",
		    c->channel);
	if (s->eob != LINE_EOB_LF)
		conf_report_warning(c->report, c->file->path, conf_line_where(c, "eob"),
		    "channel %s: EIA has one end of block (80 hex): eob is not used", c->channel);
}

/* A control that executes while it reads must brake, and must say when it begins: whatever of a
 * program is lost, it executes the rest. */
static void check_drip(const struct conf_line_of *c, const struct line_serial *s)
{
	bool by_line = s->flow != LINE_FLOW_XON && s->flow != LINE_FLOW_NONE;

	if (s->drip == LINE_DRIP_NO)
		return;
	if (s->flow == LINE_FLOW_NONE)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "drip"),
		    "channel %s: drip needs a control that brakes: with flow = none what it has no "
		    "room for is lost, and it executes the rest",
		    c->channel);
	else if (!s->wait_dc1 && !by_line)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "drip"),
		    "channel %s: drip needs wait_dc1 = yes, or a ready line (flow = rtscts, dtrdsr "
		    "or both): a control that is set to read when the program is under way already "
		    "would begin in its middle",
		    c->channel);
}

static void check_word(const struct conf_line_of *c, const struct line_serial *s)
{
	const char *fault = channel_word_fault(s);

	if (fault)
		conf_report_error(c->report, c->file->path, conf_line_where(c, "channel_word"),
		    "channel_word = '%s': it %s", s->channel_word, fault);
}

/* Channels on one line are told apart by their words, or by the operator: not one of them by its word
 * and the other by him. */
static void check_words(const struct conf_line_of *c, const struct line *a, const char *other,
    const struct line *b)
{
	const char *mine = a->serial.channel_word, *its = b->serial.channel_word;
	struct conf_line_of there = {c->file, other, c->report};

	if (a->kind != LINE_SERIAL || b->kind != LINE_SERIAL ||
	    strcmp(a->serial.address, b->serial.address) != 0 || (!*mine && !*its))
		return;
	if (!strcmp(mine, its))
		conf_report_error(c->report, c->file->path, conf_line_where(c, "channel_word"),
		    "channels %s and %s are on one line and have the same channel_word '%s': nobody "
		    "could tell them apart",
		    other, c->channel, mine);
	else if (!*mine || !*its)
		conf_report_error(c->report, c->file->path,
		    conf_line_where(*mine ? c : &there, "channel_word"),
		    "channels %s and %s are on one line, and channel %s has no channel_word: give it "
		    "one in [line %s], or none to both",
		    other, c->channel, *mine ? other : c->channel, *mine ? other : c->channel);
}

static void check_serial(const struct conf_line_of *c, const struct line_serial *s)
{
	check_address(c, s->address);
	check_lines(c, s);
	check_code(c, s);
	check_drip(c, s);
	check_word(c, s);
}

static void check_one(const struct conf_line_of *c, const struct line *l)
{
	check_name(c, l->name);
	if (l->short_names && line_is_share(l->kind))
		check_short(c, l);
	if (l->kind == LINE_SERIAL)
		check_serial(c, &l->serial);
	else if (l->kind == LINE_STICK)
		check_stick(c, l);
	else if (l->kind == LINE_REMOTE)
		conf_line_remote_check(c, &l->remote);
	else
		check_directory(c, &l->directory);
}

void conf_line_check(const struct conf_file *file, const struct profile *profile,
    const struct line *line, struct conf_report *report)
{
	for (uint32_t i = 0; i < profile->channels && line[i].kind != LINE_NONE; i++) {
		struct conf_line_of c = {file, profile->channel[i].name, report};

		/* A setting that holds for all channels is told once. */
		if (i == 0 || memcmp(&line[i], &line[0], sizeof(*line)) != 0)
			check_one(&c, &line[i]);
		for (uint32_t k = 0; k < i; k++)
			check_words(&c, &line[i], profile->channel[k].name, &line[k]);
		for (uint32_t k = 0; k < i; k++)
			if (same_file(&line[k], &line[i]))
				conf_report_error(report, file->path, conf_line_where(&c, "name"),
				    "channels %s and %s would be written to the same file; put "
				    "{channel} into "
				    "name, or give each its own folder in [line CHANNEL]",
				    profile->channel[k].name, profile->channel[i].name);
	}
}
