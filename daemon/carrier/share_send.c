/*
 *   keep --> tidy --> write --> replace 0 --> ... --> replace n-1 --> verify --> clean --> tidy
 *     |        |        |           |                      |             |
 *     +--------+--------+--- nothing changed: clean        +-- put back -+--> clean, or left as it
 * is for CARRY_INSPECT
 */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include "running.h"
#include "sha256.h"
#include "share_work.h"

/* A copy of the old program that has its name only when it is whole. */
static int copy_old(struct share_work *d, uint32_t i, const char *old)
{
	struct folder *f = d->folder[i];
	char copy[LEFTOVER_NAME];
	int rc;

	share_name(d, i, LEFTOVER_COPY, copy);
	rc = folder_write(f, copy, &d->old[i], &d->old[i]);
	return rc ? rc : f->ops->rename(f, copy, old);
}

/* The old program under a second name, and that it is the one that was seen; or a file that says that
 * there was none, which prove_kept() looks at. */
static int keep_beside(struct share_work *d, uint32_t i)
{
	struct folder *f = d->folder[i];
	char name[LEFTOVER_NAME];
	struct folder_seen now;
	int rc;

	share_name(d, i, d->old[i].there ? LEFTOVER_OLD : LEFTOVER_NONE, name);
	if (!d->old[i].there)
		return f->ops->put(f, name, &d->none, NULL);
	rc = f->ops->twin(f, d->job->order->item[i].target, name);
	if (rc == -EOPNOTSUPP)
		return copy_old(d, i, name);
	d->twin[i] = !rc;
	if (!rc)
		rc = f->ops->read(f, name, false, &d->old[i], &now);
	return !rc && !folder_equal(&now, &d->old[i]) ? -EBADMSG : rc;
}

static int prove_kept(struct share_work *d, uint32_t i)
{
	struct folder *f = d->folder[i];
	char none[LEFTOVER_NAME];

	share_name(d, i, LEFTOVER_NONE, none);
	return d->old[i].there ? 0 : f->ops->prove(f, none, &d->none);
}

/* The names in all folders. */
static int sync_all(struct share_work *d)
{
	int rc = share_sync(d);

	return rc ? share_fault(d, rc, d->n, "syncing the folder of") : 0;
}

/*
 * A file of so many bytes could not be written. Over a network a full disk may be told as nothing but
 * that the writing failed; what was written is taken away, and the room that is left then tells.
 */
static int write_failed(
    struct share_work *d, int rc, uint32_t i, const char *name, uint64_t size, const char *what)
{
	struct folder *f = d->folder[i];
	uint64_t room;

	if ((rc == -EIO || rc == -EPERM) && f->ops->room && !f->ops->remove(f, name) &&
	    !f->ops->room(f, &room) && room < size)
		rc = -ENOSPC;
	return share_fault(d, rc, i, what);
}

static int cannot_write(struct share_work *d, int rc, uint32_t i)
{
	char part[LEFTOVER_NAME];

	d->job->channel[i].bytes = 0;
	share_name(d, i, LEFTOVER_PART, part);
	return write_failed(
	    d, rc, i, part, d->job->order->item[i].size, "writing the new program for");
}

static int cannot_keep(struct share_work *d, int rc, uint32_t i)
{
	char copy[LEFTOVER_NAME];

	share_name(d, i, LEFTOVER_COPY, copy);
	return write_failed(d, rc, i, copy, d->old[i].size, "keeping the old program beside");
}

/* The new program, and what was there, beside it. */
static int put_one(struct share_work *d, uint32_t i)
{
	struct folder_seen new = share_program(d, i);
	struct folder *f = d->folder[i];
	char part[LEFTOVER_NAME];
	int rc;

	share_name(d, i, LEFTOVER_PART, part);
	share_phase(d, i, CARRY_PHASE_SEND, new.size);
	rc = f->ops->put(f, part, &new, &d->old[i]);
	if (rc)
		return cannot_write(d, rc, i);
	d->job->channel[i].bytes = new.size;
	rc = keep_beside(d, i);
	return rc ? cannot_keep(d, rc, i) : 0;
}

static int prove_one(struct share_work *d, uint32_t i)
{
	struct folder_seen new = share_program(d, i);
	struct folder *f = d->folder[i];
	char part[LEFTOVER_NAME];
	int rc;

	share_name(d, i, LEFTOVER_PART, part);
	share_phase(d, i, CARRY_PHASE_COMPARE, 0);
	rc = f->ops->prove(f, part, &new);
	if (rc)
		return cannot_write(d, rc, i);
	rc = prove_kept(d, i);
	return rc ? cannot_keep(d, rc, i) : 0;
}

/* All of it is put before any of it is waited for: a disk takes many files in the time of one. */
static int write_all(struct share_work *d)
{
	static const unsigned char none[] = "There was no program of this name.\n";

	d->none = (struct folder_seen){
	    .there = true, .size = sizeof none - 1, .fd = -1, .bytes = none};
	if (sha256_of(none, sizeof none - 1, d->none.sha.b))
		return share_fault(d, -EIO, d->n, "writing beside");
	if (share_check_all(d))
		return -1;
	for (uint32_t i = 0; i < d->n; i++)
		if (put_one(d, i))
			return -1;
	for (uint32_t i = 0; i < d->n; i++)
		if (prove_one(d, i))
			return -1;
	return sync_all(d);
}

static int replace_one(struct share_work *d, uint32_t i)
{
	const struct carry_item *it = &d->job->order->item[i];
	char part[LEFTOVER_NAME];
	int rc;

	share_name(d, i, LEFTOVER_PART, part);
	if (share_step(d, CARRY_STEP_REPLACE, i) || share_check(d, i))
		return -1;
	share_phase(d, i, CARRY_PHASE_PLACE, 0);
	rc = share_replace(d, i, part, &d->old[i]);
	d->edited |= rc == SHARE_CHANGED;
	if (rc == SHARE_CHANGED)
		return fault_set(&d->job->fault, CARRY_ERROR_IO, i,
		    "'%s' of channel %s was changed by somebody else during the order; look at it "
		    "and send again",
		    it->target, it->channel);
	if (rc && !(d->unsure[i] && share_was_done(d, i)))
		return share_fault(d, rc, i, "putting the new program in place of");
	return 0;
}

static int replace_all(struct share_work *d)
{
	/* Before the root is believed to have no such file. */
	if (running_by_file(d->job) && share_check(d, 0))
		return -1;
	if (running_check(d->job, share_in_root, d))
		return -1;
	for (uint32_t i = 0; i < d->n; i++)
		if (replace_one(d, i))
			return -1;
	if (sync_all(d))
		return -1;
	d->rescue = true;
	share_look(d);
	/* What we hold open must still be what the machine sees. */
	if (share_check_all(d))
		return -1;
	for (uint32_t i = 0; i < d->n; i++) {
		if (!d->now_known[i] || !share_wanted(d, i, &d->now[i]))
			return share_fault(d, -EBADMSG, i, "reading the new program back from");
	}
	return 0;
}

/*
 * Who had an old program open when it was replaced, such as an editor at the control, goes on writing into
 * it: under its second name that is seen, and it is not thrown away with it. 0, or -1: it lies there still.
 */
static int save_late(struct share_work *d)
{
	struct job *j = d->job;
	int result = 0;

	for (uint32_t i = 0; i < d->n; i++) {
		char name[LEFTOVER_NAME];
		struct folder_seen now;
		size_t told = strlen(j->note);

		if (!d->twin[i])
			continue;
		share_name(d, i, LEFTOVER_OLD, name);
		if (d->folder[i]->ops->read(d->folder[i], name, true, &d->old[i], &now)) {
			result = -1;
			continue;
		}
		if (now.there && !folder_equal(&now, &d->old[i])) {
			if (parent_content(
			        j->parent, i, CARRY_ROLE_OLD, now.fd, now.size, &now.sha))
				result = -1;
			snprintf(j->note + told, sizeof j->note - told,
			    "%s%s: somebody wrote into the old program while it was replaced; that "
			    "was kept, and is not on the machine",
			    told ? "; " : "", j->order->item[i].channel);
		}
		folder_drop(&now);
	}
	return result;
}

static void clean(struct share_work *d)
{
	/* The programs are where they belong; stale temporaries are found by the next order. */
	if (share_clean(d) && d->job->fault.error)
		fault_add(&d->job->fault, "; temporaries %syoke-* could not be removed",
		    d->folder[0]->hide);
}

/* Back to the old pair, or at least to what can be told. */
static void undo(struct share_work *d)
{
	bool touched = false;
	int back = 0;

	d->rescue = true;
	for (uint32_t i = 0; i < d->n; i++)
		touched |= d->done[i] || d->unsure[i];
	if (touched)
		back = share_put_back(d);
	if (back < 0)
		return;
	/* What was met is not what the machine held before. */
	if (d->edited)
		share_tell_edits(d);
	clean(d);
	fault_add(&d->job->fault,
	    back ? "; the old programs were put back" : "; nothing was changed");
}

void share_send(struct share_work *d)
{
	if (share_keep(d) || share_tidy(d, SHARE_SWEEP_OWN) ||
	    share_step(d, CARRY_STEP_WRITE, d->n)) {
		fault_add(&d->job->fault, "; nothing was changed");
		return;
	}
	if (write_all(d) || replace_all(d)) {
		undo(d);
		return;
	}
	if (!save_late(d))
		clean(d);
	d->rescue = false;
	/* The pair is carried: what is left from earlier orders must not make it a failure. */
	share_tidy(d, SHARE_SWEEP_PAST);
	memset(&d->job->fault, 0, sizeof d->job->fault);
}
