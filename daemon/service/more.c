#include "more.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "canonical.h"
#include "exam.h"
#include "outcome.h"
#include "several.h"
#include "sha256.h"

enum {
	LOOK_MAX = 16 * 1024 * 1024, /* bytes of a stream that is taken apart here: the loop stands
	                                still meanwhile, for some hundredths of a second */
	NAMES = 300,                 /* bytes of a list of names in a sentence */
};

struct more_program {
	uint32_t item;
	bool own;   /* of what was carried there */
	bool whole; /* no program by itself: all that came in one stream */
	struct sha sha;
	char name[SEVERAL_NAME]; /* "O4417", or "" */
};

void more_forget(struct service_machine *m)
{
	free(m->more);
	m->more = NULL;
	m->mores = 0;
}

static struct more_program *add(struct service_machine *m, uint32_t item, const struct sha *sha)
{
	struct more_program *all = reallocarray(m->more, m->mores + 1, sizeof(*all));

	if (!all) {
		fprintf(
		    stderr, "yoked: machine %s: no memory to tell all that came\n", m->conf->name);
		return NULL;
	}
	m->more = all;
	all[m->mores] = (struct more_program){.item = item, .sha = *sha};
	return &all[m->mores++];
}

void more_note(struct service_machine *m, const struct carry_content *c)
{
	struct more_program *p = add(m, c->item, &c->sha);

	if (p)
		snprintf(p->name, sizeof(p->name), "%.*s", SEVERAL_NAME - 1, c->note);
}

static size_t count(const struct service_machine *m, uint32_t item)
{
	size_t n = 0;

	for (size_t i = 0; i < m->mores; i++)
		n += m->more[i].item == item && !m->more[i].own && !m->more[i].whole;
	return n;
}

/* A stream and what was carried there, out of the vault and taken apart. */
struct look {
	struct text carried, stream;
	struct canonical before;
	struct several expected, came;
	struct several_match match;
};

static void look_free(struct look *l)
{
	several_match_free(&l->match);
	several_free(&l->came);
	several_free(&l->expected);
	canonical_free(&l->before);
	text_free(&l->stream);
	text_free(&l->carried);
}

static bool is_small(struct service *s, const struct sha *sha)
{
	int64_t size = vault_program_size(s->vault, sha);

	return size >= 0 && size <= LOOK_MAX;
}

static int look_make(
    struct look *l, struct service *s, const struct sha *carried, const struct sha *stream)
{
	if (!is_small(s, carried) || !is_small(s, stream) ||
	    exam_bytes(s->vault, carried, &l->carried) || exam_bytes(s->vault, stream, &l->stream))
		return -1;
	if (canonical_make(&l->before, l->carried.s, l->carried.n) < 0 ||
	    several_read(&l->expected, l->before.bytes, l->before.size) < 0 ||
	    several_read(&l->came, (const uint8_t *)l->stream.s, l->stream.n) < 0)
		return -1;
	return several_match(&l->match, &l->expected, &l->came);
}

/* The carrier handed over the stream's programs in their order. */
static void mark_own(struct service_machine *m, uint32_t item, const struct look *l)
{
	size_t k = 0;

	for (size_t i = 0; i < m->mores; i++)
		if (m->more[i].item == item && !m->more[i].whole && k < l->came.parts)
			m->more[i].own = l->match.used[k++];
}

/* What was carried there, as it came, is the copy; the stream is kept and told for itself. */
static int take_copy(struct service *s, struct service_machine *m, uint32_t item, struct look *l)
{
	struct more_program *whole;
	struct sha sum;

	if (l->match.plain)
		return 0;
	if (sha256_of(l->match.text, l->match.size, sum.b) ||
	    outcome_keep_bytes(s, l->match.text, l->match.size, &sum))
		return -1;
	whole = add(m, item, &m->copy[item]);
	if (!whole)
		return -1;
	whole->whole = true;
	m->copy[item] = sum;
	return 0;
}

static void say_found(
    const struct service_machine *m, uint32_t item, const struct look *l, struct more_found *f)
{
	struct several_part part = {.numbered = l->match.numbered, .number = l->match.number};
	char name[SEVERAL_NAME], names[NAMES];

	several_name(&part, name);
	if (!*name)
		snprintf(name, sizeof(name), "what has no number");
	several_names(&l->came, NULL, names, sizeof(names));
	switch (l->match.way) {
	case SEVERAL_ALL:
		break;
	case SEVERAL_SOME:
		snprintf(f->text, sizeof(f->text), "%s of %s did not come", name,
		    m->carrying.item[item].channel);
		break;
	case SEVERAL_NONE:
		snprintf(f->text, sizeof(f->text),
		    "of %s came %.200s, and nothing of what was carried there",
		    m->carrying.item[item].channel, names);
		break;
	case SEVERAL_TWICE:
		snprintf(f->text, sizeof(f->text),
		    "%s came twice with different text, or was carried twice: which of them %s "
		    "holds "
		    "cannot be told; have it punched alone",
		    name, m->carrying.item[item].channel);
		break;
	}
}

static void choose(
    struct service *s, struct service_machine *m, uint32_t item, struct more_found *f)
{
	struct look l = {0};
	bool read = !look_make(&l, s, &m->before[item], &m->copy[item]);

	if (read)
		say_found(m, item, &l, f);
	if (read && l.match.way == SEVERAL_NONE) {
		f->kind = MORE_ABSENT;
	} else if (read && l.match.way == SEVERAL_TWICE) {
		f->kind = MORE_TWICE;
		m->has_copy[item] = false;
	} else if (read && !take_copy(s, m, item, &l)) {
		f->kind = MORE_CHOSEN;
		mark_own(m, item, &l);
	} else {
		f->kind = MORE_UNREAD;
		snprintf(f->text, sizeof(f->text),
		    "what came of %s holds several programs and could not be taken apart: compare "
		    "it "
		    "by hand",
		    m->carrying.item[item].channel);
	}
	look_free(&l);
}

void more_choose(
    struct service *s, struct service_machine *m, struct more_found found[YOKE_CHANNELS_MAX])
{
	memset(found, 0, YOKE_CHANNELS_MAX * sizeof(*found));
	for (uint32_t i = 0; i < m->carrying.items; i++)
		if (m->has_copy[i] && m->has_before[i] && count(m, i))
			choose(s, m, i, &found[i]);
}

void more_record(struct service *s, const struct service_machine *m)
{
	for (size_t i = 0; i < m->mores; i++) {
		const struct more_program *p = &m->more[i];
		struct event_part part = {.has_after = true, .after = p->sha};
		char text[300];
		struct vault_about about = {.machine = m->conf->name,
		    .order = m->carrying.id,
		    .outcome = "found",
		    .text = text,
		    .part = &part,
		    .parts = 1};

		if (p->own)
			continue;
		memcpy(part.channel, m->carrying.item[p->item].channel, sizeof(part.channel));
		if (p->whole)
			snprintf(text, sizeof(text), "all that came of %s in one stream; kept",
			    part.channel);
		else
			snprintf(text, sizeof(text),
			    "%s came in one stream with others of %s; kept, and compared with "
			    "nothing",
			    *p->name ? p->name : "a program without a number", part.channel);
		ledger_record(s->ledger, EVENT_ARRIVED, "service", "carrier", &about);
	}
}

/* Add to a text of size bytes, as far as there is room. */
static void append(char *text, size_t size, const char *more)
{
	size_t n = strlen(text);

	snprintf(text + n, size - n, "%s", more);
}

/* True when an earlier one of the same channel has the same number and another text. */
static bool came_before(const struct service_machine *m, size_t i)
{
	for (size_t k = 0; k < i; k++)
		if (m->more[k].item == m->more[i].item && !m->more[k].own && *m->more[i].name &&
		    !strcmp(m->more[k].name, m->more[i].name) &&
		    memcmp(&m->more[k].sha, &m->more[i].sha, sizeof(struct sha)))
			return true;
	return false;
}

static void say_names(
    const struct service_machine *m, uint32_t item, uint64_t all, char *text, size_t size)
{
	char one[SEVERAL_NAME + 80], names[NAMES] = "";
	uint64_t told = 0;

	for (size_t i = 0; i < m->mores; i++) {
		const struct more_program *p = &m->more[i];

		if (p->item != item || p->own || p->whole)
			continue;
		snprintf(one, sizeof(one), "%s%s%s", told ? ", " : "",
		    *p->name ? p->name : "one without a number",
		    came_before(m, i) ? " once more with different text" : "");
		if (strlen(names) + strlen(one) >= sizeof(names))
			break;
		append(names, sizeof(names), one);
		told++;
	}
	snprintf(one, sizeof(one), " and %llu more", (unsigned long long)(all - told));
	append(names, sizeof(names), told < all ? one : "");
	append(text, size, names);
}

void more_say(
    const struct service_machine *m, const struct carry_outcome *o, char *text, size_t size)
{
	for (uint32_t i = 0; i < m->carrying.items; i++) {
		uint64_t own = 0, all;
		char one[160];

		for (size_t k = 0; k < m->mores; k++)
			own += m->more[k].item == i && m->more[k].own;
		all = o->channel[i].more > own ? o->channel[i].more - own : 0;
		if (all) {
			snprintf(one, sizeof(one),
			    "; in one stream with %s came %llu other program%s: ",
			    m->carrying.item[i].channel, (unsigned long long)all,
			    all == 1 ? "" : "s");
			append(text, size, one);
			say_names(m, i, all, text, size);
			append(text, size, "; kept, and compared with nothing");
		}
		if (o->channel[i].left_out) {
			snprintf(one, sizeof(one),
			    "; %llu characters of %s outside of all %% are no program, and were "
			    "left out",
			    (unsigned long long)o->channel[i].left_out,
			    m->carrying.item[i].channel);
			append(text, size, one);
		}
	}
}
