/*
 * Drops pairs into a watched folder, one after the other, and prints how long the verdict took:
 * from the close of the second file to the verdict's file in place, median and 99th percentile in
 * milliseconds.
 *
 *     bench-drop UPPER LOWER PROGRAMS COUNT
 *
 * Every drop is the two files' bytes with another job and program number in them (the first
 * "J0000000" and "O4417" of each file) and in the file name.
 */
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

enum { PATIENCE_MS = 10000, JOB = 8, NAME = 64, PATH = 4096 };

struct half {
	const char *channel;
	char *bytes, *job, *number; /* where they stand in bytes */
	size_t n;
};

static int wrong(const char *what)
{
	fprintf(stderr, "bench-drop: %s: %s\n", what, strerror(errno));
	return -1;
}

static int64_t now_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static int load(struct half *h, const char *path)
{
	FILE *f = fopen(path, "rb");
	struct stat st;

	if (!f || fstat(fileno(f), &st))
		return wrong(path);
	h->n = (size_t)st.st_size;
	h->bytes = malloc(h->n + 1);
	if (!h->bytes || fread(h->bytes, 1, h->n, f) != h->n)
		return wrong(path);
	h->bytes[h->n] = '\0';
	fclose(f);
	h->job = strstr(h->bytes, "J0000000");
	h->number = strstr(h->bytes, "O4417");
	if (h->job && h->number)
		return 0;
	errno = EINVAL;
	return wrong(path);
}

/* The time of the close, or -1. */
static int64_t drop(struct half *h, int folder, const char *job)
{
	char name[NAME];
	size_t done = 0;
	int fd;

	memcpy(h->job, job, JOB);
	memcpy(h->number + 1, job + JOB - 4, 4);
	snprintf(name, sizeof(name), "%s-A.%s.nc", job, h->channel);
	fd = openat(folder, name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
	if (fd < 0)
		return wrong(name);
	while (done < h->n) {
		ssize_t n = write(fd, h->bytes + done, h->n - done);

		if (n < 0) {
			close(fd);
			return wrong(name);
		}
		done += (size_t)n;
	}
	return close(fd) ? wrong(name) : now_ns();
}

static int is_released(const char *verdicts, const char *name, const char *job)
{
	char path[PATH + NAME + 1], want[NAME], line[128] = "";
	FILE *f;

	snprintf(path, sizeof(path), "%s/%s", verdicts, name);
	snprintf(want, sizeof(want), "job %s revision A: released\n", job);
	f = fopen(path, "r");
	if (!f)
		return 0;
	if (!fgets(line, sizeof(line), f))
		line[0] = '\0';
	fclose(f);
	return strcmp(line, want) == 0;
}

/* Wait for the verdict's file to be moved into place; the first file's own verdict (its mate is
 * missing) comes before. */
static int64_t wait_verdict(int events, const char *verdicts, const char *job)
{
	char buffer[4096] __attribute__((aligned(8))), name[NAME];
	struct pollfd p = {.fd = events, .events = POLLIN};

	snprintf(name, sizeof(name), "%s-A.txt", job);
	while (poll(&p, 1, PATIENCE_MS) > 0) {
		ssize_t n = read(events, buffer, sizeof(buffer));
		int64_t seen = now_ns();

		for (ssize_t at = 0; at < n;) {
			const struct inotify_event *e = (const void *)(buffer + at);

			if (e->len && !strcmp(e->name, name) && is_released(verdicts, name, job))
				return seen;
			at += (ssize_t)(sizeof(*e) + e->len);
		}
	}
	errno = ETIMEDOUT;
	return wrong(name);
}

static int by_value(const void *a, const void *b)
{
	int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;

	return (x > y) - (x < y);
}

static void name_job(char job[JOB + 1], size_t n)
{
	memcpy(job, "J0000000", JOB + 1);
	for (size_t i = JOB; n > 0 && i > 1; n /= 10)
		job[--i] = (char)('0' + n % 10);
}

static int measure(struct half half[2], const char *programs, size_t count)
{
	char verdicts[PATH], job[JOB + 1];
	int folder = open(programs, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	int events = inotify_init1(IN_CLOEXEC);
	int64_t *took = calloc(count, sizeof(*took));

	snprintf(verdicts, sizeof(verdicts), "%s/.yoke", programs);
	if (folder < 0 || events < 0 || !took || (mkdir(verdicts, 0775) && errno != EEXIST) ||
	    inotify_add_watch(events, verdicts, IN_MOVED_TO) < 0)
		return wrong(programs);
	for (size_t i = 0; i < count; i++) {
		int64_t closed, seen;

		name_job(job, i + 1);
		if (drop(&half[0], folder, job) < 0)
			return -1;
		closed = drop(&half[1], folder, job);
		seen = closed < 0 ? -1 : wait_verdict(events, verdicts, job);
		if (seen < 0)
			return -1;
		took[i] = seen - closed;
	}
	qsort(took, count, sizeof(*took), by_value);
	printf("%.2f %.2f\n", (double)took[count / 2] / 1e6,
	    (double)took[count - 1 - count / 100] / 1e6);
	return 0;
}

int main(int argc, char **argv)
{
	struct half half[2] = {{.channel = "upper"}, {.channel = "lower"}};
	size_t count = argc == 5 ? strtoul(argv[4], NULL, 10) : 0;

	if (count == 0 || count > 9999) {
		fprintf(stderr, "usage: bench-drop UPPER LOWER PROGRAMS COUNT\n");
		return 2;
	}
	if (load(&half[0], argv[1]) || load(&half[1], argv[2]))
		return 1;
	return measure(half, argv[3], count) ? 1 : 0;
}
