#include "backup.h"

#include <errno.h>
#include <libgen.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "refusals.h"
#include "rescue.h"
#include "sha256.h"

/* Topics of back-ups: far from orders and verifications. */
#define FIRST_TOPIC (UINT64_C(3) << 61)

struct backup {
	uv_work_t work;
	struct service *s;
	uint64_t topic;
	char who[200], from[32];
	char to[YOKE_PATH_MAX + 1];
	atomic_bool stop;
	int failed;
	char why[1200];
	struct rescue_content content;
};

/* With the folder behind every link; a copy in the home would be lost with it, and could be taken for a file
 * of the service's own. 0, -1. */
static int check_folder(struct backup *b)
{
	char copy[YOKE_PATH_MAX + 1], folder[PATH_MAX], home[PATH_MAX];
	size_t n;

	memcpy(copy, b->to, sizeof(copy));
	if (!realpath(dirname(copy), folder) || !realpath(b->s->conf->home, home)) {
		snprintf(b->why, sizeof(b->why), "the folder of %s cannot be found: %s", b->to,
		    strerror(errno));
		return -1;
	}
	n = strlen(home);
	if (strncmp(folder, home, n) || (folder[n] && folder[n] != '/'))
		return 0;
	snprintf(b->why, sizeof(b->why),
	    "%.500s is below %.500s: a back-up there is lost with the vault; name a folder on another disk", b->to,
	    home);
	return -1;
}

static void on_work(uv_work_t *work)
{
	struct backup *b = work->data;
	char path[YOKE_PATH_MAX + 32];

	snprintf(path, sizeof(path), "%s/vault/yoke.db", b->s->conf->home);
	b->failed = check_folder(b) ||
	            rescue_backup(path, b->to, &b->stop, &b->content, b->why, sizeof(b->why));
}

/* The event's seq, or 0. */
static uint64_t record(struct backup *b, const char *head)
{
	const struct rescue_content *c = &b->content;
	char text[2 * YOKE_PATH_MAX], detail[200];
	struct vault_about about = {.outcome = "done", .text = text, .detail = detail};

	snprintf(text, sizeof(text), "%s: %llu entries, %llu programs, verified", b->to,
	    (unsigned long long)c->events, (unsigned long long)c->programs);
	snprintf(detail, sizeof(detail), "{\"events\":%llu,\"head\":\"%s\",\"bytes\":%lld}",
	    (unsigned long long)c->events, head, (long long)c->bytes);
	return ledger_record(b->s->ledger, EVENT_BACKED_UP, b->who, b->from, &about);
}

static json_t *done_line(struct backup *b)
{
	const struct rescue_content *c = &b->content;
	char head[YOKE_SHA_HEX + 1];
	json_t *line;
	uint64_t event;

	sha256_hex(c->head.b, head);
	event = record(b, head);
	line = json_pack("{s:s, s:I, s:I, s:I, s:s}", "file", b->to, "events", (json_int_t)c->events,
	    "programs", (json_int_t)c->programs, "bytes", (json_int_t)c->bytes, "head", head);
	if (line && event)
		json_object_set_new(line, "event", json_integer((json_int_t)event));
	return line;
}

static json_t *failed_line(struct backup *b)
{
	char text[1300];
	struct vault_about about = {.outcome = "backup", .text = text};

	snprintf(text, sizeof(text), "backup: %s", b->why);
	refusals_tell(b->s->refusals, uv_now(b->s->loop), b->who, b->from, &about);
	return json_pack("{s:s, s:s}", "error", "backup", "text", b->why);
}

static void on_done(uv_work_t *work, int status)
{
	struct backup *b = work->data;
	json_t *line;

	if (status)
		snprintf(b->why, sizeof(b->why), "cancelled");
	line = b->failed || status ? failed_line(b) : done_line(b);
	if (line)
		api_publish(b->s->api, b->topic, line);
	api_topic_end(b->s->api, b->topic);
	json_decref(line);
	b->s->backup = NULL;
	free(b);
}

static void refuse(struct service *s, const struct api_call *call, struct api_reply *reply,
    unsigned status, const char *name, const char *why)
{
	char text[500];
	struct vault_about about = {.outcome = name, .text = text};

	snprintf(text, sizeof(text), "backup: %s", why);
	refusals_tell(s->refusals, uv_now(s->loop), call->who->name, call->from, &about);
	api_reply_error(reply, status, name, "%s", why);
}

void backup_answer(void *service, const struct api_call *call, struct api_reply *reply)
{
	static uint64_t topics;
	struct service *s = service;
	const char *file = json_string_value(json_object_get(call->body, "file"));
	struct backup *b;

	if (!file || *file != '/' || strlen(file) > YOKE_PATH_MAX - 8 || file[strlen(file) - 1] == '/') {
		refuse(s, call, reply, 400, "body", "'file' must be the absolute path of a new file");
		return;
	}
	if (s->backup) {
		refuse(s, call, reply, 409, "busy", "another back-up is under way: wait for its end");
		return;
	}
	b = calloc(1, sizeof(*b));
	if (!b)
		return;
	b->s = s;
	b->work.data = b;
	b->topic = FIRST_TOPIC + topics++;
	snprintf(b->who, sizeof(b->who), "%s", call->who->name);
	snprintf(b->from, sizeof(b->from), "%s", call->from);
	memcpy(b->to, file, strlen(file) + 1);
	if (uv_queue_work(s->loop, &b->work, on_work, on_done)) {
		free(b);
		return;
	}
	s->backup = b;
	reply->stream = true;
	reply->topic = b->topic;
}

static int take_last(void *ctx, const struct event *e, const struct sha *hash)
{
	char time[32];

	ledger_time(e->utc_us, time);
	*(json_t **)ctx = json_pack("{s:s, s:s}", "time", time, "text", e->text);
	return 0;
}

json_t *backup_last(struct service *s)
{
	struct vault_filter newest = {.kind = event_name(EVENT_BACKED_UP), .limit = 1};
	json_t *last = NULL;

	vault_events(s->vault, &newest, take_last, &last);
	return last;
}

void backup_end(struct service *s)
{
	if (s->backup)
		atomic_store(&s->backup->stop, true);
}
