/*
 * What a share holds, told from its files alone, and the way back to a state that can be told.
 *
 * Orders leave their marks in a fixed order, and this file relies on it:
 *   1. every .part and every .old or .none is on the disk before the first rename;
 *   2. a program of the order stands under its name exactly when its .part is gone;
 *   3. when all are in place the .old and .none go, first item first;
 *   4. when they are put back it is last item first, and each .old goes by its own rename.
 * So a machine that is mixed and still has a .part, or lacks an .old that a later one has outlived,
 * is an interrupted order; one that has all .old and no .part was finished, and whatever differs
 * was changed by somebody else.
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include "directory_work.h"

static void look_at(struct directory *d, uint32_t i, bool keep)
{
	struct file_tick tick = directory_tick(d);

	if (d->now[i].fd >= 0)
		close(d->now[i].fd);
	d->now_known[i] = file_read(d->place[i].folder, d->job->order->item[i].target, keep, &tick,
	                      &d->now[i]) == 0;
}

/* The channel's outcome from what was seen. */
static void classify(struct directory *d, uint32_t i, bool all_new)
{
	struct carry_channel *c = &d->job->channel[i];
	const struct file_seen *now = &d->now[i];
	bool wanted = directory_wanted(d, i, now);

	c->has_sha = d->now_known[i] && now->there;
	c->sha = now->sha;
	c->compared = 0;
	if (!d->now_known[i])
		c->held = CARRY_HELD_UNKNOWN;
	else if (wanted && (all_new || !d->old_known[i] || !file_same(now, &d->old[i])))
		c->held = CARRY_HELD_NEW;
	else if (!now->there && d->job->order->item[i].has_expect)
		c->held = CARRY_HELD_ABSENT;
	else if (d->old_known[i] && file_same(now, &d->old[i]))
		c->held = CARRY_HELD_OLD;
	else
		c->held = now->there ? CARRY_HELD_OTHER : CARRY_HELD_ABSENT;
	if (c->held == CARRY_HELD_NEW) {
		c->compared = 1;
		c->bytes = now->size;
	}
}

static void look(struct directory *d, bool keep)
{
	for (uint32_t i = 0; i < d->n; i++) {
		directory_phase(d, i, CARRY_PHASE_COMPARE, 0);
		look_at(d, i, keep);
	}
	for (uint32_t i = 0; i < d->n; i++)
		classify(d, i, directory_all_new(d));
}

void directory_look(struct directory *d)
{
	look(d, false);
}

bool directory_all_new(const struct directory *d)
{
	for (uint32_t i = 0; i < d->n; i++)
		if (!d->now_known[i] || !directory_wanted(d, i, &d->now[i]))
			return false;
	return true;
}

/* True when item i is to be put back: our program is there, and it is not also the old one. */
static bool is_ours(const struct directory *d, uint32_t i)
{
	if (d->now_known[i] && d->old_known[i] && file_same(&d->now[i], &d->old[i]))
		return false;
	return d->done[i] || (d->now_known[i] && directory_wanted(d, i, &d->now[i]));
}

static int put_back_one(struct directory *d, uint32_t i)
{
	const struct carry_item *it = &d->job->order->item[i];
	int folder = d->place[i].folder, rc = 0;
	char old[LEFTOVER_NAME];

	leftover_name(old, d->job->order->id, it->channel, LEFTOVER_OLD);
	directory_phase(d, i, CARRY_PHASE_PLACE, 0);
	if (!d->old_known[i])
		return -ENOENT;
	if (!d->old[i].there)
		rc = file_remove(folder, it->target);
	else if (renameat(folder, old, folder, it->target))
		rc = -errno;
	return rc ? rc : file_sync_folder(folder);
}

/* Somebody has written over our program since it was put there: that is not lost when the old one
 * comes back. */
static int save_edits(struct directory *d)
{
	for (uint32_t i = 0; i < d->n; i++) {
		const struct file_seen *s = &d->now[i];
		int rc;

		if (!is_ours(d, i) || !d->now_known[i] || !s->there || directory_wanted(d, i, s))
			continue;
		look_at(d, i, true);
		if (!d->now_known[i])
			return directory_fault(d, -EIO, i, "reading what somebody wrote over");
		rc = s->there ? parent_content(
		                    d->job->parent, i, CARRY_ROLE_OLD, s->fd, s->size, &s->sha)
		              : 0;
		if (rc)
			return directory_fault(d, rc, i, "handing over what somebody wrote over");
	}
	return 0;
}

int directory_put_back(struct directory *d)
{
	struct job *j = d->job;
	bool mixed = false;

	d->rescue = true;
	directory_look(d);
	for (uint32_t i = 0; i < d->n; i++)
		mixed |= is_ours(d, i);
	if (!mixed)
		return 0;
	if (save_edits(d) || !parent_step_back(j->parent, CARRY_STEP_PUT_BACK, d->n))
		goto still;
	for (uint32_t i = d->n; i-- > 0;) {
		int rc = is_ours(d, i) ? put_back_one(d, i) : 0;

		if (rc)
			directory_fault(d, rc, i, "putting back");
	}
	directory_look(d);
	mixed = false;
	for (uint32_t i = 0; i < d->n; i++)
		mixed |= is_ours(d, i);
	if (!mixed)
		return 0;
still:
	fault_set(&j->fault, CARRY_ERROR_IO, d->n, "the share holds halves of two pairs");
	fault_add(&j->fault,
	    "; the old programs could not all be put back and lie beside as .yoke-*.old");
	return -1;
}

int directory_clean(struct directory *d)
{
	int rc = 0;

	for (uint32_t i = 0; i < d->n; i++) {
		for (unsigned kind = 0; kind < LEFTOVER_COUNT; kind++) {
			char name[LEFTOVER_NAME];
			int r;

			leftover_name(
			    name, d->job->order->id, d->job->order->item[i].channel, kind);
			r = file_remove(d->place[i].folder, name);
			rc = rc ? rc : r;
		}
	}
	for (uint32_t i = 0; i < d->n; i++) {
		int r = file_sync_folder(d->place[i].folder);

		rc = rc ? rc : r;
	}
	return rc;
}

struct sweep {
	struct directory *d;
	enum directory_sweep what;
};

static bool sweep_wants(void *ctx, enum leftover kind, uint64_t order)
{
	const struct sweep *s = ctx;
	uint64_t own = s->d->job->order->id;

	if (order == own)
		return false;
	return kind == LEFTOVER_PART || (s->what == DIRECTORY_SWEEP_PAST && order < own);
}

static int sweep_tick(void *ctx)
{
	struct directory *d = ctx;

	return directory_tick(d).call(d, 0);
}

/* One pass over the different folders. Their number, or a negative errno. */
static int sweep_pass(struct sweep *s, bool remove)
{
	struct directory *d = s->d;
	int sum = 0;

	for (uint32_t i = 0; i < d->n; i++) {
		bool again = false;
		int n;

		for (uint32_t k = 0; k < i; k++)
			again |= place_same(&d->place[i], &d->place[k]);
		if (again)
			continue;
		n = leftover_sweep(d->place[i].folder, sweep_wants, s, remove, sweep_tick, d);
		if (n < 0)
			return n;
		sum += n;
	}
	return sum;
}

static bool has(const struct directory *d, uint32_t i, enum leftover kind)
{
	char name[LEFTOVER_NAME];

	leftover_name(name, d->job->order->id, d->job->order->item[i].channel, kind);
	return faccessat(d->place[i].folder, name, F_OK, AT_SYMLINK_NOFOLLOW) == 0;
}

static int own(const struct directory *d)
{
	int n = 0;

	for (uint32_t i = 0; i < d->n; i++)
		for (unsigned kind = 0; kind < LEFTOVER_COUNT; kind++)
			n += has(d, i, kind);
	return n;
}

int directory_tidy(struct directory *d, enum directory_sweep what)
{
	struct sweep s = {d, what};
	int n = sweep_pass(&s, false), rc = 0;

	if (n >= 0 && what != DIRECTORY_SWEEP_PAST)
		n += own(d);
	if (n > 0) {
		if (directory_step(d, CARRY_STEP_TIDY, d->n))
			return -1;
		if (what != DIRECTORY_SWEEP_PAST)
			rc = directory_clean(d);
		n = rc ? rc : sweep_pass(&s, true);
	}
	return n < 0 ? directory_fault(d, n, d->n, "removing left-over temporaries beside") : 0;
}

/* What each channel held before the order, from its .old or .none, or from what the parent
 * believes. */
static void learn_old(struct directory *d)
{
	const struct carry_order *o = d->job->order;

	for (uint32_t i = 0; i < d->n; i++) {
		struct file_tick tick = directory_tick(d);
		char name[LEFTOVER_NAME];

		leftover_name(name, o->id, o->item[i].channel, LEFTOVER_OLD);
		if (!file_read(d->place[i].folder, name, false, &tick, &d->old[i]) &&
		    d->old[i].there) {
			d->old_known[i] = true;
		} else if (has(d, i, LEFTOVER_NONE)) {
			d->old[i] = (struct file_seen){.fd = -1};
			d->old_known[i] = true;
		} else if (o->item[i].has_expect) {
			/* Its size is not known and its sum says enough. */
			d->old[i] =
			    (struct file_seen){.there = true, .fd = -1, .sha = o->item[i].expect};
			d->old[i].size = d->now[i].size;
			d->old_known[i] = true;
		} else if (!directory_wanted(d, i, &d->now[i])) {
			/* The order can only have put there what it wanted: this is what was there.
			 */
			d->old[i] = d->now[i];
			d->old[i].fd = -1;
			d->old_known[i] = d->now_known[i];
		}
	}
}

/* True when some channels hold the order's program and others what was there before (see the top).
 */
static bool interrupted(struct directory *d)
{
	bool some_new = false, some_left = false;

	if (!own(d))
		return false; /* it had ended, and cleaned up behind itself */
	for (uint32_t i = 0; i < d->n; i++) {
		if (!d->now_known[i])
			continue;
		if (directory_wanted(d, i, &d->now[i])) {
			some_new |= is_ours(d, i);
			continue;
		}
		some_left |= has(d, i, LEFTOVER_PART) ||
		             (!has(d, i, LEFTOVER_OLD) && !has(d, i, LEFTOVER_NONE)) ||
		             (d->old_known[i] && file_same(&d->now[i], &d->old[i]));
	}
	return some_new && some_left;
}

/* Hand over what is neither the new program nor the one that was believed to be there. */
static void hand_over(struct directory *d)
{
	struct job *j = d->job;

	for (uint32_t i = 0; i < d->n; i++) {
		const struct carry_item *it = &j->order->item[i];
		const struct file_seen *s = &d->now[i];
		int rc;

		if (!d->now_known[i] || !s->there || directory_wanted(d, i, s) ||
		    (it->has_expect && !memcmp(&it->expect, &s->sha, sizeof s->sha)))
			continue;
		rc = parent_content(j->parent, i, CARRY_ROLE_COPY, s->fd, s->size, &s->sha);
		if (rc)
			directory_fault(d, rc, i, "handing over");
	}
}

void directory_inspect(struct directory *d)
{
	struct job *j = d->job;

	look(d, false);
	for (uint32_t i = 0; i < d->n; i++)
		if (!d->now_known[i]) {
			fault_set(&j->fault,
			    parent_stopping(j->parent) ? CARRY_ERROR_CANCELLED : CARRY_ERROR_IO, i,
			    "'%s' of channel %s cannot be read", j->order->item[i].target,
			    j->order->item[i].channel);
			return;
		}
	learn_old(d);
	if (interrupted(d) && directory_put_back(d))
		return;
	d->rescue = true;
	look(d, true);
	d->rescue = false;
	hand_over(d);
	if (!j->fault.error)
		directory_tidy(d, DIRECTORY_SWEEP_OWN);
}
