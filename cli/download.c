#include "download.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "out.h"
#include "sha256.h"

enum { SHOWN_LINE_MAX = 4096 };

struct download {
	FILE *to;
	struct sha256 *sum;
	bool shown; /* to a person's terminal, which no program may drive */
	struct text line;
};

/* Write what stands in the line: without its CR when a line end follows, the rest visible. */
static int show_line(struct download *d, bool ends)
{
	struct text visible = {0};
	size_t n = d->line.n;
	int result;

	if (ends && n && d->line.s[n - 1] == '\r')
		n--;
	if (n)
		text_visible(&visible, d->line.s, n);
	if (ends)
		text_putc(&visible, '\n');
	result = d->line.failed || visible.failed ||
	                 fwrite(visible.s ? visible.s : "", 1, visible.n, d->to) != visible.n
	             ? -1
	             : 0;
	text_free(&visible);
	text_free(&d->line);
	return result;
}

static int show(struct download *d, const char *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		bool ends = bytes[i] == '\n';

		if (!ends)
			text_putc(&d->line, bytes[i]);
		if ((ends || d->line.n == SHOWN_LINE_MAX) && show_line(d, ends))
			return -1;
	}
	return 0;
}

static int take(void *ctx, const char *bytes, size_t n)
{
	struct download *d = ctx;

	if (d->shown)
		return show(d, bytes, n) || sha256_add(d->sum, bytes, n) ? -1 : 0;
	return fwrite(bytes, 1, n, d->to) != n || sha256_add(d->sum, bytes, n) ? -1 : 0;
}

/* Everything into d->to. EXIT_DONE, or said. */
static int receive(struct download *d, const char *sha256, const char *name)
{
	uint8_t wanted[YOKE_SHA_SIZE], came[YOKE_SHA_SIZE];
	char *path = ask_path("/v1/programs/%s", sha256);
	struct http_answer a = {0};
	int status = EXIT_SERVICE, result;

	if (!path || !d->sum) {
		out_error("out of memory");
		goto out;
	}
	errno = 0;
	result = http_download(path, take, d, &a);
	if (result == 1)
		out_error("%s cannot be written: %s", name, strerror(errno));
	if (result)
		goto out;
	if (a.status < 200 || a.status > 299) {
		status = ask_refusal(a.status, a.json);
		goto out;
	}
	if (!sha256_parse(sha256, wanted) || sha256_end(d->sum, came) ||
	    memcmp(wanted, came, sizeof(came)))
		out_error("what came from the service is not the program %s", sha256);
	else if (!d->line.n || !show_line(d, false))
		status = EXIT_DONE;
out:
	http_answer_free(&a);
	free(path);
	return status;
}

int download_into(const char *sha256, int fd, const char *name)
{
	struct download d = {.sum = sha256_new()};
	int copy = dup(fd), status = EXIT_SERVICE;

	d.to = copy < 0 ? NULL : fdopen(copy, "w");
	if (!d.to) {
		out_error("%s cannot be written: %s", name, strerror(errno));
		if (copy >= 0)
			close(copy);
	} else {
		status = receive(&d, sha256, name);
		if (fclose(d.to) && status == EXIT_DONE) {
			out_error("%s cannot be written: %s", name, strerror(errno));
			status = EXIT_SERVICE;
		}
	}
	sha256_free(d.sum);
	return status;
}

static int receive_file(struct download *d, const char *sha256, const char *path)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
	int status;

	d->to = fd < 0 ? NULL : fdopen(fd, "w");
	if (!d->to) {
		out_error("%s cannot be made: %s%s", path, strerror(errno),
		    errno == EEXIST ? ": nothing is overwritten; name another" : "");
		if (fd >= 0)
			close(fd);
		return EXIT_USE;
	}
	status = receive(d, sha256, path);
	if (status == EXIT_DONE && (fflush(d->to) || fsync(fd))) {
		out_error("%s cannot be written: %s", path, strerror(errno));
		status = EXIT_SERVICE;
	}
	if (fclose(d->to) && status == EXIT_DONE) {
		out_error("%s cannot be written: %s", path, strerror(errno));
		status = EXIT_SERVICE;
	}
	if (status != EXIT_DONE)
		unlink(path);
	return status;
}

int download_program(const char *sha256, const char *path)
{
	struct download d = {.to = stdout, .sum = sha256_new()};
	uint8_t sum[YOKE_SHA_SIZE];
	int status;

	d.shown = !path && isatty(STDOUT_FILENO);
	if (!sha256_parse(sha256, sum)) {
		out_error(
		    "'%s' names no program: the 64 hexadecimal digits of its SHA-256 do", sha256);
		status = EXIT_USE;
	} else {
		status =
		    path ? receive_file(&d, sha256, path) : receive(&d, sha256, "standard output");
	}
	text_free(&d.line);
	sha256_free(d.sum);
	return status;
}
