#include "dossier_words.h"

#include <stdio.h>
#include <string.h>
#include <time.h>
#include "ask.h"
#include "yoke/event.h"

enum { SUM_DIGITS = 12 };

void dossier_words_table(struct sheet *s)
{
	static const char *const columns[] = {"NO", "TIME: UTC, LOCAL", "ENTRY, BY WHOM", "WHAT"};

	sheet_table(s, columns, 4);
	sheet_keep(s, 0);
	sheet_keep(s, 1);
}

void dossier_words_time(struct sheet *s, const char *rfc3339)
{
	char utc[32], local[32];
	struct tm tm = {0};
	time_t when;

	if (!strptime(rfc3339, "%Y-%m-%dT%H:%M:%S", &tm)) {
		sheet_cell(s, "%s", rfc3339);
		return;
	}
	when = timegm(&tm);
	strftime(utc, sizeof(utc), "%Y-%m-%d %H:%M:%SZ", &tm);
	sheet_cell(s, "%s", utc);
	if (localtime_r(&when, &tm) &&
	    strftime(local, sizeof(local), "%Y-%m-%d %H:%M %z", &tm))
		sheet_line(s, "%s", local);
}

void dossier_words_program(struct text *t, const struct dossier *d, const char *sha256)
{
	size_t i = dossier_find(d, sha256);

	if (i < d->programs)
		text_printf(t, "P%zu:", i + 1);
	text_printf(t, "%.*s", SUM_DIGITS, *sha256 ? sha256 : "?");
}

/* Whether an entry of this kind says what it replaced, when it replaced anything that is known. */
static bool replaces(const json_t *event)
{
	enum event_kind k = event_by_name(ask_string(event, "kind"));

	return k == EVENT_CARRIED || k == EVENT_READ_BACK || k == EVENT_SPLIT;
}

/* Under which names the programs go to the machine, where the entry says it. */
static void put_names(struct sheet *s, const json_t *event)
{
	const json_t *channel;
	size_t i;

	if (event_by_name(ask_string(event, "kind")) != EVENT_CARRYING)
		return;
	json_array_foreach(json_object_get(json_object_get(event, "detail"), "channels"), i, channel)
	{
		if (*ask_string(channel, "name"))
			sheet_line(s, "%s as %s", ask_string(channel, "channel"),
			    ask_string(channel, "name"));
	}
}

static void put_part(
    struct sheet *s, const struct dossier *d, const json_t *event, const json_t *part)
{
	const char *before = ask_string(part, "before"), *after = ask_string(part, "after");
	struct text t = {0};

	text_printf(&t, "%s", *ask_string(part, "channel") ? ask_string(part, "channel") : "channel ?");
	if (*before || *after)
		text_putc(&t, ' ');
	if (*before && strcmp(before, after) == 0) {
		dossier_words_program(&t, d, before);
		text_puts(&t, ", as before");
	} else if (*before || *after) {
		if (*before)
			dossier_words_program(&t, d, before);
		else if (replaces(event))
			text_puts(&t, "nothing known");
		if (*before || replaces(event))
			text_puts(&t, " -> ");
		if (*after)
			dossier_words_program(&t, d, after);
		else
			text_puts(&t, "nothing known");
	}
	s->failed |= t.failed;
	sheet_line(s, "%s", t.s ? t.s : "");
	text_free(&t);
}

void dossier_words_parts(struct sheet *s, const struct dossier *d, const json_t *event)
{
	const json_t *part;
	size_t i;

	json_array_foreach(json_object_get(event, "parts"), i, part)
	{
		put_part(s, d, event, part);
	}
}

/* How many of each weight, beside the finding that the sentence tells. */
static void put_counts(struct text *t, const json_t *event)
{
	const json_t *counts = json_object_get(json_object_get(event, "detail"), "counts");
	long long refuse = ask_number(counts, "refuse"), warn = ask_number(counts, "warn"),
	          note = ask_number(counts, "note");

	if (refuse + warn + note > (refuse ? 1 : 0))
		text_printf(t, "%s%lld refuse, %lld warn, %lld note", t->n ? "; findings: " : "findings: ",
		    refuse, warn, note);
}

static void join(struct text *t, const char *between, const char *s)
{
	if (*s)
		text_printf(t, "%s%s", t->n ? between : "", s);
}

void dossier_words_accepted(struct text *t, const char *rule)
{
	if (strcmp(rule, "second-person") == 0)
		text_puts(t, "as the second person");
	else if (strcmp(rule, "for-release") == 0)
		text_puts(t, "as one who may release");
	else
		text_printf(t, "despite %s", rule);
}

/* What the entry says in its own words: the outcome where it is not the usual one, and the text. */
static void put_words(struct text *t, const json_t *event)
{
	enum event_kind k = event_by_name(ask_string(event, "kind"));
	const char *outcome = ask_string(event, "outcome"), *text = ask_string(event, "text");

	if (k == EVENT_HELD || k == EVENT_RELEASED) {
		join(t, "", "wait codes: ");
		text_puts(t, *outcome ? outcome : "not compared");
		join(t, "; ", text);
		put_counts(t, event);
	} else if (k == EVENT_ARRIVED) {
		join(t, "", text);
		join(t, ", program number ", outcome);
	} else if (k == EVENT_ACCEPTED) {
		dossier_words_accepted(t, outcome);
		join(t, ": ", text);
	} else {
		if (strcmp(outcome, "done") != 0 && strcmp(outcome, text) != 0)
			join(t, "", outcome);
		join(t, ": ", text);
	}
}

/* Whose entry it is, where the heading does not say it. */
static void put_whose(struct sheet *s, const json_t *event)
{
	struct text t = {0};

	if (*ask_string(event, "job"))
		text_printf(&t, "revision %s", *ask_string(event, "revision") ? ask_string(event, "revision") : "?");
	else
		text_puts(&t, "no job named");
	if (*ask_string(event, "machine"))
		text_printf(&t, ", machine %s", ask_string(event, "machine"));
	if (ask_number(event, "order"))
		text_printf(&t, ", order %lld", (long long)ask_number(event, "order"));
	s->failed |= t.failed;
	sheet_line(s, "%s", t.s ? t.s : "");
	text_free(&t);
}

void dossier_words_row(struct sheet *s, const struct dossier *d, const json_t *event, bool whole)
{
	struct text t = {0};

	sheet_cell(s, "%lld", (long long)ask_number(event, "seq"));
	dossier_words_time(s, ask_string(event, "time"));
	sheet_cell(s, "%s", ask_string(event, "kind"));
	sheet_line(s, "%s", *ask_string(event, "who") ? ask_string(event, "who") : "nobody named");
	if (*ask_string(event, "from"))
		sheet_line(s, "from %s", ask_string(event, "from"));
	sheet_cell(s, "%s", "");
	if (whole)
		put_whose(s, event);
	put_words(&t, event);
	s->failed |= t.failed;
	if (t.n)
		sheet_line(s, "%s", t.s);
	text_free(&t);
	dossier_words_parts(s, d, event);
	put_names(s, event);
}
