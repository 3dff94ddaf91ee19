/*
 * Files are taken over in the order in which they arrived and read in slices, so that a large one
 * does not keep the loop from its other work. What is finished in one turn of the loop is one
 * transaction: the bytes, the arrivals and the judgements on their pairs. When that transaction
 * fails nothing of it happened, and intake is asked to hand the same files over again.
 *
 *   waiting --turn: read, hash, tokenise--> finished --commit--> told, verdict written, orders
 * started |                                        |
 *      +-- changed while being read: dropped    +-- not recorded: handed over again
 */
#include "arrive.h"

#include <errno.h>
#include <pwd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "judge.h"
#include "orders.h"
#include "sha256.h"
#include "told.h"
#include "verdict.h"

enum {
	SLICE = 1 << 20,            /* bytes read at once */
	TURN_NS = 20 * 1000 * 1000, /* after this much of a turn the loop gets its chance */
	TURN_FILES = 256,           /* most files in one transaction */
	QUEUE_HIGH = 512,           /* intake is paused above, */
	QUEUE_LOW = 128,            /* and goes on below */
	AGAIN_MS = 5000,
};

struct job {
	struct job *next;
	struct intake_file file;
	char *path;
	char area[YOKE_NAME_MAX + 1];
	struct vault_stage *stage;
	struct sha256 *sum;
	struct program *program;
	bool ended; /* read to its end and recorded in the open transaction */
	struct judgement judged;
};

struct arrive {
	struct service *s;
	uv_idle_t idle;
	bool idle_open;
	struct job *first, **last;
	size_t waiting;
	unsigned char *slice;
	struct told *told; /* until the first scan has ended */
	bool told_read, scanned;
};

static void job_free(struct job *j)
{
	if (!j)
		return;
	if (j->stage)
		vault_stage_drop(j->stage);
	sha256_free(j->sum);
	program_free(j->program);
	judge_free(&j->judged);
	if (j->file.fd >= 0)
		close(j->file.fd);
	free(j->path);
	free(j);
}

void arrive_owner(uint32_t uid, char *out, size_t n)
{
	struct passwd pw, *found = NULL;
	char buffer[4096];

	if (!getpwuid_r(uid, &pw, buffer, sizeof(buffer), &found) && found)
		snprintf(out, n, "%s (uid %u)", pw.pw_name, uid);
	else
		snprintf(out, n, "uid %u (no such user)", uid);
}

/* The machine whose folder the path lies in, "" for none. */
static void area_of(struct service *s, const char *path, char out[YOKE_NAME_MAX + 1])
{
	const char *slash = strchr(path, '/');
	size_t n = slash ? (size_t)(slash - path) : 0;

	out[0] = '\0';
	if (n == 0 || n > YOKE_NAME_MAX)
		return;
	memcpy(out, path, n);
	out[n] = '\0';
	if (!service_machine_find(s, out))
		out[0] = '\0';
}

/* A job is begun when its turn comes, so that many waiting files cost little memory. */
static int begin(struct arrive *a, struct job *j)
{
	const struct profile *profile = service_profile(a->s, j->area);

	j->sum = sha256_new();
	j->program = program_new(profile, j->path);
	j->stage = vault_stage_new(a->s->vault);
	return j->sum && j->program && j->stage ? 0 : -1;
}

/* One slice. 1: more to come, 0: the end, -1: cannot be read or kept. */
static int read_slice(struct arrive *a, struct job *j)
{
	ssize_t n;

	do
		n = read(j->file.fd, a->slice, SLICE);
	while (n < 0 && errno == EINTR);
	if (n < 0) {
		fprintf(stderr, "yoked: %s: cannot be read: %s; it is tried again\n", j->path,
		    strerror(errno));
		return -1;
	}
	if (n == 0)
		return 0;
	if (sha256_add(j->sum, a->slice, (size_t)n) ||
	    program_feed(j->program, a->slice, (size_t)n) ||
	    vault_stage_add(j->stage, a->slice, (size_t)n)) {
		fprintf(stderr, "yoked: %s: not taken into the vault: %s\n", j->path,
		    vault_error(a->s->vault));
		return -1;
	}
	return 1;
}

/* The file is read: record it, unless it changed meanwhile or is nothing new. 0, -1 when not
 * recorded. */
static int finish(struct arrive *a, struct job *j)
{
	struct sha sha, old;
	struct judge_arrival in = {
	    .area = j->area, .path = j->path, .program = j->program, .file = &j->file};
	struct vault_stage *stage = j->stage;
	char owner[128];
	int known;

	if (sha256_end(j->sum, sha.b) || program_finish(j->program))
		return -1;
	if (!intake_still_same(a->s->intake, &j->file)) {
		j->ended = true; /* torn: a new look has been scheduled */
		return 0;
	}
	known = vault_path(a->s->vault, j->path, &old);
	if (known < 0)
		return -1;
	if (known == 1 && !memcmp(&old, &sha, sizeof(sha))) {
		j->ended = true; /* seen before, as after a restart: the content decides, not the
		                    file's time */
		return 0;
	}
	j->stage = NULL;
	if (vault_stage_keep(stage, &sha))
		return -1;
	arrive_owner(j->file.uid, owner, sizeof(owner));
	in.who = owner;
	in.sha = &sha;
	if (judge_arrival(a->s, &in, &j->judged))
		return -1;
	j->ended = true;
	return 0;
}

/* Everything of this turn that was taken over is handed over again, since none of it was recorded.
 */
static void again(struct arrive *a, struct job *upto)
{
	struct job *j;
	bool last = false;

	ledger_rollback(a->s->ledger);
	while (!last && (j = a->first)) {
		last = j == upto;
		a->first = j->next;
		a->waiting--;
		intake_again(a->s->intake, j->path, AGAIN_MS);
		job_free(j);
	}
	if (!a->first)
		a->last = &a->first;
}

/* The turn is durable: let everyone know. */
static void settle(struct arrive *a)
{
	struct job *j;

	while ((j = a->first) && j->ended) {
		a->first = j->next;
		if (!a->first)
			a->last = &a->first;
		a->waiting--;
		if (j->judged.told)
			verdict_write(a->s, &j->judged);
		job_free(j);
	}
	orders_kick(a->s);
}

static void turn(uv_idle_t *idle)
{
	struct arrive *a = idle->data;
	uint64_t start = uv_hrtime();
	struct job *j = a->first;
	unsigned files = 0;
	int more;

	if (!j) {
		uv_idle_stop(idle);
		return;
	}
	if (ledger_begin(a->s->ledger)) {
		fprintf(stderr, "yoked: nothing can be recorded: %s\n", ledger_error(a->s->ledger));
		again(a, j);
		return;
	}
	while (j && files < TURN_FILES && uv_hrtime() - start < TURN_NS) {
		if (!j->program && begin(a, j)) {
			again(a, j);
			return;
		}
		more = read_slice(a, j);
		if (more < 0 || (more == 0 && finish(a, j))) {
			again(a, j);
			return;
		}
		if (more == 0) {
			j = j->next;
			files++;
		}
	}
	if (ledger_commit(a->s->ledger)) {
		fprintf(stderr, "yoked: not recorded: %s\n", ledger_error(a->s->ledger));
		again(a, j ? j : NULL);
		return;
	}
	settle(a);
	if (a->waiting < QUEUE_LOW)
		intake_resume(a->s->intake);
}

static void on_arrived(void *ctx, const struct intake_file *file)
{
	struct arrive *a = ctx;
	struct job *j = calloc(1, sizeof(*j));

	if (j)
		j->path = strdup(file->path);
	if (!j || !j->path) {
		free(j);
		close(file->fd);
		intake_again(a->s->intake, file->path, AGAIN_MS);
		return;
	}
	j->file = *file;
	j->file.path = j->path;
	area_of(a->s, j->path, j->area);
	*a->last = j;
	a->last = &j->next;
	if (++a->waiting >= QUEUE_HIGH)
		intake_pause(a->s->intake);
	uv_idle_start(&a->idle, turn);
}

static void on_refused(void *ctx, const char *path, enum intake_refusal why, const char *text)
{
	struct arrive *a = ctx;
	struct vault_about about = {.outcome = intake_refusal_name(why), .text = text};

	/* The first scan meets what earlier runs met too. */
	if (!a->scanned && !a->told_read) {
		a->told = told_read(a->s->vault);
		a->told_read = true;
	}
	if (told_before(a->told, text))
		return;
	ledger_record(a->s->ledger, EVENT_TURNED_AWAY, "service", "folder", &about);
}

static void on_scanned(void *ctx)
{
	struct arrive *a = ctx;

	a->scanned = true;
	told_free(a->told);
	a->told = NULL;
}

static void on_overflow(void *ctx)
{
	fprintf(stderr,
	    "yoked: the kernel's queue of folder events ran over; the whole folder is scanned\n");
}

static void on_offline(void *ctx, bool offline, const char *text)
{
	fprintf(stderr, "yoked: %s: %s\n", offline ? "offline" : "online again", text);
}

static void on_notice(void *ctx, const char *path, const char *text)
{
	fprintf(stderr, "yoked: %s\n", text);
}

const struct intake_calls arrive_calls = {
    .arrived = on_arrived,
    .refused = on_refused,
    .overflow = on_overflow,
    .offline = on_offline,
    .notice = on_notice,
    .scanned = on_scanned,
};

struct arrive *arrive_new(struct service *s)
{
	struct arrive *a = calloc(1, sizeof(*a));

	if (!a)
		return NULL;
	a->s = s;
	a->last = &a->first;
	a->slice = malloc(SLICE);
	if (!a->slice || uv_idle_init(s->loop, &a->idle)) {
		free(a->slice);
		free(a);
		return NULL;
	}
	a->idle.data = a;
	a->idle_open = true;
	return a;
}

size_t arrive_waiting(const struct arrive *a)
{
	return a->waiting;
}

void arrive_stop(struct arrive *a)
{
	struct job *j;

	if (!a)
		return;
	while ((j = a->first)) {
		a->first = j->next;
		job_free(j);
	}
	a->last = &a->first;
	a->waiting = 0;
	if (a->idle_open)
		uv_close((uv_handle_t *)&a->idle, NULL);
	a->idle_open = false;
}

void arrive_free(struct arrive *a)
{
	if (!a)
		return;
	told_free(a->told);
	free(a->slice);
	free(a);
}
