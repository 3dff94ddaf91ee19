/*
 * What comes before the first writing: the old programs are read and handed over, and names beside them
 * that a control may take for the same are found. A dry run ends here.
 */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include "running.h"
#include "share_work.h"

/* The old programs of all channels, in memory and at the parent, before anything else. */
static int keep_all(struct share_work *d)
{
	struct job *j = d->job;

	for (uint32_t i = 0; i < d->n; i++) {
		struct folder *f = d->folder[i];
		struct folder_seen *s = &d->old[i], new = share_program(d, i);
		int rc;

		share_phase(d, i, CARRY_PHASE_KEEP, 0);
		rc = f->ops->read(f, j->order->item[i].target, true, &new, s);
		if (!rc && s->there)
			rc = parent_content(j->parent, i, CARRY_ROLE_OLD, s->fd, s->size, &s->sha);
		if (rc)
			return share_fault(d, rc, i, "reading the old program");
		d->old_known[i] = true;
		if (!s->there && j->order->item[i].has_expect)
			j->channel[i].held = CARRY_HELD_ABSENT;
		j->channel[i].has_sha = s->there;
		j->channel[i].sha = s->sha;
	}
	return 0;
}

/* The digits in a name of letters, digits, and whatever follows: where they begin, and end. */
static bool number_in(const char *name, size_t *from, size_t *to)
{
	*from = strcspn(name, "0123456789");
	*to = *from + strspn(name + *from, "0123456789");
	while (*from < *to && name[*from] == '0')
		++*from;
	return *to > 0 && name[*to - 1] >= '0' && name[*to - 1] <= '9';
}

/* How many letters stand in front of a name's first digit. */
static size_t letters(const char *name)
{
	return strcspn(name, "0123456789");
}

/* Two names that a control may take for one: another case, or the same number written otherwise. */
static bool alike(const char *a, const char *b)
{
	size_t a_from, a_to, b_from, b_to, n = letters(a);

	if (!strcasecmp(a, b))
		return true;
	return n == letters(b) && !strncasecmp(a, b, n) && number_in(a, &a_from, &a_to) &&
	       number_in(b, &b_from, &b_to) && a_to - a_from == b_to - b_from &&
	       !strncmp(a + a_from, b + b_from, a_to - a_from) && !strcasecmp(a + a_to, b + b_to);
}

struct search {
	const char *target;
	bool same;       /* the name itself is there */
	char other[256]; /* one that is alike, "" for none */
};

static int compare(void *ctx, const char *name)
{
	struct search *s = ctx;

	if (!strcmp(name, s->target))
		s->same = true;
	else if (!*s->other && alike(name, s->target))
		snprintf(s->other, sizeof s->other, "%s", name);
	return 0;
}

/*
 * Beside the name of a program lies one that the control may take for it. Where the share itself does
 * not tell upper from lower case, the other name is the file's own and the only one. A program that is
 * read under a name which the folder does not have is another one's: a share gives long names short ones
 * beside (PROGRA~1.NC), cuts names, or spells letters in another way.
 */
static int find_alike(struct share_work *d)
{
	for (uint32_t i = 0; i < d->n; i++) {
		const struct carry_item *it = &d->job->order->item[i];
		struct search s = {.target = it->target};
		struct folder *f = d->folder[i];
		int rc = f->ops->list(f, compare, &s);

		if (rc)
			return share_fault(d, rc, i, "looking for names like");
		if (!*s.other && !s.same && d->old[i].there)
			return fault_set(&d->job->fault, CARRY_ERROR_NAME, i,
			    "channel %s: under '%s' the share gives a file that has another name in its "
			    "folder, so that another program would be replaced; change 'name' in the "
			    "machine's settings",
			    it->channel, it->target);
		if (!*s.other || (!s.same && d->old[i].there && !strcasecmp(s.other, it->target)))
			continue;
		return fault_set(&d->job->fault, CARRY_ERROR_NAME, i,
		    "channel %s: beside '%s' lies '%s', which a control may take for the same "
		    "program; take it away at the machine, or change 'name' in its settings",
		    it->channel, it->target, s.other);
	}
	return 0;
}

int share_keep(struct share_work *d)
{
	return keep_all(d) || find_alike(d) ? -1 : 0;
}

int share_in_root(void *ctx, const char *name, const char **why)
{
	const struct share_work *d = ctx;
	int rc = d->folder[0]->ops->root_has(d->folder[0], name);

	if (rc < 0)
		*why = rc == FOLDER_SAID ? d->common.said.text : strerror(-rc);
	return rc;
}

/* Whether the new programs and copies of the old ones have room, where the share tells it. */
static int find_room(struct share_work *d)
{
	uint64_t want = 0, room = UINT64_MAX;

	for (uint32_t i = 0; i < d->n; i++) {
		struct folder *f = d->folder[i];
		uint64_t here;

		want += d->job->order->item[i].size + d->old[i].size;
		if (f->ops->room && !f->ops->room(f, &here) && here < room)
			room = here;
	}
	if (want <= room)
		return 0;
	return fault_set(&d->job->fault, CARRY_ERROR_SPACE, d->n,
	    "the share has room for %llu bytes, and the pair with copies of the old programs "
	    "needs %llu",
	    (unsigned long long)room, (unsigned long long)want);
}

static void tell(struct share_work *d)
{
	struct job *j = d->job;
	size_t n = 0;

	for (uint32_t i = 0; i < d->n && n < sizeof j->told; i++) {
		const struct carry_item *it = &j->order->item[i];
		const struct folder_seen *s = &d->old[i];
		const char *front = i ? "; " : "dry run, nothing was written: ";

		if (!s->there)
			n += (size_t)snprintf(j->told + n, sizeof j->told - n,
			    "%schannel %s: '%s' is not there yet", front, it->channel, it->target);
		else
			n += (size_t)snprintf(j->told + n, sizeof j->told - n,
			    "%schannel %s: '%s' would be replaced: %llu bytes, %s%02x%02x%02x%02x",
			    front, it->channel, it->target, (unsigned long long)s->size,
			    share_wanted(d, i, s) ? "the same program, sha256 "
			    : it->has_expect && !memcmp(&it->expect, &s->sha, sizeof s->sha)
			        ? "what was carried there, sha256 "
			        : "not what was carried there, sha256 ",
			    s->sha.b[0], s->sha.b[1], s->sha.b[2], s->sha.b[3]);
	}
}

void share_try(struct share_work *d)
{
	if (!share_keep(d) && !find_room(d) && !share_check(d, 0) &&
	    !running_check(d->job, share_in_root, d))
		tell(d);
}
