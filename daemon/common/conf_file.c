#include "conf_file.h"

#include <errno.h>
#include <fcntl.h>
#include <ini.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { SECTION_MAX = 49 }; /* inih cuts longer names */

/*
 * inih asks for one line at a time and calls the handler before it asks for the next: so the line
 * last handed out is the line of the setting, and a line that should be a setting but brought none
 * is one that inih could not read.
 */
struct source {
	struct conf_file *file;
	struct conf_report *report;
	const char *at, *end;
	unsigned line;
	bool expect; /* the line last handed out should be a setting */
	bool full, nomem;
};

static void settle_last(struct source *s)
{
	if (s->expect)
		conf_report_error(s->report, s->file->path, s->line,
		    "neither a [section], nor a setting 'key = value', nor a comment that begins "
		    "with # or ;");
	s->expect = false;
}

/* Whether the line holds only what a person can read; reports it if not. */
static bool readable(struct source *s, const char *line, size_t n)
{
	struct text visible = {0};
	bool clean;

	text_visible(&visible, line, n);
	clean = n == 0 || (visible.n == n && !visible.failed);
	if (!clean)
		conf_report_error(s->report, s->file->path, s->line,
		    "control characters, NUL or bytes that are not UTF-8 in the line: %.80s",
		    visible.s ? visible.s : "");
	text_free(&visible);
	return clean;
}

/* Whether a line that begins with [ is a section as it should be; reports it if not. */
static bool fit_section(struct source *s, const char *line)
{
	const char *close = strchr(line, ']');
	const char *what = NULL;

	if (!close)
		what = "the section's name is not closed with ]";
	else if (close - line - 1 > SECTION_MAX)
		what = "the section's name is too long, at most 49 bytes are allowed";
	else if (!strchr(";#", close[1 + strspn(close + 1, " ")]))
		what = "text after the section's ]; put the setting on a line of its own";
	if (what)
		conf_report_error(s->report, s->file->path, s->line, "%s", what);
	return !what;
}

/*
 * inih's reader: the next line, without leading blanks (inih would take it for more of the value
 * above) and with blanks for tabs. A line that is reported here reaches inih as a blank one.
 */
static char *next_line(char *to, int room, void *ctx)
{
	struct source *s = ctx;
	const char *line = s->at;
	const char *stop;
	size_t n;

	settle_last(s);
	if (s->at == s->end || room < 2)
		return NULL;
	stop = memchr(line, '\n', (size_t)(s->end - line));
	s->at = stop ? stop + 1 : s->end;
	if (!stop)
		stop = s->end;
	s->line++;
	while (stop > line && (stop[-1] == ' ' || stop[-1] == '\t' || stop[-1] == '\r'))
		stop--;
	while (line < stop && (*line == ' ' || *line == '\t'))
		line++;
	n = (size_t)(stop - line);
	if (n >= (size_t)room) {
		conf_report_error(s->report, s->file->path, s->line,
		    "the line is %zu bytes long, at most %d are allowed", n, room - 1);
		to[0] = '\0';
		return to;
	}
	for (size_t i = 0; i < n; i++)
		to[i] = line[i] == '\t' ? ' ' : line[i];
	to[n] = '\0';
	if (!readable(s, to, n) || (to[0] == '[' && !fit_section(s, to)))
		to[0] = '\0';
	s->expect = to[0] != '\0' && !strchr("[#;", to[0]);
	return to;
}

static const struct conf_entry *find(
    const struct conf_file *f, const char *section, const char *key)
{
	for (size_t i = 0; i < f->n; i++)
		if (strcmp(f->v[i].section, section) == 0 && strcmp(f->v[i].key, key) == 0)
			return &f->v[i];
	return NULL;
}

static int append(
    struct conf_file *f, const char *section, const char *key, const char *value, unsigned line)
{
	struct conf_entry e = {strdup(section), strdup(key), strdup(value), line};

	if (e.section && e.key && e.value && f->n == f->cap) {
		size_t cap = f->cap ? f->cap * 2 : 32;
		struct conf_entry *v = reallocarray(f->v, cap, sizeof(*v));

		if (v) {
			f->v = v;
			f->cap = cap;
		}
	}
	if (!e.section || !e.key || !e.value || f->n == f->cap) {
		free(e.section);
		free(e.key);
		free(e.value);
		return -1;
	}
	f->v[f->n++] = e;
	return 0;
}

static int setting(void *ctx, const char *section, const char *key, const char *value)
{
	struct source *s = ctx;
	const char *path = s->file->path;
	const struct conf_entry *before;

	s->expect = false;
	if (key[0] == '\0') {
		conf_report_error(s->report, path, s->line, "no key before the = sign");
		return 1;
	}
	if (section[0] == '\0') {
		conf_report_error(
		    s->report, path, s->line, "'%s' stands before the first [section]", key);
		return 1;
	}
	if (s->file->n >= CONF_FILE_ENTRIES) {
		if (!s->full)
			conf_report_error(s->report, path, s->line,
			    "more than %d settings; the rest was not read", CONF_FILE_ENTRIES);
		s->full = true;
		return 1;
	}
	before = find(s->file, section, key);
	if (before) {
		conf_report_error(s->report, path, s->line,
		    "'%s' stands twice in [%s], first in line %u; keep one of them", key, section,
		    before->line);
		return 1;
	}
	if (append(s->file, section, key, value, s->line) < 0)
		s->nomem = true;
	return 1;
}

int conf_file_parse(const char *path, const char *bytes, size_t n, struct conf_file *out,
    struct conf_report *report)
{
	struct source s = {.file = out, .report = report, .at = bytes, .end = bytes + n};
	size_t before = report->errors;

	*out = (struct conf_file){.path = strdup(path)};
	if (!out->path) {
		conf_report_error(report, path, 0, "out of memory");
		return -1;
	}
	if (n >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0)
		s.at += 3;
	if (ini_parse_stream(next_line, &s, setting, &s) == -2 || s.nomem)
		conf_report_error(report, path, 0, "out of memory");
	return report->errors == before ? 0 : -1;
}

/* The whole file, at most CONF_FILE_MAX bytes. NULL with a message. */
static char *slurp(const char *path, size_t *n, struct conf_report *report)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
	struct stat st;
	char *bytes = NULL;
	ssize_t got;

	*n = 0;
	if (fd < 0) {
		conf_report_error(report, path, 0, "cannot be opened: %s", strerror(errno));
		return NULL;
	}
	if (fstat(fd, &st) < 0 || !S_ISREG(st.st_mode)) {
		conf_report_error(report, path, 0, "is not a file");
		goto fail;
	}
	if (st.st_size > CONF_FILE_MAX) {
		conf_report_error(report, path, 0, "is larger than %d bytes", CONF_FILE_MAX);
		goto fail;
	}
	bytes = malloc(CONF_FILE_MAX + 1);
	if (!bytes) {
		conf_report_error(report, path, 0, "out of memory");
		goto fail;
	}
	do {
		got = read(fd, bytes + *n, CONF_FILE_MAX + 1 - *n);
		if (got > 0)
			*n += (size_t)got;
	} while (got > 0 || (got < 0 && errno == EINTR));
	if (got < 0 || *n > CONF_FILE_MAX) {
		conf_report_error(report, path, 0, "cannot be read: %s",
		    got < 0 ? strerror(errno) : "it grew while it was read");
		goto fail;
	}
	close(fd);
	return bytes;
fail:
	free(bytes);
	close(fd);
	return NULL;
}

int conf_file_read(const char *path, struct conf_file *out, struct conf_report *report)
{
	size_t n;
	char *bytes = slurp(path, &n, report);
	int result;

	*out = (struct conf_file){0};
	if (!bytes)
		return -1;
	result = conf_file_parse(path, bytes, n, out, report);
	free(bytes);
	return result;
}

void conf_file_free(struct conf_file *f)
{
	for (size_t i = 0; i < f->n; i++) {
		free(f->v[i].section);
		free(f->v[i].key);
		free(f->v[i].value);
	}
	free(f->v);
	free(f->path);
	*f = (struct conf_file){0};
}
