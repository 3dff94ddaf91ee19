#include "show.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "arrive.h"
#include "backup.h"
#include "exam.h"
#include "room.h"
#include "seal.h"
#include "sha256.h"
#include "show_json.h"
#include "yoke/text.h"

enum { AUDIT_DEFAULT = 200, AUDIT_MOST = 100000 };

static void vault_failed(struct service *s, struct api_reply *reply)
{
	api_reply_error(reply, 500, "vault", "%s", vault_error(s->vault));
}

/* What is not about one machine, and must not be overlooked. */
static void add_caution(const struct service *s, json_t *body)
{
	char text[300];

	room_caution(s, text, sizeof(text));
	if (body && *text)
		json_object_set_new(body, "caution", json_string(text));
}

void show_status(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	struct intake_counts c = intake_counts(s->intake);
	json_t *last;

	reply->body = json_pack("{s:s, s:s, s:i, s:{s:I, s:I, s:I, s:I, s:b}}", "version",
	    YOKE_VERSION, "programs", s->conf->programs, "machines", (int)s->machines, "folder",
	    "files", (json_int_t)c.files, "waiting",
	    (json_int_t)(c.waiting + arrive_waiting(s->arrive)), "ignored", (json_int_t)c.ignored,
	    "refused", (json_int_t)c.refused, "offline", (int)intake_is_offline(s->intake));
	if (reply->body)
		json_object_set_new(reply->body, "trail", seal_json(s->seal));
	if (reply->body)
		json_object_set_new(reply->body, "room",
		    json_pack("{s:I, s:b}", "free", (json_int_t)s->room.free, "low", (int)s->room.low));
	last = backup_last(s);
	if (reply->body && last)
		json_object_set(reply->body, "backup", last);
	json_decref(last);
	add_caution(s, reply->body);
}

void show_machines(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	json_t *all = json_array();

	for (size_t i = 0; i < s->machines; i++) {
		json_t *m = show_json_machine(s, &s->machine[i]);

		if (!m) {
			json_decref(all);
			vault_failed(s, reply);
			return;
		}
		json_array_append_new(all, m);
	}
	reply->body = json_pack("{s:o}", "machines", all);
	add_caution(s, reply->body);
}

void show_machine(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	struct service_machine *m = service_machine_find(s, call->path[0]);

	if (!m) {
		api_reply_error(reply, 404, "no-machine",
		    "no machine is called %s: see `yoke machines`", call->path[0]);
		return;
	}
	reply->body = show_json_machine(s, m);
	if (!reply->body)
		vault_failed(s, reply);
}

static int add_pair(void *ctx, const struct vault_pair *p)
{
	json_array_append_new(ctx, show_json_pair(p));
	return 0;
}

void show_jobs(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	json_t *all = json_array();

	if (vault_pairs(s->vault, NULL, add_pair, all) < 0) {
		json_decref(all);
		vault_failed(s, reply);
		return;
	}
	reply->body = json_pack("{s:o}", "jobs", all);
}

static int add_pair_report(void *ctx, const struct vault_pair *p)
{
	struct service *s = ((void **)ctx)[0];
	json_t *o = show_json_pair(p), *report;
	char *detail = vault_event_detail(s->vault, p->seq);

	report = detail ? json_loads(detail, 0, NULL) : NULL;
	if (report)
		json_object_set_new(o, "report", report);
	free(detail);
	json_array_append_new(((void **)ctx)[1], o);
	return show_json_accepted(s, o, p);
}

void show_job(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	json_t *all = json_array();
	void *ctx[2] = {s, all};

	if (vault_pairs(s->vault, call->path[0], add_pair_report, ctx) < 0) {
		json_decref(all);
		vault_failed(s, reply);
		return;
	}
	if (!json_array_size(all)) {
		json_decref(all);
		api_reply_error(reply, 404, "no-job",
		    "no program of job %s has ever come in: see `yoke jobs`", call->path[0]);
		return;
	}
	reply->body = json_pack("{s:s, s:o}", "job", call->path[0], "pairs", all);
}

void show_program(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	struct text t = {0};
	struct sha sha;

	if (!sha256_parse(call->path[0], sha.b)) {
		api_reply_error(reply, 400, "sha256",
		    "a program is named by the 64 hexadecimal digits of its SHA-256");
		return;
	}
	if (vault_program_size(s->vault, &sha) < 0) {
		api_reply_error(
		    reply, 404, "no-program", "no program with this SHA-256 is in the vault");
		return;
	}
	if (exam_bytes(s->vault, &sha, &t)) {
		text_free(&t);
		vault_failed(s, reply);
		return;
	}
	reply->n = t.n;
	reply->bytes = text_take(&t);
	reply->type = "application/octet-stream";
}

static int add_order(void *ctx, const struct vault_order *o)
{
	json_array_append_new(ctx, show_json_order(o));
	return 0;
}

void show_orders(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	json_t *all = json_array();
	const char *machine = json_string_value(json_object_get(call->query, "machine"));
	const char *open = json_string_value(json_object_get(call->query, "open"));

	if (vault_orders(s->vault, machine, !open || strcmp(open, "no") != 0, add_order, all) < 0) {
		json_decref(all);
		vault_failed(s, reply);
		return;
	}
	reply->body = json_pack("{s:o}", "orders", all);
}

/* The order named in the path: 1 found; 0 and the reply filled. */
static int order_of(
    struct service *s, const struct api_call *call, struct api_reply *reply, struct vault_order *o)
{
	char *end;
	unsigned long long id;
	int found;

	errno = 0;
	id = strtoull(call->path[0], &end, 10);
	if (errno || *end || end == call->path[0]) {
		api_reply_error(reply, 400, "order", "an order is named by its number");
		return 0;
	}
	found = vault_order(s->vault, id, o);
	if (found < 0)
		vault_failed(s, reply);
	if (!found)
		api_reply_error(reply, 404, "no-order", "there is no order %llu", id);
	return found == 1;
}

void show_order(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct vault_order o;

	if (order_of(service, call, reply, &o))
		reply->body = show_json_order(&o);
}

void show_order_follow(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct vault_order o;

	if (!order_of(service, call, reply, &o))
		return;
	if (o.state == VAULT_QUEUED || o.state == VAULT_CARRYING) {
		reply->stream = true;
		reply->topic = o.id;
		return;
	}
	/* It has ended already: the answer is the line that its stream would have closed with. */
	reply->body = json_pack(
	    "{s:s, s:s, s:s}", "end", vault_order_state_name(o.state), "error", "", "text", o.text);
}

/* A time: digits are seconds since 1970, otherwise YYYY-MM-DD[THH:MM[:SS[Z]]] in UTC. 0 and *us, or
 * -1. */
static int time_of(const char *text, int64_t *us)
{
	static const char *const form[] = {
	    "%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M", "%Y-%m-%d", "%s"};
	struct tm tm;
	const char *end;

	for (size_t i = 0; i < sizeof(form) / sizeof(form[0]); i++) {
		memset(&tm, 0, sizeof(tm));
		end = strptime(text, form[i], &tm);
		if (end && !*end) {
			*us = (i == 4 ? (int64_t)strtoll(text, NULL, 10) : (int64_t)timegm(&tm)) *
			      1000000;
			return 0;
		}
	}
	return -1;
}

static int number_of(const char *text, uint64_t *n)
{
	char *end;

	errno = 0;
	*n = strtoull(text, &end, 10);
	return errno || *end || end == text || *text == '-' ? -1 : 0;
}

static int filter_of(const struct api_call *call, struct vault_filter *f, struct api_reply *reply)
{
	const char *key;
	json_t *value;

	json_object_foreach((json_t *)call->query, key, value)
	{
		const char *text = json_string_value(value);
		int bad = 0;

		if (!strcmp(key, "job"))
			f->job = text;
		else if (!strcmp(key, "machine"))
			f->machine = text;
		else if (!strcmp(key, "who"))
			f->who = text;
		else if (!strcmp(key, "text"))
			f->text = text;
		else if (!strcmp(key, "kind"))
			bad = event_by_name(text) == EVENT_COUNT, f->kind = text;
		else if (!strcmp(key, "from"))
			bad = time_of(text, &f->from_us);
		else if (!strcmp(key, "to"))
			bad = time_of(text, &f->to_us);
		else if (!strcmp(key, "after"))
			bad = number_of(text, &f->after_seq);
		else if (!strcmp(key, "limit"))
			bad = number_of(text, &f->limit);
		else if (!strcmp(key, "order"))
			bad = strcmp(text, "oldest") && strcmp(text, "newest"),
			f->oldest_first = !strcmp(text, "oldest");
		else
			bad = 1;
		if (bad) {
			api_reply_error(reply, 400, "filter",
			    "'%s=%s' is not a filter: job, machine, who, kind, text, from, to "
			    "(YYYY-MM-DD[THH:MM:SS], UTC), "
			    "after, limit, order=newest|oldest",
			    key, text);
			return -1;
		}
	}
	if (!f->limit)
		f->limit = AUDIT_DEFAULT;
	if (f->limit > AUDIT_MOST)
		f->limit = AUDIT_MOST;
	return 0;
}

static int add_event(void *ctx, const struct event *e, const struct sha *hash)
{
	json_t *o = ledger_json(e, hash);

	if (!o)
		return -1;
	json_array_append_new(ctx, o);
	return 0;
}

void show_audit(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	struct vault_filter f = {0};
	json_t *all;

	if (filter_of(call, &f, reply))
		return;
	all = json_array();
	if (vault_events(s->vault, &f, add_event, all) < 0) {
		json_decref(all);
		vault_failed(s, reply);
		return;
	}
	reply->body = json_pack("{s:o}", "events", all);
}

void show_follow(void *service, const struct api_call *call, struct api_reply *reply)
{
	reply->stream = true;
	reply->topic = 0;
}
