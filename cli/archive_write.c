#include "archive_write.h"

#include <errno.h>
#include <fcntl.h>
#include <pwd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include "archive.h"
#include "archive_check.h"
#include "ask.h"
#include "base64.h"
#include "checkpoint.h"
#include "exit.h"
#include "http.h"
#include "out.h"
#include "save.h"
#include "sha256.h"
#include "sum_set.h"

static const char reading[] =
    "One JSON object a line. Each entry stands as \"event\", and its bytes, as they are hashed, as \"leaf\" "
    "in base64; its hash is their SHA-256, with which the bytes of the next one begin. \"checkpoint\" is a "
    "signed note (C2SP signed-note, tlog-checkpoint) with the root of the Merkle tree (RFC 9162) over all "
    "leaves. Behind a line with \"program\" and \"size\" so many bytes follow as they are, and a line end. "
    "`yoke audit check-archive` checks all of it without a service.";

struct writer {
	const char *file;
	FILE *f;
	uint64_t last; /* the newest entry before the moment */
	struct checkpoint checkpoint;
	char *note; /* it, as it was signed */
	uint64_t entries;
	struct sum_set named;
};

/* A body that is text. 0 and *a, or an exit status and said. Free *a in either case. */
static int get_text(const char *path, struct http_answer *a)
{
	if (http_request(path, NULL, a))
		return EXIT_SERVICE;
	return a->status == 200 ? EXIT_DONE : ask_refusal(a->status, a->json);
}

static int write_line(struct writer *w, json_t *o)
{
	bool written = o && json_dumpf(o, w->f, JSON_COMPACT | JSON_ENSURE_ASCII) == 0 &&
	               putc('\n', w->f) != EOF;

	json_decref(o);
	if (!written)
		out_error("%s cannot be written: %s", w->file, errno ? strerror(errno) : "out of memory");
	return written ? EXIT_DONE : EXIT_USE;
}

static int find_last(struct writer *w, long long before)
{
	char path[80];
	json_t *o;
	int status;

	snprintf(path, sizeof(path), "/v1/audit?limit=1&to=%lld", before);
	o = ask(path, NULL, &status);
	w->last = (uint64_t)ask_number(json_array_get(json_object_get(o, "events"), 0), "seq");
	json_decref(o);
	if (status == EXIT_DONE && !w->last) {
		out_error("archive: no entry is that old: there is nothing to write");
		status = EXIT_REFUSED;
	}
	return status;
}

/* The first checkpoint over the last entry: 1, 0 there is none yet, -1 and *status. */
static int find_checkpoint(struct writer *w, int *status)
{
	unsigned long long after = 0;
	bool more = true;

	while (more) {
		struct http_answer a;
		char path[64];
		struct note note;
		const char *at;

		snprintf(path, sizeof(path), "/v1/checkpoints?after=%llu", after);
		*status = get_text(path, &a);
		at = *status == EXIT_DONE && a.bytes ? a.bytes : "";
		more = false;
		for (size_t n; (n = note_take(at, strlen(at), &note)) > 0; at += n + (at[n] == '\n')) {
			if (!checkpoint_read(note.text, note.text_n, &w->checkpoint))
				break;
			more = true;
			after = w->checkpoint.number;
			if (w->checkpoint.size >= w->last) {
				w->note = strndup(at, n);
				http_answer_free(&a);
				return 1;
			}
		}
		http_answer_free(&a);
		if (*status != EXIT_DONE)
			return -1;
	}
	return 0;
}

/* It, made when there is none: to ask for the proof of an entry seals it. */
static int need_checkpoint(struct writer *w)
{
	int status, found = find_checkpoint(w, &status);

	if (found == 0) {
		struct http_answer a;
		char path[64];

		snprintf(path, sizeof(path), "/v1/audit/%llu/proof", (unsigned long long)w->last);
		status = get_text(path, &a);
		http_answer_free(&a);
		if (status != EXIT_DONE)
			return status;
		found = find_checkpoint(w, &status);
	}
	if (found == 0) {
		out_error("archive: no checkpoint covers entry %llu: see `yoke status`",
		    (unsigned long long)w->last);
		status = EXIT_SERVICE;
	}
	if (found == 1 && !w->note) {
		out_error("out of memory");
		status = EXIT_SERVICE;
	}
	return status;
}

static int write_head(struct writer *w, long long before)
{
	const struct passwd *me = getpwuid(getuid());
	char now[CHECKPOINT_TIME_MAX + 1], moment[CHECKPOINT_TIME_MAX + 1], by[300];

	checkpoint_time((int64_t)time(NULL), now);
	checkpoint_time(before, moment);
	snprintf(by, sizeof(by), "%.200s (uid %lu)", me ? me->pw_name : "?", (unsigned long)getuid());
	return write_line(w, json_pack("{s:i, s:I, s:s, s:s, s:s, s:s}", ARCHIVE_MARK, ARCHIVE_VERSION,
	                         "entries", (json_int_t)w->checkpoint.size, "before", moment, "made", now,
	                         "by", by, "reading", reading));
}

static int write_entry(struct writer *w, const char *base64, size_t n)
{
	char *bytes = malloc(n + 1);
	long got = bytes ? base64_read(base64, n, bytes) : -1;
	struct leaf leaf;
	json_t *event = got < 0 ? NULL : archive_entry(bytes, (size_t)got, &leaf), *o;
	int status = EXIT_SERVICE;

	if (!event || leaf.seq != w->entries + 1) {
		out_error("the service gave no entry %llu", (unsigned long long)w->entries + 1);
		json_decref(event);
	} else {
		w->entries++;
		sum_set_add_parts(&w->named, leaf.part, leaf.parts);
		o = json_object();
		json_object_set_new(o, "event", event);
		json_object_set_new(o, "leaf", json_stringn(base64, n));
		status = write_line(w, o);
	}
	free(bytes);
	return status;
}

static int write_entries(struct writer *w)
{
	int status = EXIT_DONE;

	while (status == EXIT_DONE && w->entries < w->checkpoint.size) {
		struct http_answer a;
		char path[64];
		const char *at;

		snprintf(path, sizeof(path), "/v1/audit/entries?after=%llu", (unsigned long long)w->entries);
		status = get_text(path, &a);
		at = status == EXIT_DONE && a.bytes ? a.bytes : "";
		if (status == EXIT_DONE && !*at) {
			out_error("the service has no entry %llu any more",
			    (unsigned long long)w->entries + 1);
			status = EXIT_SERVICE;
		}
		while (status == EXIT_DONE && *at && w->entries < w->checkpoint.size) {
			size_t n = strcspn(at, "\n");

			status = write_entry(w, at, n);
			at += n + (at[n] == '\n');
		}
		http_answer_free(&a);
	}
	return status;
}

static int take(void *ctx, const char *bytes, size_t n)
{
	return save_all(*(int *)ctx, bytes, n) ? -1 : 0;
}

/* A program's bytes into memory behind fd: 1; 0 the vault does not have it; -1 and *status. They are
 * compared with their sum when the whole file is checked. */
static int get_program(const char *hex, int fd, int *status)
{
	char *path = ask_path("/v1/programs/%s", hex);
	struct http_answer a = {0};
	int result = -1, got = path ? http_download(path, take, &fd, &a) : 1;

	*status = EXIT_SERVICE;
	if (got == 1)
		out_error("there is no memory for the program %s", hex);
	else if (got == 0 && a.status == 404)
		result = 0;
	else if (got == 0 && a.status != 200)
		*status = ask_refusal(a.status, a.json);
	else if (got == 0)
		result = 1;
	http_answer_free(&a);
	free(path);
	return result;
}

/* Its line and its bytes, which stand in memory behind fd. */
static int write_bytes(struct writer *w, const char *hex, int fd)
{
	struct stat st;
	char *bytes = NULL;
	int status = EXIT_SERVICE;

	if (fstat(fd, &st) == 0 && st.st_size > 0)
		bytes = mmap(NULL, (size_t)st.st_size, PROT_READ, MAP_PRIVATE, fd, 0);
	if (bytes == MAP_FAILED) {
		out_error("there is no memory for the program %s", hex);
		return status;
	}
	status = write_line(w, json_pack("{s:s, s:I}", "program", hex, "size", (json_int_t)st.st_size));
	if (status == EXIT_DONE && ((bytes && fwrite(bytes, 1, (size_t)st.st_size, w->f) != (size_t)st.st_size) ||
	                               putc('\n', w->f) == EOF)) {
		out_error("%s cannot be written: %s", w->file, strerror(errno));
		status = EXIT_USE;
	}
	if (bytes)
		munmap(bytes, (size_t)st.st_size);
	return status;
}

static int write_program(struct writer *w, const struct sha *sum)
{
	int fd = memfd_create("program", MFD_CLOEXEC), status = EXIT_SERVICE, there = -1;
	char hex[YOKE_SHA_HEX + 1];

	sha256_hex(sum->b, hex);
	if (fd < 0)
		out_error("there is no memory for the program %s: %s", hex, strerror(errno));
	else
		there = get_program(hex, fd, &status);
	if (there == 0)
		status = write_line(w, json_pack("{s:s, s:b}", "program", hex, "missing", 1));
	else if (there == 1)
		status = write_bytes(w, hex, fd);
	if (fd >= 0)
		close(fd);
	return status;
}

static int write_all(struct writer *w, long long before)
{
	int status = write_head(w, before);

	if (status == EXIT_DONE)
		status = write_entries(w);
	if (status == EXIT_DONE)
		status = write_line(w, json_pack("{s:s}", "checkpoint", w->note));
	if (w->named.failed) {
		out_error("out of memory");
		return EXIT_SERVICE;
	}
	for (size_t i = 0; status == EXIT_DONE && i < w->named.n; i++)
		status = write_program(w, &w->named.sum[i]);
	if (status == EXIT_DONE)
		status = write_line(w, json_pack("{s:b}", "end", 1));
	return status;
}

/* The file, made, filled and closed. */
static int fill(struct writer *w, long long before)
{
	int fd = open(w->file, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666), status;

	w->f = fd < 0 ? NULL : fdopen(fd, "w");
	if (!w->f) {
		out_error("%s cannot be made: %s%s", w->file, strerror(errno),
		    errno == EEXIST ? ": nothing is overwritten; name another" : "");
		if (fd >= 0)
			close(fd);
		return EXIT_USE;
	}
	status = write_all(w, before);
	if (status == EXIT_DONE && (fflush(w->f) || (fsync(fd) && errno != EINVAL && errno != EROFS))) {
		out_error("%s cannot be written: %s", w->file, strerror(errno));
		status = EXIT_USE;
	}
	if (fclose(w->f) && status == EXIT_DONE) {
		out_error("%s cannot be written: %s", w->file, strerror(errno));
		status = EXIT_USE;
	}
	if (status != EXIT_DONE)
		unlink(w->file);
	return status;
}

int archive_write(const char *file, long long before)
{
	struct writer w = {.file = file};
	struct trail_keys keys = {0};
	int status = find_last(&w, before);

	if (status == EXIT_DONE)
		status = need_checkpoint(&w);
	if (status == EXIT_DONE)
		status = trail_keys_ask(&keys);
	if (status == EXIT_DONE)
		status = fill(&w, before);
	if (status == EXIT_DONE) {
		status = archive_check(file, &keys, &(struct archive_check_ask){0});
		if (status != EXIT_DONE)
			unlink(file);
	}
	trail_keys_free(&keys);
	sum_set_free(&w.named);
	free(w.note);
	return status;
}
