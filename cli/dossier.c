#include "dossier.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "out.h"
#include "sha256.h"

enum {
	PAGE = 500, /* entries in one answer: with all findings of a job that is held, some megabytes */
	TRIES = 5,  /* how often to begin again when the shop goes on meanwhile */
};

size_t dossier_find(const struct dossier *d, const char *sha256)
{
	size_t i = 0;

	while (i < d->programs && strcmp(d->program[i].sha256, sha256) != 0)
		i++;
	return i;
}

static json_int_t seq_of(const json_t *event)
{
	return ask_number(event, "seq");
}

bool dossier_in_order(const struct dossier *d, const json_t *event)
{
	json_int_t order = ask_number(event, "order");
	size_t low = 0, high = json_array_size(d->events);

	while (order && low < high) {
		size_t middle = low + (high - low) / 2;
		json_int_t seq = seq_of(json_array_get(d->events, middle));

		if (seq == order)
			return true;
		if (seq < order)
			low = middle + 1;
		else
			high = middle;
	}
	return false;
}

/* One answer: entries of the filter behind after, oldest first. NULL: said. */
static json_t *page(const char *key, const char *value, json_int_t after, size_t limit, int *status)
{
	struct text path = {0};
	json_t *o;

	text_printf(&path, "/v1/audit?after=%lld&limit=%zu&order=oldest", (long long)after, limit);
	ask_query(&path, key, value);
	o = ask(path.failed ? NULL : path.s, NULL, status);
	text_free(&path);
	return o;
}

static bool names_program(const struct dossier *d, const json_t *event)
{
	const json_t *part;
	size_t i;

	json_array_foreach(json_object_get(event, "parts"), i, part)
	{
		if (dossier_find(d, ask_string(part, "before")) < d->programs)
			return true;
	}
	return false;
}

/* Append what is up to the newest entry, page by page. all: each of them; else those that are the
 * job's only by their order or their programs. */
static int read_pages(struct dossier *d, const char *key, const char *value, bool all, json_t *into)
{
	json_int_t last = seq_of(d->head), after = 0;
	int status = EXIT_DONE;

	while (after < last) {
		json_t *o = page(key, value, after, PAGE, &status);
		const json_t *events = json_object_get(o, "events"), *e;
		size_t i, n = json_array_size(events);

		json_array_foreach(events, i, e)
		{
			after = seq_of(e);
			if (after <= last &&
			    (all || dossier_in_order(d, e) || names_program(d, e)) &&
			    json_array_append(into, (json_t *)e))
				status = EXIT_SERVICE;
		}
		json_decref(o);
		if (!n || status != EXIT_DONE)
			break;
	}
	return status;
}

/* Put the entries of more among those that are there, in their order, each once. */
static int merge(json_t *into, json_t *more)
{
	const json_t *e;
	size_t i, at = 0;

	json_array_foreach(more, i, e)
	{
		while (at < json_array_size(into) &&
		       seq_of(json_array_get(into, at)) < seq_of(e))
			at++;
		if (at < json_array_size(into) &&
		    seq_of(json_array_get(into, at)) == seq_of(e))
			continue;
		if (json_array_insert(into, at, (json_t *)e))
			return -1;
	}
	return 0;
}

static int add_program(struct dossier *d, const json_t *event, const json_t *part, const char *key)
{
	const char *sha256 = ask_string(part, key);
	struct dossier_program *grown;
	uint8_t sum[YOKE_SHA_SIZE];

	if (!sha256_parse(sha256, sum) || dossier_find(d, sha256) < d->programs)
		return 0;
	grown = reallocarray(d->program, d->programs + 1, sizeof(*grown));
	if (!grown)
		return -1;
	d->program = grown;
	grown += d->programs++;
	memcpy(grown->sha256, sha256, sizeof(grown->sha256));
	grown->first = event;
	grown->channel = ask_string(part, "channel");
	grown->size = strcmp(ask_string(event, "kind"), "arrived")
	                  ? -1
	                  : ask_number(json_object_get(event, "detail"), "size");
	return 0;
}

static int find_programs(struct dossier *d)
{
	const json_t *e, *part;
	size_t i, k;

	free(d->program);
	d->program = NULL;
	d->programs = 0;
	json_array_foreach(d->events, i, e)
	{
		json_array_foreach(json_object_get(e, "parts"), k, part)
		{
			if (add_program(d, e, part, "before") || add_program(d, e, part, "after"))
				return -1;
		}
	}
	return 0;
}

static int no_memory(void)
{
	out_error("out of memory");
	return EXIT_SERVICE;
}

/* The entries up to the newest one. A change that is found while another job's order is carried
 * names no job, so all entries of that kind are looked through. */
static int read_events(struct dossier *d, const char *job)
{
	json_t *more = json_array();
	int status = EXIT_DONE;

	json_decref(d->events);
	d->events = json_array();
	if (!d->events || !more)
		status = no_memory();
	if (status == EXIT_DONE && d->head)
		status = read_pages(d, "job", job, true, d->events);
	if (status == EXIT_DONE && find_programs(d))
		status = no_memory();
	if (status == EXIT_DONE && d->head)
		status = read_pages(d, "kind", "drift", false, more);
	if (status == EXIT_DONE && (merge(d->events, more) || find_programs(d)))
		status = no_memory();
	json_decref(more);
	return status;
}

/* An answer, or one member of it, as the new *into. */
static void take(json_t **into, const char *member, json_t *o)
{
	json_decref(*into);
	*into = member ? json_incref(json_object_get(o, member)) : json_incref(o);
	json_decref(o);
}

/* Entries that say how far the trail itself, its times and its seals can be relied on. */
static int read_general(struct dossier *d)
{
	static const char *const kinds[] = {
	    "keyed", "sealing", "from-backup", "repaired", "clock-stepped"};
	int status = EXIT_DONE;

	json_decref(d->general);
	d->general = json_array();
	for (size_t i = 0; i < sizeof(kinds) / sizeof(kinds[0]) && status == EXIT_DONE; i++) {
		json_t *some = json_array();

		status = some && d->general ? EXIT_DONE : no_memory();
		if (status == EXIT_DONE && d->head)
			status = read_pages(d, "kind", kinds[i], true, some);
		if (status == EXIT_DONE && merge(d->general, some))
			status = no_memory();
		json_decref(some);
	}
	return status;
}

/* The checkpoint that covers the newest entry. To ask for the entry's proof has it sealed; where that
 * cannot be, the newest one that there is counts. The exit status. */
static int read_checkpoint(struct dossier *d)
{
	struct http_answer a;
	char path[64];
	int status;

	snprintf(path, sizeof(path), "/v1/audit/%lld/proof", (long long)seq_of(d->head));
	if (d->head && http_request(path, NULL, &a))
		return EXIT_SERVICE;
	if (d->head)
		http_answer_free(&a);
	take(&d->trail, "trail", ask("/v1/keys", NULL, &status));
	if (status != EXIT_DONE || ask_number(d->trail, "number") < 1)
		return status;
	snprintf(path, sizeof(path), "/v1/checkpoints?after=%lld",
	    (long long)ask_number(d->trail, "number") - 1);
	if (http_request(path, NULL, &a) == 0) {
		status = a.status == 200 ? EXIT_DONE : ask_refusal(a.status, a.json);
		free(d->checkpoint);
		d->checkpoint = status == EXIT_DONE && a.n ? strdup(a.bytes) : NULL;
	} else {
		status = EXIT_SERVICE;
	}
	http_answer_free(&a);
	return status;
}

static int read_once(struct dossier *d, const char *job)
{
	json_t *o;
	int status;

	o = ask("/v1/audit?limit=1", NULL, &status);
	json_decref(d->head);
	d->head = json_incref(json_array_get(json_object_get(o, "events"), 0));
	json_decref(o);
	if (status == EXIT_DONE)
		status = read_events(d, job);
	if (status == EXIT_DONE)
		status = read_general(d);
	if (status == EXIT_DONE)
		take(&d->pairs, "pairs", ask_about("/v1/jobs/%s", job, NULL, &status));
	if (status == EXIT_DONE)
		take(&d->machines, "machines", ask("/v1/machines", NULL, &status));
	if (status == EXIT_DONE)
		take(&d->status, NULL, ask("/v1/status", NULL, &status));
	return status == EXIT_DONE ? read_checkpoint(d) : status;
}

int dossier_read(struct dossier *d, const char *job)
{
	int status;

	for (int i = 0; i < TRIES; i++) {
		json_t *o;
		size_t newer;

		status = read_once(d, job);
		if (status != EXIT_DONE)
			return status;
		o = page("job", job, seq_of(d->head), 1, &status);
		newer = json_array_size(json_object_get(o, "events"));
		json_decref(o);
		if (status != EXIT_DONE || !newer)
			return status;
	}
	out_error("something happens to job %s all the time; ask again when it is quieter", job);
	return EXIT_SERVICE;
}

void dossier_free(struct dossier *d)
{
	json_decref(d->pairs);
	json_decref(d->machines);
	json_decref(d->status);
	json_decref(d->head);
	json_decref(d->events);
	json_decref(d->general);
	json_decref(d->trail);
	free(d->checkpoint);
	free(d->program);
	memset(d, 0, sizeof(*d));
}
