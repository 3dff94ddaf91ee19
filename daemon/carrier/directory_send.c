/*
 *   keep --> tidy --> write --> replace 0 --> ... --> replace n-1 --> verify --> clean --> tidy
 *     |        |        |           |                      |             |
 *     +--------+--------+--- nothing changed: clean        +-- put back -+--> clean, or left as it
 * is for CARRY_INSPECT
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include "directory_work.h"
#include "running.h"

/* The old programs of all channels, in memory and at the parent, before anything else. */
static int keep_all(struct directory *d)
{
	struct job *j = d->job;

	for (uint32_t i = 0; i < d->n; i++) {
		struct file_tick tick = directory_tick(d);
		struct file_seen *s = &d->old[i];
		int rc;

		directory_phase(d, i, CARRY_PHASE_KEEP, 0);
		rc = file_read(d->place[i].folder, j->order->item[i].target, true, &tick, s);
		if (!rc && s->there)
			rc = parent_content(j->parent, i, CARRY_ROLE_OLD, s->fd, s->size, &s->sha);
		if (rc)
			return directory_fault(d, rc, i, "reading the old program");
		d->old_known[i] = true;
		if (!s->there && j->order->item[i].has_expect)
			j->channel[i].held = CARRY_HELD_ABSENT;
		j->channel[i].has_sha = s->there;
		j->channel[i].sha = s->sha;
	}
	return 0;
}

/* Say that there was no old program. */
static int write_none(int folder, const char *name)
{
	int fd = openat(folder, name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666),
	    rc;

	if (fd < 0)
		return -errno;
	rc = fsync(fd) ? -errno : 0;
	return close(fd) && !rc ? -errno : rc;
}

static int write_one(struct directory *d, uint32_t i)
{
	const struct carry_order *o = d->job->order;
	const struct carry_item *it = &o->item[i];
	struct file_tick tick = directory_tick(d);
	char part[LEFTOVER_NAME], old[LEFTOVER_NAME], none[LEFTOVER_NAME];
	int folder = d->place[i].folder, rc;

	leftover_name(part, o->id, it->channel, LEFTOVER_PART);
	leftover_name(old, o->id, it->channel, LEFTOVER_OLD);
	leftover_name(none, o->id, it->channel, LEFTOVER_NONE);
	if (place_check(&d->place[i], &d->job->fault))
		return -1;
	directory_phase(d, i, CARRY_PHASE_SEND, it->size);
	rc = file_write(folder, part, d->job->program[i], it->size, &it->want, &d->old[i], &tick);
	d->job->channel[i].bytes = rc ? 0 : it->size;
	if (rc)
		return directory_fault(d, rc, i, "writing the new program for");
	rc = d->old[i].there ? file_keep_beside(folder, it->target, old, &d->old[i], &tick)
	                     : write_none(folder, none);
	if (!rc)
		rc = file_sync_folder(folder);
	return rc ? directory_fault(d, rc, i, "keeping the old program beside") : 0;
}

static int replace_one(struct directory *d, uint32_t i)
{
	struct job *j = d->job;
	const struct carry_item *it = &j->order->item[i];
	struct file_tick tick = directory_tick(d);
	int folder = d->place[i].folder, rc;
	struct file_seen before;
	char part[LEFTOVER_NAME];

	leftover_name(part, j->order->id, it->channel, LEFTOVER_PART);
	if (directory_step(d, CARRY_STEP_REPLACE, i) || place_check(&d->place[i], &j->fault))
		return -1;
	directory_phase(d, i, CARRY_PHASE_PLACE, 0);
	rc = file_read(folder, it->target, false, &tick, &before);
	if (rc)
		return directory_fault(d, rc, i, "looking again at the old program");
	if (!file_same(&before, &d->old[i]))
		return fault_set(&j->fault, CARRY_ERROR_IO, i,
		    "'%s' of channel %s was changed by somebody else during the order; look at it "
		    "and send again",
		    it->target, it->channel);
	if (renameat(folder, part, folder, it->target)) {
		int e = errno;
		struct file_seen after;

		/* Over a network a rename that was reported as failed may have been done. */
		d->done[i] = file_read(folder, it->target, false, NULL, &after) == 0 &&
		             directory_wanted(d, i, &after) && !file_same(&after, &d->old[i]);
		if (!d->done[i])
			return directory_fault(d, -e, i, "putting the new program in place of");
	}
	d->done[i] = true;
	rc = file_sync_folder(folder);
	return rc ? directory_fault(d, rc, i, "syncing the folder of") : 0;
}

static int in_root(void *ctx, const char *name)
{
	const struct directory *d = ctx;

	if (!faccessat(d->place[0].root, name, F_OK, AT_SYMLINK_NOFOLLOW))
		return 1;
	return errno == ENOENT ? 0 : -errno;
}

static int replace_all(struct directory *d)
{
	if (place_check(&d->place[0], &d->job->fault) || running_check(d->job, in_root, d))
		return -1;
	for (uint32_t i = 0; i < d->n; i++)
		if (replace_one(d, i))
			return -1;
	d->rescue = true;
	directory_look(d);
	for (uint32_t i = 0; i < d->n; i++) {
		/* What we hold open must still be what the machine sees. */
		if (place_check(&d->place[i], &d->job->fault))
			return -1;
		if (!d->now_known[i] || !directory_wanted(d, i, &d->now[i]))
			return directory_fault(d, -EBADMSG, i, "reading the new program back from");
	}
	return 0;
}

static void clean(struct directory *d)
{
	int rc = directory_clean(d);

	/* The programs are where they belong; stale temporaries are found by the next order. */
	if (rc && d->job->fault.error)
		fault_add(&d->job->fault, "; temporaries .yoke-* could not be removed");
}

/* Back to the old pair, or at least to what can be told. */
static void undo(struct directory *d)
{
	bool touched = false;

	d->rescue = true;
	for (uint32_t i = 0; i < d->n; i++)
		touched |= d->done[i];
	if (touched && directory_put_back(d))
		return;
	clean(d);
	if (d->job->fault.error)
		fault_add(&d->job->fault,
		    touched ? "; the old programs were put back" : "; nothing was changed");
}

void directory_send(struct directory *d)
{
	if (keep_all(d) || directory_tidy(d, DIRECTORY_SWEEP_OWN) ||
	    directory_step(d, CARRY_STEP_WRITE, d->n)) {
		if (d->job->fault.error)
			fault_add(&d->job->fault, "; nothing was changed");
		return;
	}
	for (uint32_t i = 0; i < d->n; i++)
		if (write_one(d, i)) {
			undo(d);
			return;
		}
	if (replace_all(d)) {
		undo(d);
		return;
	}
	clean(d);
	d->rescue = false;
	/* The pair is carried: what is left from earlier orders must not make it a failure. */
	directory_tidy(d, DIRECTORY_SWEEP_PAST);
	memset(&d->job->fault, 0, sizeof d->job->fault);
}
