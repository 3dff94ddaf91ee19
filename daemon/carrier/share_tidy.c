#include <errno.h>
#include <stdlib.h>
#include "share_work.h"

/* The first item with item i's folder. */
static uint32_t first_with(const struct share_work *d, uint32_t i)
{
	uint32_t k = 0;

	while (k < i && !d->folder[i]->ops->same(d->folder[i], d->folder[k]))
		k++;
	return k;
}

/* So many lie beside no program; a list that has more is no list of a machine's folder, or has no end. */
enum { LEFTS_MAX = 4096 };

struct survey {
	struct share_work *d;
	uint32_t folder;
};

static int take_name(void *ctx, const char *name)
{
	const struct survey *s = ctx;
	struct share_work *d = s->d;
	struct leftover l;

	if (!leftover_parse(name, &l) || (*name == '.') != (*d->folder[s->folder]->hide == '.'))
		return 0;
	if (d->lefts == LEFTS_MAX)
		return -E2BIG;
	if (d->lefts == d->room) {
		size_t room = d->room ? 2 * d->room : 16;
		struct share_left *more = reallocarray(d->left, room, sizeof *more);

		if (!more)
			return -ENOMEM;
		d->left = more;
		d->room = room;
	}
	d->left[d->lefts++] = (struct share_left){l, s->folder};
	return 0;
}

int share_survey(struct share_work *d)
{
	int rc = 0;

	d->lefts = 0;
	for (uint32_t i = 0; i < d->n && !rc; i++) {
		struct survey s = {d, i};

		if (first_with(d, i) == i)
			rc = d->folder[i]->ops->list(d->folder[i], take_name, &s);
	}
	return rc;
}

/* True for a left-over of this order that is item i's. */
static bool is_own(const struct share_work *d, uint32_t i, const struct share_left *l)
{
	return l->of.order == d->job->order->id && l->folder == first_with(d, i) &&
	       leftover_of(&l->of, d->job->order->item[i].channel);
}

bool share_has(const struct share_work *d, uint32_t i, enum leftover_kind kind)
{
	for (size_t k = 0; k < d->lefts; k++)
		if (d->left[k].of.kind == kind && is_own(d, i, &d->left[k]))
			return true;
	return false;
}

size_t share_own(const struct share_work *d)
{
	size_t n = 0;

	for (size_t k = 0; k < d->lefts; k++)
		for (uint32_t i = 0; i < d->n; i++)
			n += is_own(d, i, &d->left[k]);
	return n;
}

int share_sync(struct share_work *d)
{
	int rc = 0;

	for (uint32_t i = 0; i < d->n; i++) {
		int r = first_with(d, i) == i ? d->folder[i]->ops->sync(d->folder[i]) : 0;

		rc = rc ? rc : r;
	}
	return rc;
}

static int remove_left(struct share_work *d, const struct share_left *l)
{
	struct folder *f = d->folder[l->folder];

	return f->ops->remove(f, l->of.name);
}

/*
 * Our own of the last survey, first item first: see the top of share_settle.c. Nothing is synced: what a
 * power cut brings back of them is a left-over that the next order finds.
 */
static int remove_own(struct share_work *d)
{
	int rc = 0;

	for (uint32_t i = 0; i < d->n; i++)
		for (size_t k = 0; k < d->lefts; k++) {
			int r = is_own(d, i, &d->left[k]) ? remove_left(d, &d->left[k]) : 0;

			rc = rc ? rc : r;
		}
	return rc;
}

/* Take our own out of the last survey: they are gone. */
static void forget_own(struct share_work *d)
{
	size_t n = 0;

	for (size_t k = 0; k < d->lefts; k++) {
		bool own = false;

		for (uint32_t i = 0; i < d->n; i++)
			own |= is_own(d, i, &d->left[k]);
		if (!own)
			d->left[n++] = d->left[k];
	}
	d->lefts = n;
}

int share_clean(struct share_work *d)
{
	int rc = share_survey(d);

	if (!rc)
		rc = remove_own(d);
	if (!rc)
		forget_own(d);
	d->surveyed = !rc;
	return rc;
}

static bool is_stale(
    const struct share_work *d, const struct share_left *l, enum share_sweep what)
{
	uint64_t own = d->job->order->id;

	if (l->of.order == own)
		return false;
	return l->of.kind == LEFTOVER_PART || l->of.kind == LEFTOVER_COPY ||
	       (what == SHARE_SWEEP_PAST && l->of.order < own);
}

int share_tidy(struct share_work *d, enum share_sweep what)
{
	size_t n = 0;
	int rc = d->surveyed ? 0 : share_survey(d);

	d->surveyed = false;
	for (size_t k = 0; k < d->lefts && !rc; k++)
		n += is_stale(d, &d->left[k], what);
	if (!rc && what != SHARE_SWEEP_PAST)
		n += share_own(d);
	if (!rc && n) {
		if (share_step(d, CARRY_STEP_TIDY, d->n))
			return -1;
		if (what != SHARE_SWEEP_PAST)
			rc = remove_own(d);
		for (size_t k = 0; k < d->lefts && !rc; k++)
			if (is_stale(d, &d->left[k], what))
				rc = remove_left(d, &d->left[k]);
	}
	return rc ? share_fault(d, rc, d->n, "removing left-over temporaries beside") : 0;
}
