/*
 * Files are taken over in the order in which they arrived and read in slices, so that a large one
 * does not keep the loop from its other work. What is finished in one turn of the loop is one
 * transaction: the bytes, the arrivals and the judgements on their pairs.
 *
 *   waiting --turn: take.c--> ended --commit--> told, verdict written, orders started
 *      ^                       |
 *      +-- AGAIN_MS, by intake-+-- not recorded: nothing of the turn happened
 *
 * After a turn that failed its files come one by one, so that one that can never be recorded does
 * not take the others with it. When the next turn fails as well the vault itself is in trouble (a
 * full disk): then there is one try every AGAIN_MS until one succeeds.
 */
#include "arrive.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "orders.h"
#include "take.h"
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
	struct take *take;
};

struct arrive {
	struct service *s;
	uv_idle_t idle;
	uv_timer_t rest;
	bool open; /* the two handles */
	struct job *first, **last;
	size_t waiting;
	size_t singly; /* so many files are taken one in a transaction */
	bool failing;  /* the last turn failed, and that was told */
	bool resting;
	char left[YOKE_PATH_MAX + 1]; /* the file that was told last as one that has to wait */
	unsigned char *slice;
	struct told *told; /* until the first scan has ended */
	bool told_read, scanned;
};

static void turn(uv_idle_t *idle);

static void on_rested(uv_timer_t *timer)
{
	struct arrive *a = timer->data;

	a->resting = false;
	uv_idle_start(&a->idle, turn);
}

static void rest(struct arrive *a)
{
	a->resting = true;
	uv_idle_stop(&a->idle);
	uv_timer_start(&a->rest, on_rested, AGAIN_MS, 0);
}

/* The first job leaves the queue. */
static struct take *pop(struct arrive *a)
{
	struct job *j = a->first;
	struct take *t = j->take;

	a->first = j->next;
	if (!a->first)
		a->last = &a->first;
	a->waiting--;
	free(j);
	return t;
}

static void hand_back(struct arrive *a, struct take *t)
{
	intake_again(a->s->intake, take_path(t), AGAIN_MS);
	take_free(t);
}

static void check_queue(struct arrive *a)
{
	if (a->waiting < QUEUE_LOW)
		intake_resume(a->s->intake);
}

/* Nothing of this turn was recorded: its n files are handed over again. */
static void fail(struct arrive *a, size_t n, const char *path, const char *why)
{
	ledger_rollback(a->s->ledger);
	if (!a->failing)
		fprintf(stderr,
		    "yoked: %s: not taken into the vault: %s; what arrives is tried again every %d "
		    "s\n",
		    path, why, AGAIN_MS / 1000);
	a->singly += n;
	while (n-- > 0)
		hand_back(a, pop(a));
	if (a->failing)
		rest(a);
	a->failing = true;
	check_queue(a);
}

/* The turn is durable: let everyone know. */
static void settle(struct arrive *a, size_t n)
{
	a->failing = a->failing && n == 0;
	a->singly -= n < a->singly ? n : a->singly;
	while (n-- > 0) {
		struct take *t = pop(a);

		if (take_judgement(t)->told)
			verdict_write(a->s, take_judgement(t));
		take_free(t);
	}
	orders_kick(a->s);
	check_queue(a);
}

/* The file at link cannot be read: it leaves the queue, and is looked at again later. */
static void leave(struct arrive *a, struct job **link)
{
	struct job *j = *link;
	const char *path = take_path(j->take);

	if (strcmp(a->left, path) != 0)
		fprintf(stderr, "yoked: %s: %s; it is tried again every %d s\n", path,
		    take_why(j->take), AGAIN_MS / 1000);
	snprintf(a->left, sizeof(a->left), "%s", path);
	*link = j->next;
	if (!*link)
		a->last = link;
	a->waiting--;
	hand_back(a, j->take);
	free(j);
}

static void turn(uv_idle_t *idle)
{
	struct arrive *a = idle->data;
	size_t most = a->singly ? 1 : TURN_FILES, ended = 0;
	struct job **at = &a->first;
	uint64_t start = uv_hrtime();

	if (!a->first) {
		uv_idle_stop(idle);
		return;
	}
	take_begin(a->first->take); /* or its first step says why not */
	if (ledger_begin(a->s->ledger)) {
		fail(a, 1, take_path(a->first->take), ledger_error(a->s->ledger));
		return;
	}
	while (*at && ended < most && uv_hrtime() - start < TURN_NS) {
		struct take *t = (*at)->take;

		switch (take_step(t, a->slice, SLICE)) {
		case TAKE_MORE:
			break;
		case TAKE_ENDED:
			at = &(*at)->next;
			ended++;
			break;
		case TAKE_UNREADABLE:
			leave(a, at);
			break;
		case TAKE_FAILED:
			fail(a, ended + 1, take_path(t), take_why(t));
			return;
		}
	}
	/* Pieces of one that has not ended may be in the transaction too. */
	if (ledger_commit(a->s->ledger))
		fail(a, ended + (*at != NULL), "files", ledger_error(a->s->ledger));
	else
		settle(a, ended);
}

static void on_arrived(void *ctx, const struct intake_file *file)
{
	struct arrive *a = ctx;
	struct job *j = calloc(1, sizeof(*j));

	if (j)
		j->take = take_new(a->s, file);
	if (!j || !j->take) {
		free(j);
		close(file->fd);
		intake_again(a->s->intake, file->path, AGAIN_MS);
		return;
	}
	*a->last = j;
	a->last = &j->next;
	if (++a->waiting >= QUEUE_HIGH)
		intake_pause(a->s->intake);
	if (!a->resting)
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
	/* These two cannot fail in libuv 1.44; should one ever, nothing is half made. */
	if (!a->slice || uv_idle_init(s->loop, &a->idle) || uv_timer_init(s->loop, &a->rest)) {
		free(a->slice);
		free(a);
		return NULL;
	}
	a->idle.data = a->rest.data = a;
	a->open = true;
	return a;
}

size_t arrive_waiting(const struct arrive *a)
{
	return a->waiting;
}

void arrive_stop(struct arrive *a)
{
	if (!a || !a->open)
		return;
	while (a->first)
		take_free(pop(a));
	uv_close((uv_handle_t *)&a->idle, NULL);
	uv_close((uv_handle_t *)&a->rest, NULL);
	a->open = false;
}

void arrive_free(struct arrive *a)
{
	if (!a)
		return;
	told_free(a->told);
	free(a->slice);
	free(a);
}
