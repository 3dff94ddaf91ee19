#include "look.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "folder.h"
#include "sha256.h"

enum {
	LOOK_MS = 60000,  /* when the order does not say */
	LOOK_FAULT = 1,   /* the job's fault is set already */
	COARSE_MS = 4000, /* a file system's times may be two seconds coarse */
	ALL_MS = 3600000, /* after which a program is read in any case: the other side's clock may stand still */
	SETTLE_MS = 2000, /* in which a program that is just being written becomes another one */
};

/* What a program was at the last look. */
struct seen {
	bool known; /* it was looked at, and told when it differed */
	bool there;
	struct sha sha;
	struct folder_stamp stamp;
	uint64_t first_ms, read_ms; /* parent_now(): when that stamp was met first, and the bytes read last */
};

struct looking {
	struct job *job;
	struct folder_order common;
	struct folder *folder[YOKE_CHANNELS_MAX];
	struct seen seen[YOKE_CHANNELS_MAX];
	uint32_t phase;
	bool told; /* that the share cannot be reached */
};

static int tick(void *ctx, uint64_t done)
{
	const struct looking *l = ctx;

	return parent_tick(l->job->parent) ? -ECANCELED : 0;
}

static bool same_time(struct timespec a, struct timespec b)
{
	return a.tv_sec == b.tv_sec && a.tv_nsec == b.tv_nsec;
}

static bool same_stamp(const struct seen *last, const struct folder_stamp *now)
{
	const struct folder_stamp *was = &last->stamp;

	return last->known && was->there && was->size == now->size && was->inode == now->inode &&
	       same_time(was->written, now->written) && same_time(was->changed, now->changed);
}

/* Nothing about it is another than when it was read last, and that was not within the same moment as the
 * last writing. Whatever clock its times are from, it is not ours: only whether they changed counts. */
static bool untouched(const struct seen *last, const struct folder_stamp *now)
{
	return same_stamp(last, now) && last->read_ms - last->first_ms > COARSE_MS &&
	       parent_now() - last->read_ms < ALL_MS;
}

static int hand_gone(struct looking *l, uint32_t i)
{
	struct sha none;
	int fd = memfd_create("gone", MFD_CLOEXEC | MFD_ALLOW_SEALING), rc = -1;

	if (fd < 0)
		return -errno;
	if (!fcntl(fd, F_ADD_SEALS, F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL) &&
	    !sha256_of("", 0, none.b))
		rc = parent_content(l->job->parent, i, CARRY_ROLE_GONE, fd, 0, &none);
	close(fd);
	return rc;
}

/* What a folder's call gave, as the job's fault. */
static int fail(struct looking *l, int rc, uint32_t i, const char *what)
{
	const struct carry_item *it = &l->job->order->item[i];
	struct fault *f = &l->job->fault;

	if (rc == -ECANCELED)
		return fault_set(f, CARRY_ERROR_CANCELLED, i, "cancelled");
	if (rc == FOLDER_SAID)
		return fault_set(f, l->common.said.error, i, "%s '%s' of channel %s: %s", what,
		    it->target, it->channel, l->common.said.text);
	return fault_errno(f, -rc, i, "%s '%s' of channel %s", what, it->target, it->channel);
}

/* It is the last one seen. */
static bool is_same(const struct seen *last, const struct folder_seen *s)
{
	return s->there == last->there &&
	       (!s->there || !memcmp(&last->sha, &s->sha, sizeof s->sha));
}

/* Whether it still is what was read a while ago: half of what somebody is just writing is no change, and
 * neither is the moment between a removal and a new name. 1, 0, or as the folder's read. */
static int has_settled(struct looking *l, uint32_t i, const struct folder_seen *before)
{
	struct folder *f = l->folder[i];
	struct folder_seen now;
	int rc;

	parent_wait(l->job->parent, -1, 0, SETTLE_MS);
	if (parent_stopping(l->job->parent))
		return -ECANCELED;
	rc = f->ops->read(f, l->job->order->item[i].target, false, before, &now);
	return rc ? rc : folder_equal(&now, before);
}

/* Read item i's program and hand it over when it is another than the last one seen. */
static int read_one(struct looking *l, uint32_t i, const struct folder_stamp *stamp)
{
	struct folder *f = l->folder[i];
	struct seen *last = &l->seen[i];
	struct folder_seen s;
	uint64_t now = parent_now(), first = same_stamp(last, stamp) ? last->first_ms : now;
	int rc = f->ops->read(f, l->job->order->item[i].target, true, NULL, &s);
	bool known = true;

	if (rc)
		return rc;
	if (!is_same(last, &s)) {
		rc = has_settled(l, i, &s);
		known = rc == 1;
		/* A share that went away has no programs either: it must still be there. */
		if (known && f->ops->check(f, &l->job->fault))
			rc = LOOK_FAULT;
		else if (known && !s.there)
			rc = hand_gone(l, i);
		else if (known)
			rc = parent_content(
			    l->job->parent, i, CARRY_ROLE_UNASKED, s.fd, s.size, &s.sha);
	}
	if (!rc && known)
		*last = (struct seen){true, s.there, s.sha, *stamp, first, now};
	folder_drop(&s);
	return rc;
}

static int look_at(struct looking *l, uint32_t i)
{
	struct folder *f = l->folder[i];
	struct folder_stamp now = {0};
	int rc = 0;

	if (f->ops->stamp)
		rc = f->ops->stamp(f, l->job->order->item[i].target, &now);
	if (rc)
		return fail(l, rc, i, "looking at");
	if (untouched(&l->seen[i], &now))
		return 0;
	rc = read_one(l, i, &now);
	return !rc ? 0 : rc == LOOK_FAULT ? -1 : fail(l, rc, i, "reading");
}

/* One look at all of it. The job's fault says why it was none. */
static void look(struct looking *l)
{
	const struct carry_order *o = l->job->order;

	l->job->fault = (struct fault){0};
	for (uint32_t i = 0; i < o->items; i++) {
		l->folder[i] = folder_open(
		    &o->item[i].line, i, &l->common, l->folder, i, &l->job->fault);
		if (!l->folder[i])
			goto out;
	}
	for (uint32_t i = 0; i < o->items; i++)
		if (look_at(l, i) || l->folder[i]->ops->check(l->folder[i], &l->job->fault))
			goto out;
out:
	for (uint32_t i = 0; i < o->items; i++) {
		folder_close(l->folder[i]);
		l->folder[i] = NULL;
	}
}

static void tell(struct looking *l)
{
	const struct fault *f = &l->job->fault;
	bool away = f->error != CARRY_ERROR_NONE && f->error != CARRY_ERROR_CANCELLED;
	struct carry_progress at = {
	    away ? f->item : 0, away ? CARRY_PHASE_AWAY : CARRY_PHASE_LISTEN, 0, 0, 0, UINT64_MAX};

	if (at.item >= l->job->order->items)
		at.item = 0;
	if (l->phase != at.phase)
		parent_progress(l->job->parent, &at);
	l->phase = at.phase;
	if (away && !l->told)
		fprintf(stderr, "yoke-carrier: the share is not looked at: %s\n", f->text);
	l->told = away;
}

void look_run(struct job *j)
{
	struct looking l = {.job = j, .phase = CARRY_PHASE_COUNT};

	l.common.tick = (struct folder_tick){tick, &l};
	l.common.looks = true;
	parent_beat_slowly(j->parent);
	for (uint32_t i = 0; i < j->order->items; i++) {
		l.seen[i].there = j->order->item[i].has_expect;
		l.seen[i].sha = j->order->item[i].expect;
	}
	while (!parent_stopping(j->parent)) {
		look(&l);
		tell(&l);
		parent_wait(j->parent, -1, 0, j->order->look_ms ? j->order->look_ms : LOOK_MS);
	}
	j->fault = (struct fault){0};
	fault_set(&j->fault, CARRY_ERROR_CANCELLED, j->order->items, "looking ended");
}
