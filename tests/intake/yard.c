#include "yard.h"

#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void arrived(void *ctx, const struct intake_file *file)
{
	struct yard *y = ctx;
	static unsigned char buf[65536];
	struct yard_arrival *a;
	ssize_t n;

	if (y->during)
		y->during(y, file);
	if (y->arrival_count == y->arrival_room) {
		y->arrival_room = y->arrival_room ? 2 * y->arrival_room : 64;
		y->arrivals = realloc(y->arrivals, y->arrival_room * sizeof(*a));
		assert_non_null(y->arrivals);
	}
	a = &y->arrivals[y->arrival_count++];
	memset(a, 0, sizeof(*a));
	snprintf(a->path, sizeof(a->path), "%s", file->path);
	a->state = file->state;
	a->uid = file->uid;
	a->complete = file->complete;
	a->reason = file->reason;
	assert_int_equal(fcntl(file->fd, F_GETFL) & O_ACCMODE, O_RDONLY);
	assert_true(fcntl(file->fd, F_GETFL) & O_NONBLOCK);
	assert_true(fcntl(file->fd, F_GETFD) & FD_CLOEXEC);
	while ((n = read(file->fd, buf, sizeof(buf))) > 0) {
		a->bytes_read += (uint64_t)n;
		for (ssize_t i = 0; i < n; i++)
			a->sum = a->sum * 31 + buf[i];
	}
	close(file->fd);
}

static void refused(void *ctx, const char *path, enum intake_refusal why, const char *text)
{
	struct yard *y = ctx;

	assert_true(y->refusal_count < 64);
	struct yard_refusal *r = &y->refusals[y->refusal_count++];
	snprintf(r->path, sizeof(r->path), "%s", path);
	snprintf(r->text, sizeof(r->text), "%s", text);
	r->why = why;
	for (const char *p = text; *p; p++)
		assert_true((unsigned char)*p >= ' ' && *p != 0x7F);
}

static void overflow(void *ctx)
{
	((struct yard *)ctx)->overflows++;
}

static void offline(void *ctx, bool is_offline, const char *text)
{
	struct yard *y = ctx;

	*(is_offline ? &y->offlines : &y->onlines) += 1;
	snprintf(y->text, sizeof(y->text), "%s", text);
}

static void notice(void *ctx, const char *path, const char *text)
{
	struct yard *y = ctx;

	(void)path;
	y->notices++;
	snprintf(y->text, sizeof(y->text), "%s", text);
}

static void scanned(void *ctx)
{
	((struct yard *)ctx)->scans++;
}

struct yard *yard_open(void)
{
	struct yard *y = calloc(1, sizeof(*y));

	assert_non_null(y);
	snprintf(y->base, sizeof(y->base), "%s/yoke-yard-XXXXXX",
	    getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp");
	assert_non_null(mkdtemp(y->base));
	snprintf(y->root, sizeof(y->root), "%s/programs", y->base);
	assert_int_equal(mkdir(y->root, 0755), 0);
	assert_int_equal(uv_loop_init(&y->loop), 0);
	intake_settings_default(&y->settings);
	y->settings.root = y->root;
	y->settings.poll_ms = 20;
	y->settings.settle_ms = 60;
	y->settings.incomplete_ms = 1500;
	return y;
}

void yard_make(struct yard *y)
{
	static const struct intake_calls calls = {
	    arrived, refused, overflow, offline, notice, scanned};

	y->intake = intake_new(&y->loop, &y->settings, &calls, y);
	assert_non_null(y->intake);
}

void yard_start(struct yard *y)
{
	if (!y->intake)
		yard_make(y);
	assert_int_equal(intake_start(y->intake), 0);
	assert_true(yard_until(y, &y->scans, 1));
}

static int remove_one(const char *path, const struct stat *st, int kind, struct FTW *ftw)
{
	(void)st;
	(void)kind;
	(void)ftw;
	return remove(path);
}

void yard_close(struct yard *y)
{
	intake_free(y->intake);
	uv_run(&y->loop, UV_RUN_DEFAULT);
	assert_int_equal(uv_loop_close(&y->loop), 0);
	nftw(y->base, remove_one, 32, FTW_DEPTH | FTW_PHYS);
	free(y->arrivals);
	free(y);
}

static void on_time(uv_timer_t *t)
{
	*(bool *)t->data = true;
}

static void on_timer_closed(uv_handle_t *t)
{
	*(bool *)t->data = true;
}

static bool run(struct yard *y, unsigned ms, const size_t *counter, size_t value)
{
	uv_timer_t timer;
	bool over = false, closed = false;

	uv_update_time(&y->loop);
	uv_timer_init(&y->loop, &timer);
	timer.data = &over;
	uv_timer_start(&timer, on_time, ms, 0);
	while (!over && !(counter && *counter >= value))
		uv_run(&y->loop, UV_RUN_ONCE);
	timer.data = &closed;
	uv_close((uv_handle_t *)&timer, on_timer_closed);
	while (!closed)
		uv_run(&y->loop, UV_RUN_NOWAIT);
	return !over;
}

void yard_run(struct yard *y, unsigned ms)
{
	run(y, ms, NULL, 0);
}

bool yard_until(struct yard *y, const size_t *counter, size_t value)
{
	return run(y, 10000, counter, value);
}

const char *yard_path(struct yard *y, const char *path)
{
	static char buf[4][4096];
	static unsigned turn;
	char *to = buf[turn++ % 4];

	snprintf(to, 4096, "%s/%s", y->root, path);
	return to;
}

static void write_flags(struct yard *y, const char *path, const void *text, size_t size, int flags)
{
	int fd = open(yard_path(y, path), O_WRONLY | O_CREAT | O_CLOEXEC | flags, 0644);

	assert_true(fd >= 0);
	assert_int_equal(write(fd, text, size), size);
	assert_int_equal(close(fd), 0);
}

void yard_write(struct yard *y, const char *path, const void *text, size_t size)
{
	write_flags(y, path, text, size, O_TRUNC);
}

void yard_append(struct yard *y, const char *path, const void *text, size_t size)
{
	write_flags(y, path, text, size, O_APPEND);
}

void yard_folder(struct yard *y, const char *path)
{
	assert_int_equal(mkdir(yard_path(y, path), 0755), 0);
}

void yard_rename(struct yard *y, const char *from, const char *to)
{
	assert_int_equal(rename(yard_path(y, from), yard_path(y, to)), 0);
}

const char *yard_program(size_t size)
{
	static char text[65536];
	static const char head[] = "%\nO4417(BUSH)(REV C)\n", tail[] = "N9990 M30\n%\n";
	size_t used = sizeof(head) - 1;

	assert_true(size >= 40 && size <= sizeof(text));
	memcpy(text, head, used);
	for (unsigned n = 10; used + 40 < size; n += 10)
		used += (size_t)sprintf(text + used, "N%u G1 X%u.\n", n, n % 97);
	memset(text + used, ' ', size - used);
	memcpy(text + size - (sizeof(tail) - 1), tail, sizeof(tail) - 1);
	return text;
}

size_t yard_count(struct yard *y, const char *path)
{
	size_t n = 0;

	for (size_t i = 0; i < y->arrival_count; i++)
		n += strcmp(y->arrivals[i].path, path) == 0;
	return n;
}

const struct yard_arrival *yard_only(struct yard *y, const char *path)
{
	const struct yard_arrival *found = NULL;

	assert_int_equal(yard_count(y, path), 1);
	for (size_t i = 0; i < y->arrival_count; i++)
		if (strcmp(y->arrivals[i].path, path) == 0)
			found = &y->arrivals[i];
	return found;
}

size_t yard_refused(struct yard *y, const char *path, enum intake_refusal why)
{
	size_t n = 0;

	for (size_t i = 0; i < y->refusal_count; i++)
		n += strcmp(y->refusals[i].path, path) == 0 && y->refusals[i].why == why;
	return n;
}
