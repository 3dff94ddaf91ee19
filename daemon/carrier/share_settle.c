/*
 * What a share holds, told from its files alone, and the way back to a state that can be told.
 *
 * Orders leave their marks in a fixed order, and this file relies on it:
 *   1. every .part and every .old or .none is on the share before the first change of a program;
 *   2. a program of the order stands under its name exactly when its .part is gone;
 *   3. when all are in place the .old and .none go, first item first;
 *   4. when they are put back it is last item first, and each .old goes by its own rename;
 *   5. a name without a program whose .old is there, and no earlier item lacks its own, is one that the
 *      order has taken away to put another in its place.
 * So a machine that is mixed and still has a .part, or lacks an .old that a later one has outlived,
 * is an interrupted order; one that has all .old and no .part was finished, and whatever differs
 * was changed by somebody else.
 *
 * A change whose end was not told may be made late, when a server wakes up. What it would put in place
 * is removed first; then it can no longer be made, and what is seen stays so.
 */
#include <errno.h>
#include <string.h>
#include "share_work.h"

void share_look_at(struct share_work *d, uint32_t i, bool keep)
{
	struct folder *f = d->folder[i];
	struct folder_seen new = share_program(d, i);

	folder_drop(&d->now[i]);
	d->now_rc[i] = f->ops->read(f, d->job->order->item[i].target, keep, &new, &d->now[i]);
	d->now_known[i] = d->now_rc[i] == 0;
}

/* The channel's outcome from what was seen. */
static void classify(struct share_work *d, uint32_t i, bool all_new)
{
	struct carry_channel *c = &d->job->channel[i];
	const struct folder_seen *now = &d->now[i];
	bool wanted = share_wanted(d, i, now);

	c->has_sha = d->now_known[i] && now->there;
	c->sha = now->sha;
	c->compared = 0;
	if (!d->now_known[i])
		c->held = CARRY_HELD_UNKNOWN;
	else if (wanted && (all_new || !d->old_known[i] || !folder_equal(now, &d->old[i])))
		c->held = CARRY_HELD_NEW;
	else if (!now->there && d->job->order->item[i].has_expect)
		c->held = CARRY_HELD_ABSENT;
	else if (d->old_known[i] && folder_equal(now, &d->old[i]))
		c->held = CARRY_HELD_OLD;
	else
		c->held = now->there ? CARRY_HELD_OTHER : CARRY_HELD_ABSENT;
	if (c->held == CARRY_HELD_NEW) {
		c->compared = 1;
		c->bytes = now->size;
	}
}

static void look(struct share_work *d, bool keep)
{
	for (uint32_t i = 0; i < d->n; i++) {
		share_phase(d, i, CARRY_PHASE_COMPARE, 0);
		share_look_at(d, i, keep);
	}
	for (uint32_t i = 0; i < d->n; i++)
		classify(d, i, share_all_new(d));
}

void share_look(struct share_work *d)
{
	look(d, false);
}

bool share_all_new(const struct share_work *d)
{
	for (uint32_t i = 0; i < d->n; i++)
		if (!d->now_known[i] || !share_wanted(d, i, &d->now[i]))
			return false;
	return true;
}

/* True when item i is to be put back: our program is there, and it is not also the old one. */
static bool is_ours(const struct share_work *d, uint32_t i)
{
	if (d->now_known[i] && d->old_known[i] && folder_equal(&d->now[i], &d->old[i]))
		return false;
	return d->done[i] || (d->now_known[i] && share_wanted(d, i, &d->now[i]));
}

/* The old program written anew under its name, where nothing is and no rename leads there. */
static int write_anew(struct share_work *d, uint32_t i, const char *old)
{
	struct folder *f = d->folder[i];
	struct folder_seen seen;
	int rc = f->ops->read(f, old, true, &d->old[i], &seen);

	if (!rc)
		rc = folder_equal(&seen, &d->old[i])
		         ? folder_write(f, d->job->order->item[i].target, &seen, &seen)
		         : -ENOENT;
	folder_drop(&seen);
	return rc;
}

static int put_back_one(struct share_work *d, uint32_t i)
{
	const struct carry_item *it = &d->job->order->item[i];
	struct folder *f = d->folder[i];
	char old[LEFTOVER_NAME];
	int rc;

	share_name(d, i, LEFTOVER_OLD, old);
	share_phase(d, i, CARRY_PHASE_PLACE, 0);
	if (!d->old_known[i])
		return -ENOENT;
	if (!d->old[i].there)
		rc = share_changed(d, i, f->ops->remove(f, it->target));
	else
		rc = share_replace(d, i, old, &d->now[i]);
	if (rc && d->old[i].there && d->common.refused) {
		share_look_at(d, i, false);
		if (d->now_known[i] && !d->now[i].there)
			rc = write_anew(d, i, old);
	}
	return rc ? rc : f->ops->sync(f);
}

/* Somebody has written over our program since it was put there: that is not lost when the old one
 * comes back. */
static int save_edits(struct share_work *d)
{
	for (uint32_t i = 0; i < d->n; i++) {
		const struct folder_seen *s = &d->now[i];
		int rc;

		if (!is_ours(d, i) || !d->now_known[i] || !s->there || share_wanted(d, i, s))
			continue;
		share_look_at(d, i, true);
		if (!d->now_known[i])
			return share_fault(d, -EIO, i, "reading what somebody wrote over");
		rc = s->there ? parent_content(
		                    d->job->parent, i, CARRY_ROLE_OLD, s->fd, s->size, &s->sha)
		              : 0;
		if (rc)
			return share_fault(d, rc, i, "handing over what somebody wrote over");
	}
	return 0;
}

/* See to it that nothing comes late, and look. */
static void look_for_sure(struct share_work *d)
{
	for (uint32_t i = 0; i < d->n; i++) {
		struct folder *f = d->folder[i];
		char part[LEFTOVER_NAME];

		share_name(d, i, LEFTOVER_PART, part);
		if (d->unsure[i])
			f->ops->remove(f, part);
	}
	share_look(d);
	for (uint32_t i = 0; i < d->n; i++)
		if (d->unsure[i] && d->now_known[i]) {
			d->done[i] = !folder_equal(&d->now[i], &d->old[i]);
			d->unsure[i] = false;
		}
}

/* What keeps the machine from being all old: SETTLED, or MIXED, or UNREAD. */
enum settled { SETTLED, MIXED, UNREAD };

static enum settled judge(const struct share_work *d)
{
	enum settled is = SETTLED;

	for (uint32_t i = 0; i < d->n; i++) {
		if (!d->now_known[i] && (d->done[i] || d->unsure[i]))
			return UNREAD;
		if (is_ours(d, i))
			is = MIXED;
	}
	return is;
}

int share_put_back(struct share_work *d)
{
	struct job *j = d->job;
	enum settled is;

	d->rescue = true;
	look_for_sure(d);
	is = judge(d);
	if (is == SETTLED)
		return 0;
	if (is == MIXED && !save_edits(d) && parent_step_back(j->parent, CARRY_STEP_PUT_BACK, d->n)) {
		for (uint32_t i = d->n; i-- > 0;) {
			int rc = is_ours(d, i) ? put_back_one(d, i) : 0;

			if (rc)
				share_fault(d, rc == SHARE_CHANGED ? -EBUSY : rc, i, "putting back");
		}
		share_look(d);
		is = judge(d);
	}
	if (is == SETTLED)
		return 1;
	fault_set(&j->fault, CARRY_ERROR_IO, d->n, "the share holds halves of two pairs");
	fault_add(&j->fault,
	    is == MIXED ? "; the old programs could not all be put back and lie beside as %syoke-*.old"
	                : "; what the machine holds is not known until its share can be read again; "
	                  "what is needed to put it right lies there as %syoke-*",
	    d->folder[0]->hide);
	return -1;
}

/* What each channel held before the order, from its .old or .none, or from what the parent
 * believes. */
static int learn_old(struct share_work *d)
{
	const struct carry_order *o = d->job->order;

	for (uint32_t i = 0; i < d->n; i++) {
		struct folder *f = d->folder[i];
		char name[LEFTOVER_NAME];

		share_name(d, i, LEFTOVER_OLD, name);
		if (share_has(d, i, LEFTOVER_OLD)) {
			int rc = f->ops->read(f, name, false, NULL, &d->old[i]);

			if (rc)
				return share_fault(d, rc, i, "reading what is kept of");
			d->old_known[i] = d->old[i].there;
		} else if (share_has(d, i, LEFTOVER_NONE)) {
			d->old[i] = (struct folder_seen){.fd = -1};
			d->old_known[i] = true;
		} else if (o->item[i].has_expect) {
			/* Its size is not known and its sum says enough. */
			d->old[i] = (struct folder_seen){
			    .there = true, .fd = -1, .sha = o->item[i].expect};
			d->old[i].size = d->now[i].size;
			d->old_known[i] = true;
		} else if (!share_wanted(d, i, &d->now[i])) {
			/* The order can only have put there what it wanted: this is what was there.
			 */
			d->old[i] = d->now[i];
			d->old[i].fd = -1;
			d->old[i].bytes = NULL;
			d->old_known[i] = d->now_known[i];
		}
	}
	return 0;
}

/*
 * True when some channels hold the order's program and others what was there before, or one holds
 * nothing because the order has taken its program away (see the top).
 */
static bool interrupted(struct share_work *d)
{
	bool some_new = false, some_left = false, some_away = false, all_kept = true;

	if (!share_own(d))
		return false; /* it had ended, and cleaned up behind itself */
	for (uint32_t i = 0; i < d->n; i++) {
		bool has_old = share_has(d, i, LEFTOVER_OLD),
		     kept = has_old || share_has(d, i, LEFTOVER_NONE);

		if (share_wanted(d, i, &d->now[i])) {
			some_new |= is_ours(d, i);
		} else {
			d->done[i] = all_kept && has_old && !d->now[i].there;
			some_away |= d->done[i];
			some_left |= share_has(d, i, LEFTOVER_PART) || !kept ||
			             (d->old_known[i] && folder_equal(&d->now[i], &d->old[i]));
		}
		all_kept = all_kept && kept;
	}
	return some_away || (some_new && some_left);
}

/* Hand over what is neither the new program nor the one that was believed to be there. */
static void hand_over(struct share_work *d)
{
	struct job *j = d->job;

	for (uint32_t i = 0; i < d->n; i++) {
		const struct carry_item *it = &j->order->item[i];
		const struct folder_seen *s = &d->now[i];
		int rc;

		if (!d->now_known[i] || !s->there || share_wanted(d, i, s) ||
		    (it->has_expect && !memcmp(&it->expect, &s->sha, sizeof s->sha)))
			continue;
		rc = parent_content(j->parent, i, CARRY_ROLE_COPY, s->fd, s->size, &s->sha);
		if (rc)
			share_fault(d, rc, i, "handing over");
	}
}

void share_tell_edits(struct share_work *d)
{
	look(d, true);
	for (uint32_t i = 0; i < d->n; i++)
		if (d->now_known[i] && d->old_known[i] && folder_equal(&d->now[i], &d->old[i]))
			folder_drop(&d->now[i]); /* the parent has it */
	hand_over(d);
}

/* Look at all of it. 0, or -1 with the fault set when some of it cannot be read. */
static int look_at_all(struct share_work *d, bool keep)
{
	look(d, keep);
	for (uint32_t i = 0; i < d->n; i++) {
		int rc = d->now_rc[i];

		if (rc == -ECANCELED || rc == -ETIME || rc == FOLDER_SAID)
			return share_fault(d, rc, i, "reading");
		if (rc)
			return fault_set(&d->job->fault, CARRY_ERROR_IO, i,
			    "'%s' of channel %s cannot be read: %s", d->job->order->item[i].target,
			    d->job->order->item[i].channel, strerror(-rc));
	}
	return 0;
}

void share_inspect(struct share_work *d)
{
	struct job *j = d->job;
	int rc;

	if (look_at_all(d, false))
		return;
	rc = share_survey(d);
	if (rc) {
		share_fault(d, rc, d->n, "looking for what is kept beside");
		return;
	}
	if (learn_old(d) || (interrupted(d) && share_put_back(d) < 0))
		return;
	d->rescue = true;
	rc = look_at_all(d, true);
	d->rescue = false;
	if (rc)
		return;
	hand_over(d);
	if (!j->fault.error)
		share_tidy(d, SHARE_SWEEP_OWN);
}
