#include "keep.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>
#include "curl_lib.h"
#include "save.h"

enum { LINE_MAX_BYTES = 8192, ANSWER_MS = 30000, NOTICE_AUTHPRIV = 10 * 8 + 5 };

static int failed(const char *place, const char *what)
{
	fprintf(stderr, "%s: %s\n", place, what);
	return 1;
}

/* Everything on the standard input. NULL: it is too much, or cannot be read. */
static char *take(size_t *n)
{
	char *bytes = malloc(KEEP_MAX + 1);
	ssize_t got = 1;

	*n = 0;
	while (bytes && got && *n <= KEEP_MAX) {
		got = read(0, bytes + *n, KEEP_MAX + 1 - *n);
		if (got < 0 && errno != EINTR)
			break;
		*n += got > 0 ? (size_t)got : 0;
	}
	if (bytes && got == 0 && *n <= KEEP_MAX)
		return bytes;
	free(bytes);
	return NULL;
}

/* --- A file --- */

/* A file that ends in the middle of a line was cut off in a write: what follows begins a new one. */
static int end_line(int fd)
{
	off_t size = lseek(fd, 0, SEEK_END);
	char last = '\n';

	if (size > 0 && pread(fd, &last, 1, size - 1) != 1)
		return -errno;
	return last == '\n' ? 0 : save_all(fd, "\n\n", 2);
}

static int flush_folder(const char *path)
{
	char folder[4096];
	const char *slash = strrchr(path, '/');
	int fd, rc = 0;

	snprintf(folder, sizeof(folder), "%.*s", slash == path ? 1 : (int)(slash - path), path);
	fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0 || (fsync(fd) && errno != EINVAL && errno != ENOTSUP))
		rc = -errno;
	if (fd >= 0)
		close(fd);
	return rc;
}

static int append(int fd, const char *bytes, size_t n)
{
	struct stat st;
	int rc;

	if (fstat(fd, &st))
		return -errno;
	if (!S_ISREG(st.st_mode))
		return -EINVAL;
	rc = end_line(fd);
	if (rc == 0)
		rc = save_all(fd, bytes, n);
	return rc == 0 && fsync(fd) ? -errno : rc;
}

static int to_file(const char *place, const char *path, const char *bytes, size_t n, int make)
{
	int fd = open(path,
	    O_RDWR | O_APPEND | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC | (make ? O_CREAT : 0),
	    0644);
	int rc;

	if (fd < 0 && errno == ENOENT && !make)
		return failed(place, "the file is gone: mount what it lies on, or, when it was moved "
		                     "away on purpose, make an empty one");
	rc = fd < 0 ? -errno : append(fd, bytes, n);
	if (fd >= 0 && close(fd) && !rc)
		rc = -errno;
	if (!rc && make)
		rc = flush_folder(path);
	return rc ? failed(place, strerror(-rc)) : 0;
}

/* --- The system's log --- */

static int connect_log(void)
{
	struct sockaddr_un a = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);

	strcpy(a.sun_path, "/dev/log");
	if (fd >= 0 && connect(fd, (struct sockaddr *)&a, sizeof(a))) {
		int error = errno;

		close(fd);
		errno = error;
		return -1;
	}
	return fd;
}

/* One note as one line; in the form of RFC 3164 4.1, as syslog(3) sends it, which tells no failure. */
static int log_note(int fd, const char *note, size_t n)
{
	char line[LINE_MAX_BYTES], when[32];
	time_t now = time(NULL);
	struct tm tm;
	int at;

	localtime_r(&now, &tm);
	strftime(when, sizeof(when), "%b %e %H:%M:%S", &tm);
	at = snprintf(line, sizeof(line), "<%d>%s yoke-carrier[%d]: yoke checkpoint |", NOTICE_AUTHPRIV, when,
	    (int)getpid());
	if ((size_t)at + n > sizeof(line))
		return -EMSGSIZE;
	for (size_t i = 0; i < n; i++)
		line[at++] = note[i] == '\n' ? '|' : note[i];
	return send(fd, line, (size_t)at, 0) == at ? 0 : -errno;
}

/* A note has one empty line in it, behind its text, and one behind it. */
static size_t note_length(const char *s)
{
	const char *end = strstr(s, "\n\n");

	end = end ? strstr(end + 2, "\n\n") : NULL;
	return end ? (size_t)(end - s) + 1 : strlen(s);
}

static int to_log(const char *place, const char *bytes)
{
	int fd = connect_log(), rc = fd < 0 ? -errno : 0;

	while (!rc && *bytes) {
		size_t n = note_length(bytes);

		rc = log_note(fd, bytes, n);
		bytes += n;
		bytes += strspn(bytes, "\n");
	}
	if (fd >= 0)
		close(fd);
	return rc ? failed(place, strerror(-rc)) : 0;
}

/* --- A server --- */

static size_t ignore(char *bytes, size_t one, size_t n, void *ctx)
{
	return one * n;
}

static int to_server(const char *place, const char *bytes, size_t n)
{
	const struct curl_lib *lib = curl_lib();
	CURL *c = lib ? lib->init() : NULL;
	struct curl_slist *headers =
	    c ? lib->slist_append(NULL, "Content-Type: text/plain; charset=utf-8") : NULL;
	char why[100];
	long status = 0;
	CURLcode rc;

	if (!headers) {
		if (c)
			lib->cleanup(c);
		return failed(place, "libcurl is not there: install the package libcurl4");
	}
	lib->setopt(c, CURLOPT_URL, place);
	lib->setopt(c, CURLOPT_PROTOCOLS_STR, "http,https");
	lib->setopt(c, CURLOPT_NOSIGNAL, 1L);
	lib->setopt(c, CURLOPT_TIMEOUT_MS, (long)ANSWER_MS);
	lib->setopt(c, CURLOPT_HTTPHEADER, headers);
	lib->setopt(c, CURLOPT_POST, 1L);
	lib->setopt(c, CURLOPT_POSTFIELDS, bytes);
	lib->setopt(c, CURLOPT_POSTFIELDSIZE, (long)n);
	lib->setopt(c, CURLOPT_WRITEFUNCTION, ignore);
	rc = lib->perform(c);
	lib->getinfo(c, CURLINFO_RESPONSE_CODE, &status);
	lib->cleanup(c);
	lib->slist_free(headers);
	if (rc != CURLE_OK)
		return failed(place, lib->strerror(rc));
	if (status >= 200 && status < 300)
		return 0;
	snprintf(why, sizeof(why), "the server answers with HTTP status %ld", status);
	return failed(place, why);
}

int keep_run(int argc, char **argv)
{
	const char *place = argc > 2 ? argv[2] : "";
	int make = argc == 4 && !strcmp(argv[3], "--new"), status = 2;
	size_t n;
	char *bytes;

	if (argc < 3 || argc > 4 || (argc == 4 && !make)) {
		fprintf(stderr, "usage: yoke-carrier checkpoints PLACE [--new] <NOTES\n");
		return 2;
	}
	bytes = take(&n);
	if (!bytes) {
		fprintf(stderr, "%s: what is to be kept is more than %d bytes, or cannot be read\n", place,
		    KEEP_MAX);
		return 2;
	}
	bytes[n] = '\0';
	if (!strncmp(place, "file:/", 6))
		status = to_file(place, place + 5, bytes, n, make);
	else if (!strcmp(place, "syslog:"))
		status = to_log(place, bytes);
	else if (!strncmp(place, "http://", 7) || !strncmp(place, "https://", 8))
		status = to_server(place, bytes, n);
	else
		fprintf(stderr, "%s: file:/PATH, syslog:, http://... or https://... is needed\n", place);
	free(bytes);
	return status;
}
