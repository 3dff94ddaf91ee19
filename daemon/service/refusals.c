#include "refusals.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MINUTE_MS = 60000, KINDS = 64, KINDS_OF_ONE = 10, TEXT = 512 };

/* One kind of refusal within one minute. */
struct kind {
	bool used;
	bool various; /* the different ones of one person, or of everybody, beyond their bounds */
	uint64_t since_ms, more;
	char who[160], from[16];
	char machine[YOKE_NAME_MAX + 1], job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
	char outcome[32], text[TEXT];
};

struct refusals {
	refusals_record *record;
	void *ctx;
	struct kind kind[KINDS];
	struct kind rest; /* of everybody, when there is no place left */
};

struct refusals *refusals_new(refusals_record *record, void *ctx)
{
	struct refusals *r = calloc(1, sizeof(*r));

	if (!r)
		return NULL;
	r->record = record;
	r->ctx = ctx;
	return r;
}

/* The beginning of s, cut where a character ends. */
static void put(char *out, size_t size, const char *s)
{
	size_t n = s ? strlen(s) : 0;

	if (n >= size) {
		n = size - 1;
		while (n > 0 && ((unsigned char)s[n] & 0xc0) == 0x80)
			n--;
	}
	if (n)
		memcpy(out, s, n);
	out[n] = '\0';
}

#define PUT(field, s) put(field, sizeof(field), s)

static void fill(struct kind *k, uint64_t now_ms, const char *who, const char *from,
    const struct vault_about *a)
{
	*k = (struct kind){.used = true, .since_ms = now_ms};
	PUT(k->who, who);
	PUT(k->from, from);
	PUT(k->machine, a->machine);
	PUT(k->job, a->job);
	PUT(k->revision, a->revision);
	PUT(k->outcome, a->outcome);
	PUT(k->text, a->text);
}

static bool same(const struct kind *a, const struct kind *b)
{
	return !a->various && !strcmp(a->who, b->who) && !strcmp(a->from, b->from) &&
	       !strcmp(a->machine, b->machine) && !strcmp(a->job, b->job) &&
	       !strcmp(a->revision, b->revision) && !strcmp(a->outcome, b->outcome) &&
	       !strcmp(a->text, b->text);
}

static bool record(struct refusals *r, const struct kind *k, const char *text, const char *detail)
{
	struct vault_about about = {.machine = k->machine,
	    .job = k->job,
	    .revision = k->revision,
	    .outcome = k->outcome,
	    .text = text,
	    .detail = detail};

	return r->record(r->ctx, k->who, k->from, &about);
}

/* What was counted becomes an event, and the place is free. It is kept when it was not recorded. */
static void close_kind(struct refusals *r, struct kind *k)
{
	char text[TEXT + 64], detail[64];

	if (!k->used)
		return;
	snprintf(text, sizeof(text), "%s (%llu %s)", k->text, (unsigned long long)k->more,
	    k->various ? "refusals in all" : "more of the same within a minute");
	snprintf(detail, sizeof(detail), "{\"more\":%llu}", (unsigned long long)k->more);
	if (!k->more || record(r, k, text, detail))
		k->used = false;
}

/* Count it with others of its person, or with those of everybody. */
static void count_various(struct refusals *r, struct kind *at, const struct kind *k, uint64_t now_ms,
    bool everybody)
{
	static const char one[] = "more different requests were refused within a minute than are told "
	                          "one by one",
	                  all[] = "more requests of different people were refused within a minute than "
	                          "are told one by one";

	if (!at->used) {
		fill(at, now_ms, everybody ? "several" : k->who, k->from,
		    &(struct vault_about){.outcome = "many", .text = everybody ? all : one});
		at->various = true;
	}
	at->more++;
}

bool refusals_tell(struct refusals *r, uint64_t now_ms, const char *who, const char *from,
    const struct vault_about *about)
{
	struct kind k, *empty = NULL, *various = NULL;
	size_t of_one = 0;

	refusals_due(r, now_ms);
	fill(&k, now_ms, who, from, about);
	for (size_t i = 0; i < KINDS; i++) {
		struct kind *at = &r->kind[i];

		if (!at->used) {
			empty = empty ? empty : at;
			continue;
		}
		if (same(at, &k)) {
			at->more++;
			return true;
		}
		if (strcmp(at->who, k.who) != 0)
			continue;
		of_one++;
		various = at->various ? at : various;
	}
	if (of_one >= KINDS_OF_ONE && (various || empty))
		count_various(r, various ? various : empty, &k, now_ms, false);
	else if (!empty)
		count_various(r, &r->rest, &k, now_ms, true);
	else if (record(r, &k, k.text, about->detail))
		*empty = k;
	else
		return false;
	return true;
}

void refusals_due(struct refusals *r, uint64_t now_ms)
{
	for (size_t i = 0; i < KINDS; i++)
		if (r->kind[i].used && now_ms - r->kind[i].since_ms >= MINUTE_MS)
			close_kind(r, &r->kind[i]);
	if (r->rest.used && now_ms - r->rest.since_ms >= MINUTE_MS)
		close_kind(r, &r->rest);
}

void refusals_end(struct refusals *r)
{
	if (!r)
		return;
	for (size_t i = 0; i < KINDS; i++)
		close_kind(r, &r->kind[i]);
	close_kind(r, &r->rest);
}

void refusals_free(struct refusals *r)
{
	free(r);
}
