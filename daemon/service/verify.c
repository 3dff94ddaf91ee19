#include "verify.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "checkpoint.h"
#include "sha256.h"

/* Topics of verifications: far from orders, which count from 1. */
#define FIRST_TOPIC (UINT64_C(1) << 62)

struct verify {
	uv_work_t work;
	struct service *s;
	uint64_t topic;
	bool programs;
	char path[YOKE_PATH_MAX + 32];
	int failed;
	char why[1024];
	struct vault_verdict verdict;
};

static void on_work(uv_work_t *work)
{
	struct verify *v = work->data;

	v->failed = vault_verify_file(v->path, v->programs, &v->verdict, v->why, sizeof(v->why));
}

static json_t *good_line(const struct vault_verdict *d, const char *head)
{
	char first[CHECKPOINT_TIME_MAX + 1] = "", last[CHECKPOINT_TIME_MAX + 1] = "";

	if (d->checkpoints) {
		checkpoint_time(d->first_sealed_s, first);
		checkpoint_time(d->sealed_s, last);
	}
	return json_pack("{s:b, s:I, s:I, s:s, s:s, s:I, s:I, s:s, s:s, s:I}", "good", (int)d->good,
	    "events", (json_int_t)d->events, "first_bad", (json_int_t)d->first_bad, "head", head,
	    "text", d->text, "checkpoints", (json_int_t)d->checkpoints, "sealed",
	    (json_int_t)d->sealed, "first_time", first, "last_time", last, "unsigned_key",
	    (json_int_t)d->unsigned_key);
}

static void on_done(uv_work_t *work, int status)
{
	struct verify *v = work->data;
	char hex[YOKE_SHA_HEX + 1];
	json_t *line;

	sha256_hex(v->verdict.head.b, hex);
	if (v->failed || status)
		line = json_pack(
		    "{s:s, s:s}", "error", "vault", "text", v->failed ? v->why : "cancelled");
	else
		line = good_line(&v->verdict, hex);
	if (line)
		api_publish(v->s->api, v->topic, line);
	api_topic_end(v->s->api, v->topic);
	json_decref(line);
	free(v);
}

void verify_answer(void *service, const struct api_call *call, struct api_reply *reply)
{
	static uint64_t topics;
	struct service *s = service;
	const char *programs = json_string_value(json_object_get(call->query, "programs"));
	struct verify *v = calloc(1, sizeof(*v));

	if (!v)
		return;
	v->s = s;
	v->work.data = v;
	v->topic = FIRST_TOPIC + topics++;
	v->programs = !programs || strcmp(programs, "no") != 0;
	snprintf(v->path, sizeof(v->path), "%s/vault/yoke.db", s->conf->home);
	if (uv_queue_work(s->loop, &v->work, on_work, on_done)) {
		free(v);
		return;
	}
	reply->stream = true;
	reply->topic = v->topic;
}
