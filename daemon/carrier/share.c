#include "share.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/random.h>
#include "place.h"
#include "share_work.h"

void share_phase(struct share_work *d, uint32_t item, enum carry_phase phase, uint64_t total)
{
	d->at = (struct carry_progress){item, phase, 0, total, 0, UINT64_MAX};
	parent_progress(d->job->parent, &d->at);
}

/* Ends a folder's call with -ECANCELED or -ETIME. */
static int on_tick(void *ctx, uint64_t done)
{
	struct share_work *d = ctx;
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

int share_fault(struct share_work *d, int rc, uint32_t item, const char *what)
{
	uint32_t i = item < d->n ? item : 0;
	const struct carry_item *it = &d->job->order->item[i];
	struct fault *f = &d->job->fault;

	if (rc == -ECANCELED)
		return fault_set(f, CARRY_ERROR_CANCELLED, item, "cancelled");
	if (rc == -ETIME)
		return fault_set(f, CARRY_ERROR_TIME, item,
		    "the order took longer than %u ms; see total_ms in the machine's settings",
		    folder_total(&it->line));
	if (rc == -EBADMSG)
		return fault_set(f, CARRY_ERROR_DIFFERS, item,
		    "%s '%s' of channel %s: what was read back is not what was written", what,
		    it->target, it->channel);
	if (rc == -ELOOP || rc == -EISDIR || rc == -ENXIO)
		return fault_set(f, CARRY_ERROR_NAME, item,
		    "%s '%s' of channel %s: it is a link, folder or device, no program", what,
		    it->target, it->channel);
	if (rc == -E2BIG)
		return fault_set(f, CARRY_ERROR_REFUSED, item,
		    "%s '%s' of channel %s: there are thousands of temporaries (%syoke-*): is this the "
		    "machine's folder? Remove them there",
		    what, it->target, it->channel, d->folder[i]->hide);
	if (rc == FOLDER_SAID)
		return fault_set(f, d->common.said.error, item, "%s '%s' of channel %s: %s", what,
		    it->target, it->channel, d->common.said.text);
	return fault_errno(f, -rc, item, "%s '%s' of channel %s", what, it->target, it->channel);
}

int share_step(struct share_work *d, enum carry_step_kind step, uint32_t item)
{
	if (parent_step(d->job->parent, step, item))
		return 0;
	return fault_set(&d->job->fault, CARRY_ERROR_CANCELLED, item, "cancelled");
}

bool share_wanted(const struct share_work *d, uint32_t i, const struct folder_seen *seen)
{
	return seen->there && !memcmp(&seen->sha, &d->job->order->item[i].want, sizeof seen->sha);
}

struct folder_seen share_program(const struct share_work *d, uint32_t i)
{
	const struct carry_item *it = &d->job->order->item[i];
	const unsigned char *bytes = d->job->program[i];

	if (!bytes)
		return (struct folder_seen){.fd = -1};
	return (struct folder_seen){
	    .there = true, .size = it->size, .sha = it->want, .fd = -1, .bytes = bytes};
}

int share_check(struct share_work *d, uint32_t i)
{
	return d->folder[i]->ops->check(d->folder[i], &d->job->fault);
}

int share_check_all(struct share_work *d)
{
	for (uint32_t i = 0; i < d->n; i++) {
		bool checked = false;

		for (uint32_t k = 0; k < i; k++)
			checked |= d->folder[i]->ops->one_check(d->folder[i], d->folder[k]);
		if (!checked && share_check(d, i))
			return -1;
	}
	return 0;
}

void share_name(
    const struct share_work *d, uint32_t i, enum leftover_kind kind, char name[LEFTOVER_NAME])
{
	bool once = kind == LEFTOVER_PART || kind == LEFTOVER_COPY;

	leftover_name(name, d->folder[i]->hide, d->job->order->id, once ? d->try : 0,
	    d->job->order->item[i].channel, kind);
}

static int check_names(struct share_work *d)
{
	const struct carry_order *o = d->job->order;

	for (uint32_t i = 0; i < d->n; i++) {
		struct leftover ours;

		if (!place_name_ok(o->item[i].target) || leftover_parse(o->item[i].target, &ours))
			return fault_set(&d->job->fault, CARRY_ERROR_NAME, i,
			    "the name on the machine of channel %s is not allowed: one file name "
			    "of at most 255 bytes without "
			    "'/', '\\' and control characters, and without a dot or blank at its "
			    "end; change 'name' in the machine's settings",
			    o->item[i].channel);
		/* Many shares do not tell upper from lower case. */
		for (uint32_t k = 0; k < i; k++)
			if (d->folder[i]->ops->same(d->folder[i], d->folder[k]) &&
			    !strcasecmp(o->item[i].target, o->item[k].target))
				return fault_set(&d->job->fault, CARRY_ERROR_NAME, i,
				    "channels %s and %s have the same name in the same folder; "
				    "change 'name' or 'folder'",
				    o->item[k].channel, o->item[i].channel);
	}
	return 0;
}

/* In the names of what this try writes: never 0, and hardly ever the same twice. */
static uint32_t new_try(void)
{
	uint32_t n = 0;

	if (getrandom(&n, sizeof n, GRND_NONBLOCK) != (ssize_t)sizeof n)
		n = (uint32_t)parent_now();
	return n ? n : 1;
}

static int open_folders(struct share_work *d)
{
	uint32_t total = 0;

	for (uint32_t i = 0; i < d->n; i++)
		if (folder_total(&d->job->order->item[i].line) > total)
			total = folder_total(&d->job->order->item[i].line);
	d->deadline = total ? parent_now() + total : UINT64_MAX;
	for (uint32_t i = 0; i < d->n; i++) {
		const struct line *l = &d->job->order->item[i].line;

		share_phase(d, i, CARRY_PHASE_OPEN, 0);
		d->folder[i] = folder_open(l, i, &d->common, d->folder, i, &d->job->fault);
		if (!d->folder[i])
			return -1;
	}
	return check_names(d);
}

static void fetch(struct share_work *d)
{
	struct job *j = d->job;

	for (uint32_t i = 0; i < d->n; i++) {
		const struct carry_item *it = &j->order->item[i];
		struct folder *f = d->folder[i];
		struct folder_seen *s = &d->now[i];
		int rc;

		share_phase(d, i, CARRY_PHASE_RECEIVE, 0);
		if (share_check(d, i))
			return;
		rc = f->ops->read(f, it->target, true, NULL, s);
		if (!rc && share_check(d, i))
			return;
		if (!rc && s->there)
			rc = parent_content(j->parent, i, CARRY_ROLE_COPY, s->fd, s->size, &s->sha);
		if (rc) {
			share_fault(d, rc, i, "reading");
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

static void clear(struct share_work *d)
{
	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++) {
		folder_drop(&d->old[i]);
		folder_drop(&d->now[i]);
		folder_close(d->folder[i]);
	}
	free(d->left);
}

void share_run(struct job *j)
{
	struct share_work d = {
	    .job = j, .n = j->order->items, .deadline = UINT64_MAX, .try = new_try()};

	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		d.old[i].fd = d.now[i].fd = -1;
	d.common.tick = (struct folder_tick){on_tick, &d};
	if (!open_folders(&d)) {
		if (j->order->act == CARRY_SEND)
			share_send(&d);
		else if (j->order->act == CARRY_TRY)
			share_try(&d);
		else if (j->order->act == CARRY_INSPECT)
			share_inspect(&d);
		else
			fetch(&d);
	}
	share_tell_gap(&d);
	clear(&d);
}
