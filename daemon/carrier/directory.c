#include "directory.h"

#include <errno.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>
#include "directory_work.h"

void directory_phase(struct directory *d, uint32_t item, enum carry_phase phase, uint64_t total)
{
	d->at = (struct carry_progress){item, phase, 0, total, 0, UINT64_MAX};
	parent_progress(d->job->parent, &d->at);
}

static int on_tick(void *ctx, uint64_t done)
{
	struct directory *d = ctx;
	bool stop;

	d->at.bytes = done;
	parent_progress(d->job->parent, &d->at);
	stop = parent_tick(d->job->parent);
	if (d->rescue)
		return 0;
	if (stop)
		return -ECANCELED;
	return parent_now() >= d->deadline ? -ETIME : 0;
}

struct file_tick directory_tick(struct directory *d)
{
	return (struct file_tick){on_tick, d};
}

int directory_fault(struct directory *d, int rc, uint32_t item, const char *what)
{
	const struct carry_item *it = &d->job->order->item[item < d->n ? item : 0];
	struct fault *f = &d->job->fault;

	if (rc == -ECANCELED)
		return fault_set(f, CARRY_ERROR_CANCELLED, item, "cancelled");
	if (rc == -ETIME)
		return fault_set(f, CARRY_ERROR_TIME, item,
		    "the order took longer than %u ms; see total in the machine's settings",
		    it->line.directory.total_ms);
	if (rc == -EBADMSG)
		return fault_set(f, CARRY_ERROR_DIFFERS, item,
		    "%s '%s' of channel %s: what was read back is not what was written", what,
		    it->target, it->channel);
	if (rc == -ELOOP || rc == -EISDIR || rc == -ENXIO)
		return fault_set(f, CARRY_ERROR_NAME, item,
		    "%s '%s' of channel %s: it is a link, folder or device, no program", what,
		    it->target, it->channel);
	return fault_errno(f, -rc, item, "%s '%s' of channel %s", what, it->target, it->channel);
}

int directory_step(struct directory *d, enum carry_step_kind step, uint32_t item)
{
	if (parent_step(d->job->parent, step, item))
		return 0;
	return fault_set(&d->job->fault, CARRY_ERROR_CANCELLED, item, "cancelled");
}

bool directory_wanted(const struct directory *d, uint32_t i, const struct file_seen *seen)
{
	return seen->there && !memcmp(&seen->sha, &d->job->order->item[i].want, sizeof seen->sha);
}

static int check_names(struct directory *d)
{
	const struct carry_order *o = d->job->order;

	for (uint32_t i = 0; i < d->n; i++) {
		if (!place_name_ok(o->item[i].target))
			return fault_set(&d->job->fault, CARRY_ERROR_NAME, i,
			    "the name on the machine of channel %s is not allowed: one file name "
			    "of at most 255 bytes without "
			    "'/' and control characters; change 'name' in the machine's settings",
			    o->item[i].channel);
		/* Many shares do not tell upper from lower case. */
		for (uint32_t k = 0; k < i; k++)
			if (place_same(&d->place[i], &d->place[k]) &&
			    !strcasecmp(o->item[i].target, o->item[k].target))
				return fault_set(&d->job->fault, CARRY_ERROR_NAME, i,
				    "channels %s and %s have the same name in the same folder; "
				    "change 'name' or 'folder'",
				    o->item[k].channel, o->item[i].channel);
	}
	return 0;
}

static int open_places(struct directory *d)
{
	uint32_t total = 0;

	for (uint32_t i = 0; i < d->n; i++) {
		const struct line_directory *l = &d->job->order->item[i].line.directory;

		directory_phase(d, i, CARRY_PHASE_OPEN, 0);
		if (place_open(&d->place[i], l, i, d->place, i, &d->job->fault))
			return -1;
		total = l->total_ms > total ? l->total_ms : total;
	}
	d->deadline = total ? parent_now() + total : UINT64_MAX;
	return check_names(d);
}

static void fetch(struct directory *d)
{
	struct job *j = d->job;

	for (uint32_t i = 0; i < d->n; i++) {
		const struct carry_item *it = &j->order->item[i];
		struct file_tick tick = directory_tick(d);
		struct file_seen *s = &d->now[i];
		int rc;

		directory_phase(d, i, CARRY_PHASE_RECEIVE, 0);
		rc = place_check(&d->place[i], &j->fault);
		if (rc)
			return;
		rc = file_read(d->place[i].folder, it->target, true, &tick, s);
		if (!rc && place_check(&d->place[i], &j->fault))
			return;
		if (!rc && s->there)
			rc = parent_content(j->parent, i, CARRY_ROLE_COPY, s->fd, s->size, &s->sha);
		if (rc) {
			directory_fault(d, rc, i, "reading");
			return;
		}
		j->channel[i].held =
		    !s->there ? CARRY_HELD_ABSENT
		    : it->has_expect && !memcmp(&it->expect, &s->sha, sizeof s->sha)
		        ? CARRY_HELD_OLD
		        : CARRY_HELD_OTHER;
		j->channel[i].has_sha = s->there;
		j->channel[i].sha = s->sha;
	}
}

static void clear(struct directory *d)
{
	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++) {
		if (d->old[i].fd >= 0)
			close(d->old[i].fd);
		if (d->now[i].fd >= 0)
			close(d->now[i].fd);
		place_close(&d->place[i]);
	}
}

void directory_run(struct job *j)
{
	struct directory d = {.job = j, .n = j->order->items, .deadline = UINT64_MAX};

	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		d.place[i].root = d.place[i].folder = d.old[i].fd = d.now[i].fd = -1;
	if (!open_places(&d)) {
		if (j->order->act == CARRY_SEND)
			directory_send(&d);
		else if (j->order->act == CARRY_INSPECT)
			directory_inspect(&d);
		else
			fetch(&d);
	}
	clear(&d);
}
