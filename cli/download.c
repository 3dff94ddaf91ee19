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

struct download {
	FILE *to;
	struct sha256 *sum;
};

static int take(void *ctx, const char *bytes, size_t n)
{
	struct download *d = ctx;

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
	else
		status = EXIT_DONE;
out:
	http_answer_free(&a);
	free(path);
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

	if (!sha256_parse(sha256, sum)) {
		out_error(
		    "'%s' names no program: the 64 hexadecimal digits of its SHA-256 do", sha256);
		status = EXIT_USE;
	} else {
		status =
		    path ? receive_file(&d, sha256, path) : receive(&d, sha256, "standard output");
	}
	sha256_free(d.sum);
	return status;
}
