#include "stick_note.h"

#include <errno.h>
#include <fcntl.h>
#include <pwd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "fat_name.h"
#include "out.h"
#include "sha256.h"
#include "stick_write.h"
#include "yoke/stick.h"

enum { SUMS_MOST = 1 << 20, COLUMNS = 76 };
#define ASIDE "YOKE9.NEW"

/* Prose in lines that fit a small screen, each ended with CR LF: every editor reads that. */
static void put_prose(struct text *t, const char *s)
{
	size_t column = 0;

	while (*s) {
		size_t n = strcspn(s, " ");

		if (column && column + 1 + n > COLUMNS) {
			text_puts(t, "\r\n");
			column = 0;
		} else if (column) {
			text_putc(t, ' ');
			column++;
		}
		text_add(t, s, n);
		column += n;
		s += n;
		while (*s == ' ')
			s++;
	}
	text_puts(t, "\r\n");
}

static void put_head(struct text *t, const struct stick_job *j)
{
	text_puts(t, "Job ");
	ask_put_string(t, j->list, "job");
	text_puts(t, ", revision ");
	ask_put_string(t, j->list, "revision");
	text_puts(t, ", for machine ");
	ask_put_string(t, j->list, "machine");
	text_puts(t, "\r\n");
}

/* The list as it is now; nothing when it cannot be read. */
static void read_sums(const struct stick *s, const char *name, struct text *out)
{
	int fd = openat(s->fd, name, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
	char piece[4096];
	ssize_t n;

	while (fd >= 0 && out->n < SUMS_MOST && (n = read(fd, piece, sizeof(piece))) > 0)
		text_add(out, piece, (size_t)n);
	if (fd >= 0)
		close(fd);
}

int stick_note_begin(struct stick_job *j)
{
	struct text t = {0};
	char *there;
	int found = stick_find(j->stick->fd, j->stick->path, STICK_SUMS, &there);
	int status = found < 0 ? EXIT_SERVICE : 0;

	text_puts(&t, "NOT COMPLETE: do not use this stick.\r\n\r\n");
	put_head(&t, j);
	put_prose(&t, "The programs are just being put in place. When you read this at the machine, "
	              "that was cut short: bring the stick back and export once more.");
	/* The note first: a stick without a list never says that it is complete. */
	if (!status)
		status = stick_put(j->stick, STICK_NOTE, ASIDE, &t);
	if (!status && found) {
		read_sums(j->stick, there, &j->earlier);
		if (unlinkat(j->stick->fd, there, 0)) {
			out_error("%s: %s cannot be removed: %s", j->stick->path, there,
			    strerror(errno));
			status = EXIT_SERVICE;
		}
	}
	text_free(&t);
	free(there);
	return status;
}

static void put_who(struct text *t)
{
	const struct passwd *p = getpwuid(getuid());

	if (p)
		text_visible(t, p->pw_name, strlen(p->pw_name));
	else
		text_printf(t, "user %u", (unsigned)getuid());
}

static int write_note(const struct stick_job *j, const char *time)
{
	struct text t = {0};

	put_head(&t, j);
	text_printf(&t, "Written %.10s %.5s UTC by ", time, strlen(time) > 11 ? time + 11 : "");
	put_who(&t);
	text_puts(&t, "\r\n\r\n");
	for (uint32_t i = 0; i < j->files; i++) {
		const struct stick_file *f = &j->file[i];

		text_printf(&t, "%s: %s, %llu bytes\r\n  %s\r\n", f->channel, f->place,
		    (unsigned long long)f->size, f->sha256);
	}
	text_puts(&t, "\r\n");
	put_prose(&t, "Load both, each into its channel. " STICK_SUMS
	              " lists the checksums (SHA-256): sha256sum -c " STICK_SUMS);
	text_puts(&t, "\r\n");
	put_prose(&t, ask_string(j->list, "caution"));
	return stick_put(j->stick, STICK_NOTE, ASIDE, &t);
}

/* "SUM *PATH": a line of the list. */
static bool is_line(const char *line, size_t n, const char **path)
{
	char hex[YOKE_SHA_HEX + 1];
	uint8_t sum[YOKE_SHA_SIZE];

	if (n < YOKE_SHA_HEX + 3 || line[YOKE_SHA_HEX] != ' ' || line[YOKE_SHA_HEX + 1] != '*')
		return false;
	memcpy(hex, line, YOKE_SHA_HEX);
	hex[YOKE_SHA_HEX] = '\0';
	*path = line + YOKE_SHA_HEX + 2;
	return sha256_parse(hex, sum) && **path != '/' && **path != '\\';
}

/* An earlier line stays, when its program is there still and is none of ours. */
static bool stays(const struct stick_job *j, const char *path, size_t n)
{
	char name[512];
	struct stat st;

	if (n >= sizeof(name))
		return false;
	memcpy(name, path, n);
	name[n] = '\0';
	for (uint32_t i = 0; i < j->files; i++)
		if (fat_name_same(j->file[i].place, name))
			return false;
	return !fat_name_path_fault(name, false) && !fstatat(j->stick->fd, name, &st, 0) &&
	       S_ISREG(st.st_mode);
}

/* Other exports that are on the same stick keep their lines. */
static void keep_earlier(const struct stick_job *j, struct text *t)
{
	const char *s = j->earlier.s ? j->earlier.s : "", *end = s + j->earlier.n;

	while (s < end) {
		const char *stop = memchr(s, '\n', (size_t)(end - s)), *path;
		size_t n = (size_t)((stop ? stop : end) - s);

		while (n && s[n - 1] == '\r')
			n--;
		if (is_line(s, n, &path) && stays(j, path, n - (size_t)(path - s))) {
			text_add(t, s, n);
			text_putc(t, '\n');
		}
		s = stop ? stop + 1 : end;
	}
}

int stick_note_end(const struct stick_job *j, const char *time)
{
	struct text t = {0};
	int status;

	keep_earlier(j, &t);
	for (uint32_t i = 0; i < j->files; i++)
		text_printf(&t, "%s *%s\n", j->file[i].sha256, j->file[i].place);
	status = stick_put(j->stick, STICK_SUMS, ASIDE, &t);
	return status ? status : write_note(j, time);
}

int stick_note_back(const struct stick_job *j)
{
	struct text t = {0}, earlier = {0};
	int status = 0;

	text_add(&earlier, j->earlier.s ? j->earlier.s : "", j->earlier.n);
	if (earlier.n)
		status = stick_put(j->stick, STICK_SUMS, ASIDE, &earlier);
	text_free(&earlier);
	put_prose(&t, "The programs on this stick are those from before. What was to be put in their "
	              "place could not be:");
	put_head(&t, j);
	return status ? status : stick_put(j->stick, STICK_NOTE, ASIDE, &t);
}
