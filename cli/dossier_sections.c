#include "dossier_sections.h"

#include <stdlib.h>
#include <string.h>
#include "ask.h"
#include "dossier_words.h"
#include "yoke/event.h"

enum section { INTAKE, ORDERS, MACHINES, REST };

static enum event_kind kind_of(const json_t *event)
{
	return event_by_name(ask_string(event, "kind"));
}

static enum section section_of(const struct dossier *d, const json_t *event)
{
	if (dossier_in_order(d, event))
		return ORDERS;
	switch (kind_of(event)) {
	case EVENT_ARRIVED:
	case EVENT_TURNED_AWAY:
	case EVENT_HELD:
	case EVENT_RELEASED:
	case EVENT_ACCEPTED:
	case EVENT_WITHDRAWN:
		return INTAKE;
	case EVENT_CARRIED:
	case EVENT_READ_BACK:
	case EVENT_KEPT:
	case EVENT_SPLIT:
	case EVENT_UNKNOWN:
	case EVENT_FETCHED:
	case EVENT_FED:
	case EVENT_DRIFT:
	case EVENT_PROVEN:
	case EVENT_EXPORTED:
	case EVENT_LOADED:
		return MACHINES;
	default:
		return REST;
	}
}

/* All entries of one section in one table; empty: what is said when there is none. */
static void list(struct sheet *s, const struct dossier *d, enum section section, const char *empty)
{
	const json_t *e;
	size_t i, n = 0;

	json_array_foreach(d->events, i, e)
	{
		if (section_of(d, e) != section)
			continue;
		if (!n++)
			dossier_words_table(s);
		dossier_words_row(s, d, e, true);
	}
	if (!n)
		sheet_add(s, SHEET_PARAGRAPH, "%s", empty);
}

void dossier_sections_intake(struct sheet *s, const struct dossier *d)
{
	sheet_add(s, SHEET_HEAD, "What came in, and what was decided");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Every program that came in, also those that another content replaced within one "
	    "revision, and each decision: held (may not be sent) with the finding that holds it, "
	    "released, accepted by a person, withdrawn. Who dropped a file is its owner.");
	list(s, d, INTAKE, "Nothing came in.");
}

void dossier_sections_machines(struct sheet *s, const struct dossier *d)
{
	sheet_add(s, SHEET_HEAD, "What was said and found at machines");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Outside the orders above: proven (somebody said that the pair made a good part), given "
	    "out on a stick, said to be loaded, and every drift: the machine no longer held what was "
	    "carried there.");
	list(s, d, MACHINES, "Nothing.");
}

void dossier_sections_rest(struct sheet *s, const struct dossier *d)
{
	sheet_add(s, SHEET_HEAD, "Refused requests, and all other entries");
	list(s, d, REST, "None.");
}

void dossier_sections_general(struct sheet *s, const struct dossier *d)
{
	const json_t *e;
	size_t i;

	sheet_add(s, SHEET_HEAD, "What bears on the trail itself");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Keys and seals of the whole trail, back-ups that were brought back, repairs, and a clock "
	    "that was set.");
	if (!json_array_size(d->general)) {
		sheet_add(s, SHEET_PARAGRAPH, "None.");
		return;
	}
	dossier_words_table(s);
	json_array_foreach(d->general, i, e)
	{
		dossier_words_row(s, d, e, false);
	}
}

/* The entry with the last word on an order; NULL while there is none. */
static const json_t *end_of(const struct dossier *d, json_int_t order)
{
	const json_t *e, *end = NULL;
	size_t i;

	json_array_foreach(d->events, i, e)
	{
		if (ask_number(e, "order") != order)
			continue;
		switch (kind_of(e)) {
		case EVENT_CARRIED:
		case EVENT_READ_BACK:
		case EVENT_KEPT:
		case EVENT_SPLIT:
		case EVENT_UNKNOWN:
		case EVENT_FETCHED:
		case EVENT_FED:
		case EVENT_DRIFT:
		case EVENT_CANCELLED:
			end = e;
			break;
		default:
			break;
		}
	}
	return end;
}

static bool is_order(const json_t *event)
{
	return ask_number(event, "order") && ask_number(event, "order") == ask_number(event, "seq");
}

static const char *revision_of(const json_t *event)
{
	return *ask_string(event, "revision") ? ask_string(event, "revision") : "?";
}

/* One row: what was wanted, what it did to the programs, how it ended. */
static void put_short(struct sheet *s, const struct dossier *d, const json_t *queued)
{
	const json_t *end = end_of(d, ask_number(queued, "seq"));

	sheet_cell(s, "%lld", (long long)ask_number(queued, "seq"));
	dossier_words_time(s, ask_string(queued, "time"));
	sheet_cell(s, "%s revision %s, %s", ask_string(queued, "outcome"), revision_of(queued),
	    ask_string(queued, "machine"));
	sheet_line(s, "%s", ask_string(queued, "who"));
	sheet_cell(s, "%s", end ? ask_string(end, "kind") : "not ended at the time of this report");
	if (end && *ask_string(end, "outcome") && strcmp(ask_string(end, "outcome"), "done"))
		sheet_line(s, "%s", ask_string(end, "outcome"));
	if (end)
		dossier_words_parts(s, d, end);
}

static void put_all_short(struct sheet *s, const struct dossier *d)
{
	static const char *const columns[] = {
	    "ORDER", "TIME: UTC, LOCAL", "WHAT, BY WHOM", "END; BEFORE -> AFTER"};
	const json_t *e;
	size_t i;

	sheet_table(s, columns, 4);
	sheet_keep(s, 0);
	sheet_keep(s, 1);
	json_array_foreach(d->events, i, e)
	{
		if (is_order(e))
			put_short(s, d, e);
	}
}

static void put_order(struct sheet *s, const struct dossier *d, const json_t *queued)
{
	json_int_t order = ask_number(queued, "seq");
	const json_t *e;
	size_t i;

	sheet_add(s, SHEET_SUBHEAD, "Order %lld: %s, revision %s, machine %s", (long long)order,
	    ask_string(queued, "outcome"), revision_of(queued), ask_string(queued, "machine"));
	dossier_words_table(s);
	json_array_foreach(d->events, i, e)
	{
		if (ask_number(e, "order") == order)
			dossier_words_row(s, d, e, false);
	}
}

void dossier_sections_orders(struct sheet *s, const struct dossier *d)
{
	const json_t *e;
	size_t i, n = 0;

	sheet_add(s, SHEET_HEAD, "What was carried");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Every order for this job: who wanted it, each step, and its end. Programs are told as "
	    "before -> after; \"nothing known\" is before the first one that Yoke has seen there. "
	    "\"Carried\" means that the machine was given both programs, \"read "
	    "back\" that its copy was compared with them and is equal, \"kept\" that nothing was "
	    "changed.");
	put_all_short(s, d);
	json_array_foreach(d->events, i, e)
	{
		if (!is_order(e))
			continue;
		put_order(s, d, e);
		n++;
	}
	if (!n)
		sheet_add(s, SHEET_PARAGRAPH, "No order was given.");
}

/* What one person, by one way, stands for; in order of the first entry. */
struct person {
	const char *who, *from;
	size_t entries, kind[EVENT_COUNT + 1];
};

static int add_person(struct person **all, size_t *n, const json_t *e)
{
	struct person *p = NULL;

	for (size_t i = 0; i < *n && !p; i++)
		if (!strcmp((*all)[i].who, ask_string(e, "who")) &&
		    !strcmp((*all)[i].from, ask_string(e, "from")))
			p = &(*all)[i];
	if (!p) {
		struct person *grown = reallocarray(*all, *n + 1, sizeof(*grown));

		if (!grown)
			return -1;
		*all = grown;
		p = &grown[(*n)++];
		*p = (struct person){.who = ask_string(e, "who"), .from = ask_string(e, "from")};
	}
	p->entries++;
	p->kind[kind_of(e)]++;
	return 0;
}

static void put_person(struct sheet *s, const struct person *p)
{
	struct text t = {0};

	for (int k = 0; k <= EVENT_COUNT; k++)
		if (p->kind[k])
			text_printf(&t, "%s%zu %s", t.n ? ", " : "", p->kind[k],
			    k == EVENT_COUNT ? "of another kind" : event_name((enum event_kind)k));
	sheet_cell(s, "%s", *p->who ? p->who : "nobody named");
	sheet_cell(s, "%s", p->from);
	sheet_cell(s, "%zu", p->entries);
	sheet_cell(s, "%s", t.s ? t.s : "");
	s->failed |= t.failed;
	text_free(&t);
}

void dossier_sections_people(struct sheet *s, const struct dossier *d)
{
	static const char *const columns[] = {"WHO", "FROM", "ENTRIES", "OF THESE KINDS"};
	struct person *all = NULL;
	const json_t *e;
	size_t i, n = 0;

	sheet_add(s, SHEET_HEAD, "Who is named");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Over the socket the operating system says who asks; a file's owner stands for who "
	    "dropped it. \"service\" is Yoke itself.");
	json_array_foreach(d->events, i, e)
	{
		if (add_person(&all, &n, e))
			s->failed = true;
	}
	sheet_table(s, columns, 4);
	for (i = 0; i < n && !s->failed; i++)
		put_person(s, &all[i]);
	free(all);
}
