/*
 * One name in place of another. Most shares replace by a rename, in one step. Some replace nothing
 * that is there; then the program has to be removed first, and for a moment there is none. Which kind
 * it is, is tried on files of our own, and only after a rename was refused: a share that refuses
 * something else must not get its program removed.
 */
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include "sha256.h"
#include "share_work.h"

/* The program is as it was. 0, SHARE_CHANGED, or what the folder gave. */
static int still(struct share_work *d, uint32_t i, const struct folder_seen *before)
{
	struct folder *f = d->folder[i];
	struct folder_seen now, new = share_program(d, i);
	int rc = f->ops->read(f, d->job->order->item[i].target, false,
	    !before->bytes && share_wanted(d, i, before) ? &new : before, &now);

	return rc ? rc : folder_equal(&now, before) ? 0 : SHARE_CHANGED;
}

int share_changed(struct share_work *d, uint32_t i, int rc)
{
	d->done[i] |= !rc;
	d->unsure[i] = rc && !d->common.refused;
	return rc;
}

bool share_was_done(struct share_work *d, uint32_t i)
{
	const struct fault said = d->common.said;
	bool rescue = d->rescue;

	d->rescue = true;
	share_look_at(d, i, false);
	d->rescue = rescue;
	d->common.said = said;
	if (!d->now_known[i] || !share_wanted(d, i, &d->now[i]) ||
	    folder_equal(&d->now[i], &d->old[i]))
		return false;
	share_changed(d, i, 0);
	return true;
}

/* A small file of our own, which the next clean-up removes. */
static int write_trial(struct share_work *d, uint32_t i, uint32_t number, char name[LEFTOVER_NAME])
{
	static const unsigned char text[] = "%\n";
	struct folder_seen trial = {.there = true, .size = sizeof text - 1, .fd = -1, .bytes = text};

	leftover_name(name, d->folder[i]->hide, d->job->order->id, d->try + number,
	    d->job->order->item[i].channel, LEFTOVER_COPY);
	return sha256_of(text, sizeof text - 1, trial.sha.b)
	           ? -EIO
	           : folder_write(d->folder[i], name, &trial, NULL);
}

/* True when the share refuses to rename a file onto one that is there, and else renames it. */
static bool never_replaces(struct share_work *d, uint32_t i)
{
	char one[LEFTOVER_NAME], other[LEFTOVER_NAME], third[LEFTOVER_NAME];
	struct folder *f = d->folder[i];

	leftover_name(third, f->hide, d->job->order->id, d->try + 3,
	    d->job->order->item[i].channel, LEFTOVER_COPY);
	if (write_trial(d, i, 1, one) || write_trial(d, i, 2, other))
		return false;
	return f->ops->rename(f, one, other) && d->common.refused && !f->ops->rename(f, one, third);
}

static int over_gap(struct share_work *d, uint32_t i, const char *from)
{
	const char *target = d->job->order->item[i].target;
	struct folder *f = d->folder[i];
	uint64_t began = parent_now();
	int rc = share_changed(d, i, f->ops->remove(f, target));

	if (!rc)
		rc = share_changed(d, i, f->ops->rename(f, from, target));
	if (!rc)
		d->away_ms[i] += parent_now() - began + 1; /* begun milliseconds */
	return rc;
}

int share_replace(
    struct share_work *d, uint32_t i, const char *from, const struct folder_seen *before)
{
	struct folder *f = d->folder[i];
	struct fault said;
	int rc = still(d, i, before);

	d->common.refused = false;
	if (rc)
		return rc;
	if (d->gap && before->there)
		return over_gap(d, i, from);
	rc = share_changed(d, i, f->ops->rename(f, from, d->job->order->item[i].target));
	if (!rc || !d->common.refused || !before->there)
		return rc;
	said = d->common.said;
	if (!never_replaces(d, i)) {
		/* Other files are replaced: somebody holds this one. */
		d->common.said = said;
		return rc == -EEXIST ? -EBUSY : rc;
	}
	d->gap = true;
	rc = still(d, i, before);
	return rc ? rc : over_gap(d, i, from);
}

void share_tell_gap(struct share_work *d)
{
	char *to = d->job->note;
	size_t n = strlen(to);

	for (uint32_t i = 0; i < d->n && n < sizeof d->job->note; i++)
		if (d->away_ms[i])
			n += (size_t)snprintf(to + n, sizeof d->job->note - n,
			    "%s%s was away for %" PRIu64 " ms",
			    n ? ", " : "the share replaces no file that is there: ",
			    d->job->order->item[i].channel, d->away_ms[i]);
}
