#include "look.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include "file.h"
#include "place.h"
#include "sha256.h"

enum { LOOK_MS = 60000 }; /* when the order does not say */

/* What a program was at the last look. */
struct seen {
	bool known; /* it was looked at, and told when it differed */
	bool there;
	struct sha sha;
	uint64_t size;
	struct timespec written, changed;
	uint64_t inode;
};

struct looking {
	struct job *job;
	struct place place[YOKE_CHANNELS_MAX];
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

static struct seen of_stat(const struct stat *st)
{
	return (struct seen){.there = true,
	    .size = (uint64_t)st->st_size,
	    .written = st->st_mtim,
	    .changed = st->st_ctim,
	    .inode = st->st_ino};
}

/* Nothing about it is another than at the last look, and that look was not within the same moment as
 * the last writing: a file system's times may be two seconds coarse. */
static bool untouched(const struct seen *last, const struct seen *now)
{
	struct timespec t;

	clock_gettime(CLOCK_REALTIME, &t);
	return last->known && last->there && last->size == now->size &&
	       last->inode == now->inode && same_time(last->written, now->written) &&
	       same_time(last->changed, now->changed) && t.tv_sec - now->written.tv_sec > 3;
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

/* Read item i's program and hand it over when it is another than the last one seen. */
static int read_one(struct looking *l, uint32_t i, struct seen *now)
{
	const struct carry_item *it = &l->job->order->item[i];
	struct seen *last = &l->seen[i];
	struct file_tick t = {tick, l};
	struct file_seen s;
	int rc = file_read(l->place[i].folder, it->target, true, &t, &s);

	if (rc)
		return rc;
	now->there = s.there;
	now->sha = s.sha;
	if (!s.there)
		rc = last->there ? hand_gone(l, i) : 0;
	else if (!last->there || memcmp(&last->sha, &s.sha, sizeof s.sha) != 0)
		rc = parent_content(l->job->parent, i, CARRY_ROLE_UNASKED, s.fd, s.size, &s.sha);
	if (s.fd >= 0)
		close(s.fd);
	if (rc)
		return rc;
	now->known = true;
	*last = *now;
	return 0;
}

static int look_at(struct looking *l, uint32_t i)
{
	const struct carry_item *it = &l->job->order->item[i];
	struct fault *f = &l->job->fault;
	struct seen now = {0};
	struct stat st;
	int rc;

	if (fstatat(l->place[i].folder, it->target, &st, AT_SYMLINK_NOFOLLOW) == 0)
		now = of_stat(&st);
	else if (errno != ENOENT)
		return fault_errno(f, errno, i, "looking at '%s' of channel %s", it->target,
		    it->channel);
	if (untouched(&l->seen[i], &now))
		return 0;
	rc = read_one(l, i, &now);
	return rc ? fault_errno(f, -rc, i, "reading '%s' of channel %s", it->target, it->channel)
	          : 0;
}

/* One look at all of it. The job's fault says why it was none. */
static void look(struct looking *l)
{
	const struct carry_order *o = l->job->order;

	l->job->fault = (struct fault){0};
	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		l->place[i].root = l->place[i].folder = -1;
	for (uint32_t i = 0; i < o->items; i++)
		if (place_open(&l->place[i], &o->item[i].line.directory, i, l->place, i,
		        &l->job->fault))
			goto out;
	for (uint32_t i = 0; i < o->items; i++)
		if (look_at(l, i) || place_check(&l->place[i], &l->job->fault))
			goto out;
out:
	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		place_close(&l->place[i]);
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
