#include "consent.h"

#include <string.h>

#define COPY(field, i) db_copy(field, sizeof(field), s, i)

void consent_sorted(struct parts_bytes *out, const struct vault_part *part, uint32_t parts)
{
	struct vault_part sorted[YOKE_CHANNELS_MAX];

	memcpy(sorted, part, parts * sizeof(*part));
	parts_sort(sorted, parts);
	state_encode(out, sorted, parts);
}

int consent_accepted(struct vault *v, const struct event *e)
{
	struct vault_part part[YOKE_CHANNELS_MAX];
	struct parts_bytes parts;

	consent_sorted(&parts, part, parts_after(part, e->part, e->parts));
	return db_run(v,
	    "INSERT OR REPLACE INTO acceptance(area,job,revision,parts,rule,seq,utc_us,who,text)"
	    " VALUES(?,?,?,?,?,?,?,?,?)",
	    db_text(e->machine), db_text(e->job), db_text(e->revision), db_bytes(parts.b, parts.n),
	    db_text(e->outcome), db_int((int64_t)e->seq), db_int(e->utc_us), db_text(e->who),
	    db_text(e->text));
}

int consent_withdrawn(struct vault *v, const struct event *e)
{
	struct vault_pair p;
	struct parts_bytes parts;
	int found = vault_pair(v, e->machine ? e->machine : "", e->job, e->revision, &p);

	if (found < 0)
		return -1;
	state_encode(&parts, p.part, p.parts);
	if (db_run(v,
	        "INSERT OR REPLACE INTO withdrawal(area,job,revision,parts,seq,utc_us,who,text)"
	        " VALUES(?,?,?,?,?,?,?,?)",
	        db_text(e->machine), db_text(e->job), db_text(e->revision),
	        db_bytes(parts.b, parts.n), db_int((int64_t)e->seq), db_int(e->utc_us),
	        db_text(e->who), db_text(e->text)) < 0)
		return -1;
	/* The pair's own seq stays: it says which of a job's pairs is the newest. */
	return db_run(v,
	    "UPDATE pair SET state=?,utc_us=?,who=?,text=? WHERE area=? AND job=? AND revision=?",
	    db_int(VAULT_WITHDRAWN), db_int(e->utc_us), db_text(e->who), db_text(e->text),
	    db_text(e->machine), db_text(e->job), db_text(e->revision));
}

/* The withdrawal of this key: 1 and its row in *s, which is to be done with; 0; -1. */
static int find(struct vault *v, const char *area, const char *job, const char *revision,
    sqlite3_stmt **s)
{
	int r;

	*s = db_query(v,
	    "SELECT who,text,seq,utc_us,parts FROM withdrawal WHERE area=? AND job=? AND revision=?",
	    db_text(area), db_text(job), db_text(revision));
	r = *s ? db_next(v, *s) : -1;
	if (r != 1)
		db_done(v, *s);
	return r;
}

int consent_of_pair(struct vault *v, const char *area, const char *job, const char *revision,
    struct vault_pair *p)
{
	sqlite3_stmt *s;
	int r = find(v, area, job, revision, &s);

	if (r != 1)
		return r;
	p->state = VAULT_WITHDRAWN;
	COPY(p->who, 0);
	COPY(p->text, 1);
	db_done(v, s);
	return 0;
}

/* Whether the row's programs and these have one in common: 1, 0, -1. */
static int shares(struct vault *v, sqlite3_stmt *s, const struct vault_part *part, uint32_t parts)
{
	struct event_part e[YOKE_CHANNELS_MAX];
	struct vault_part old[YOKE_CHANNELS_MAX];
	uint32_t n;

	if (parts_decode(
	        sqlite3_column_blob(s, 4), (size_t)sqlite3_column_bytes(s, 4), e, &n) < 0)
		return db_damaged(v, "the list of a withdrawn pair's programs cannot be read");
	parts_after(old, e, n);
	for (uint32_t i = 0; i < parts; i++)
		for (uint32_t k = 0; k < n; k++)
			if (part[i].present && old[k].present &&
			    !strcmp(part[i].channel, old[k].channel) &&
			    !memcmp(&part[i].sha, &old[k].sha, sizeof(struct sha)))
				return 1;
	return 0;
}

int vault_withdrawn(struct vault *v, const char *machine, const char *job, const char *revision,
    const struct vault_part *part, uint32_t parts, struct vault_withdrawal *out)
{
	const char *const areas[] = {machine ? machine : "", ""};

	memset(out, 0, sizeof(*out));
	for (int i = 0; i < 2; i++) {
		sqlite3_stmt *s;
		int r = find(v, areas[i], job, revision, &s);

		if (r != 1 && r < 0)
			return -1;
		if (r != 1)
			continue;
		COPY(out->who, 0);
		COPY(out->text, 1);
		out->seq = (uint64_t)sqlite3_column_int64(s, 2);
		out->utc_us = sqlite3_column_int64(s, 3);
		r = shares(v, s, part, parts);
		db_done(v, s);
		if (r)
			return r;
	}
	memset(out, 0, sizeof(*out));
	return 0;
}

int vault_acceptances(struct vault *v, const struct vault_pair *pair,
    int (*fn)(void *ctx, const struct vault_acceptance *a), void *ctx)
{
	struct vault_acceptance row;
	struct parts_bytes parts;
	sqlite3_stmt *s;
	int r;

	consent_sorted(&parts, pair->part, pair->parts);
	s = db_query(v,
	    "SELECT rule,who,text,seq,utc_us FROM acceptance"
	    " WHERE area=? AND job=? AND revision=? AND parts=? ORDER BY seq",
	    db_text(pair->area), db_text(pair->job), db_text(pair->revision),
	    db_bytes(parts.b, parts.n));
	while ((r = s ? db_next(v, s) : -1) == 1) {
		memset(&row, 0, sizeof(row));
		COPY(row.rule, 0);
		COPY(row.who, 1);
		COPY(row.text, 2);
		row.seq = (uint64_t)sqlite3_column_int64(s, 3);
		row.utc_us = sqlite3_column_int64(s, 4);
		r = fn(ctx, &row);
		if (r != 0)
			break;
	}
	db_done(v, s);
	return r;
}

static bool given(const char *s)
{
	return s && *s;
}

/* The pair stands as the event has it. 0; -1 told. */
static int check_stands(struct vault *v, const struct event *e, bool whole)
{
	struct vault_part part[YOKE_CHANNELS_MAX];
	const char *revision = e->revision ? e->revision : "";
	struct vault_pair p;
	int found = *revision ? vault_pair(v, e->machine ? e->machine : "", e->job, revision, &p) : 0;
	uint32_t parts = parts_after(part, e->part, e->parts);

	if (found < 0)
		return -1;
	if (!found)
		return db_say(v, "there is no pair of job %s at revision %s", e->job, revision);
	if (p.state == VAULT_WITHDRAWN)
		return db_say(v, "job %s revision %s was withdrawn before", e->job, revision);
	if (whole && !parts_same(part, parts, p.part, p.parts))
		return db_say(v, "job %s revision %s stands with other programs by now", e->job, revision);
	return 0;
}

/* What was withdrawn is neither released nor given to a machine. 0; -1 told. */
static int check_not_withdrawn(struct vault *v, const struct event *e)
{
	struct vault_part part[YOKE_CHANNELS_MAX];
	struct vault_withdrawal w;
	uint32_t parts = parts_after(part, e->part, e->parts);
	sqlite3_stmt *s;
	int found;

	if (e->kind == EVENT_RELEASED) {
		found = find(v, e->machine, e->job, e->revision, &s);
		if (found == 1)
			db_done(v, s);
	} else {
		found = vault_withdrawn(v, e->machine, e->job, e->revision, part, parts, &w);
	}
	if (found < 0)
		return -1;
	return found ? db_say(v, "job %s revision %s was withdrawn", e->job,
	                   e->revision ? e->revision : "")
	             : 0;
}

int consent_check(struct vault *v, const struct event *e)
{
	bool rule = e->kind == EVENT_ACCEPTED && strcmp(e->outcome, VAULT_SECOND) != 0 &&
	            strcmp(e->outcome, VAULT_FOR_RELEASE) != 0;

	switch (e->kind) {
	case EVENT_ACCEPTED:
	case EVENT_WITHDRAWN:
		if ((rule || e->kind == EVENT_WITHDRAWN) && !given(e->text))
			return db_say(v, "the event '%s' needs a reason", event_name(e->kind));
		return check_stands(v, e, e->kind == EVENT_ACCEPTED);
	case EVENT_RELEASED:
	case EVENT_EXPORTED:
		return check_not_withdrawn(v, e);
	case EVENT_QUEUED:
		if (strcmp(e->outcome, "fetch") == 0 || strcmp(e->outcome, "inspect") == 0)
			return 0;
		return check_not_withdrawn(v, e);
	default:
		return 0;
	}
}
