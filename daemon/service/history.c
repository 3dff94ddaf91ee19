/*
 * A line of revisions for each folder in which the job lies: the watched folder itself, and those of
 * machines. Revisions stand as their names say where that is certain, so that an older one that arrives
 * late stands where it belongs; otherwise in the order of arrival. Programs are named, not compared:
 * who asks has them by their SHA-256, and this loop has no time for it.
 */
#include "history.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "revision.h"
#include "sha256.h"
#include "show_json.h"

struct step {
	char area[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
	json_t *o; /* the revision as it is answered */
};

struct history {
	struct service *s;
	struct step *v; /* of all areas, in order within each */
	size_t n, cap;
};

static struct step *find(struct history *h, const char *area, const char *revision)
{
	for (size_t i = h->n; i-- > 0;)
		if (!strcmp(h->v[i].revision, revision) && !strcmp(h->v[i].area, area))
			return &h->v[i];
	return NULL;
}

/* Before those of its area that are later for certain. */
static size_t place_of(const struct history *h, const char *area, const char *revision)
{
	size_t at = h->n;

	for (size_t i = h->n; i-- > 0;) {
		if (strcmp(h->v[i].area, area))
			continue;
		if (!revision_later(h->v[i].revision, revision))
			break;
		at = i;
	}
	return at;
}

static struct step *add(struct history *h, const char *area, const char *revision)
{
	size_t at;

	if (h->n == h->cap) {
		size_t cap = h->cap ? h->cap * 2 : 16;
		struct step *v = reallocarray(h->v, cap, sizeof(*v));

		if (!v)
			return NULL;
		h->v = v;
		h->cap = cap;
	}
	at = place_of(h, area, revision);
	memmove(&h->v[at + 1], &h->v[at], (h->n++ - at) * sizeof(*h->v));
	memset(&h->v[at], 0, sizeof(h->v[at]));
	snprintf(h->v[at].area, sizeof(h->v[at].area), "%.*s", YOKE_NAME_MAX, area);
	snprintf(h->v[at].revision, sizeof(h->v[at].revision), "%.*s", YOKE_NAME_MAX, revision);
	h->v[at].o = json_pack("{s:o, s:[], s:[], s:[]}", "revision", json_string(revision),
	    "arrivals", "proven", "adopted");
	return h->v[at].o ? &h->v[at] : NULL;
}

/* What else came from machines is no revision of anybody's. */
static bool is_dropped(const struct event *e)
{
	return !e->order && e->parts && e->part[0].has_after && *e->part[0].channel && e->revision &&
	       *e->revision && e->from && (!strcmp(e->from, "folder") || !strcmp(e->from, "adopt"));
}

static int take_arrival(void *ctx, const struct event *e, const struct sha *hash)
{
	struct history *h = ctx;
	char hex[YOKE_SHA_HEX + 1];
	struct step *s;
	json_t *o;

	if (!is_dropped(e))
		return 0;
	s = find(h, e->machine, e->revision);
	if (!s)
		s = add(h, e->machine, e->revision);
	o = json_object();
	if (!s || !o) {
		json_decref(o);
		return -1;
	}
	sha256_hex(e->part[0].after.b, hex);
	show_json_put(o, "channel", e->part[0].channel);
	show_json_put(o, "sha256", hex);
	show_json_put(o, "by", e->who);
	show_json_time(o, "since", e->utc_us);
	show_json_put(o, "path", e->text);
	json_object_set_new(o, "event", json_integer((json_int_t)e->seq));
	return json_array_append_new(json_object_get(s->o, "arrivals"), o);
}

static int take_pair(void *ctx, const struct vault_pair *p)
{
	struct history *h = ctx;
	struct step *s = find(h, p->area, p->revision);
	json_t *o = s ? show_json_pair(p) : NULL;
	int failed = o ? show_json_accepted(h->s, o, p) : 0;

	if (o)
		json_object_update(s->o, o);
	json_decref(o);
	return failed;
}

/* The revision that a machine's event means: of its own folder, or of that of all. */
static struct step *meant(struct history *h, const struct event *e)
{
	struct step *s = e->revision ? find(h, e->machine, e->revision) : NULL;

	return s || !e->revision ? s : find(h, "", e->revision);
}

static int take_word(struct history *h, const struct event *e, const char *key)
{
	json_t *detail = e->detail && *e->detail ? json_loads(e->detail, 0, NULL) : NULL;
	struct step *s = meant(h, e);
	json_t *o;

	if (!s) {
		json_decref(detail);
		return 0;
	}
	o = json_object();
	show_json_put(o, "from", json_string_value(json_object_get(detail, "from_revision")));
	json_decref(detail);
	show_json_put(o, "machine", e->machine);
	show_json_put(o, "by", e->who);
	show_json_time(o, "since", e->utc_us);
	show_json_put(o, "text", e->text);
	json_object_set_new(o, "event", json_integer((json_int_t)e->seq));
	return json_array_append_new(json_object_get(s->o, key), o);
}

static int take_proven(void *ctx, const struct event *e, const struct sha *hash)
{
	return take_word(ctx, e, "proven");
}

static int take_adopted(void *ctx, const struct event *e, const struct sha *hash)
{
	return take_word(ctx, e, "adopted");
}

static int each(struct history *h, const char *job, enum event_kind kind,
    int (*fn)(void *ctx, const struct event *e, const struct sha *hash))
{
	struct vault_filter f = {.job = job, .kind = event_name(kind), .oldest_first = true};

	return vault_events(h->s->vault, &f, fn, h);
}

static int collect(struct history *h, const char *job)
{
	if (each(h, job, EVENT_ARRIVED, take_arrival) || vault_pairs(h->s->vault, job, take_pair, h))
		return -1;
	return each(h, job, EVENT_ADOPTED, take_adopted) || each(h, job, EVENT_PROVEN, take_proven);
}

/* One line for each area, in the order in which they came. */
static json_t *lines_of(struct history *h)
{
	json_t *lines = json_array();

	for (size_t i = 0; i < h->n; i++) {
		json_t *revisions;

		if (!h->v[i].o)
			continue;
		revisions = json_array();
		for (size_t k = i; k < h->n; k++)
			if (h->v[k].o && !strcmp(h->v[k].area, h->v[i].area)) {
				json_array_append_new(revisions, h->v[k].o);
				h->v[k].o = NULL;
			}
		json_array_append_new(lines, json_pack("{s:s?, s:o}", "machine",
		                                 *h->v[i].area ? h->v[i].area : NULL, "revisions",
		                                 revisions));
	}
	return lines;
}

void history_show(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct history h = {.s = service};
	const char *job = call->path[0];

	if (collect(&h, job))
		api_reply_error(reply, 500, "vault", "%s", vault_error(h.s->vault));
	else if (!h.n)
		api_reply_error(reply, 404, "no-job",
		    "no program of job %s has ever come in: see `yoke jobs`", job);
	else
		reply->body = json_pack("{s:s, s:o}", "job", job, "lines", lines_of(&h));
	for (size_t i = 0; i < h.n; i++)
		json_decref(h.v[i].o);
	free(h.v);
}
