#include "keys.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "base64.h"
#include "ledger.h"
#include "request.h"
#include "seal.h"
#include "vault_seal.h"
#include "yoke/text.h"

enum {
	CHECKPOINTS_MOST = 10000,
	ENTRIES_BYTES = 4 << 20, /* an answer with entries ends with the one that comes to this */
};

static void vault_failed(struct service *s, struct api_reply *reply)
{
	api_reply_error(reply, 500, "vault", "%s", vault_error(s->vault));
}

static void give_text(struct text *t, struct api_reply *reply)
{
	reply->n = t->n;
	reply->bytes = text_take(t);
	reply->type = "text/plain; charset=utf-8";
}

static bool whole_number(const char *s, uint64_t *out)
{
	char *end;

	*out = strtoull(s, &end, 10);
	return *s >= '0' && *s <= '9' && *end == '\0' && strlen(s) < 19;
}

void keys_prove(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	struct text t = {0};
	uint64_t seq, end;
	int r;

	if (!whole_number(call->path[0], &seq) || vault_end(s->vault, &end) < 0 || seq < 1 || seq > end) {
		api_reply_error(reply, 404, "no-event", "there is no entry %s: see `yoke audit`",
		    call->path[0]);
		return;
	}
	r = vault_prove(s->vault, seq, &t);
	if (r == 0 && seal_now(s->seal))
		r = vault_prove(s->vault, seq, &t);
	if (r == 1) {
		give_text(&t, reply);
		return;
	}
	text_free(&t);
	if (r < 0)
		vault_failed(s, reply);
	else
		api_reply_error(reply, 409, "not-sealed",
		    "entry %s is not sealed, and cannot be: see `yoke status`", call->path[0]);
}

static int add_note(void *ctx, uint64_t number, const char *note)
{
	text_puts(ctx, note);
	text_putc(ctx, '\n');
	return 0;
}

void keys_checkpoints(void *service, const struct api_call *call, struct api_reply *reply)
{
	const char *after = json_string_value(json_object_get(call->query, "after"));
	struct service *s = service;
	struct text t = {0};
	uint64_t number = 0;

	if (after && !whole_number(after, &number)) {
		api_reply_error(reply, 400, "query", "after=%.40s is no number", after);
		return;
	}
	if (vault_checkpoints(s->vault, number, CHECKPOINTS_MOST, add_note, &t) < 0) {
		text_free(&t);
		vault_failed(s, reply);
		return;
	}
	give_text(&t, reply);
}

static int add_leaf(void *ctx, const void *leaf, size_t n)
{
	struct text *t = ctx;

	base64_put(t, leaf, n);
	text_putc(t, '\n');
	return t->n >= ENTRIES_BYTES;
}

void keys_entries(void *service, const struct api_call *call, struct api_reply *reply)
{
	const char *after = json_string_value(json_object_get(call->query, "after"));
	struct service *s = service;
	struct text t = {0};
	uint64_t seq = 0;

	if (after && !whole_number(after, &seq)) {
		api_reply_error(reply, 400, "query", "after=%.40s is no number", after);
		return;
	}
	if (vault_leaves(s->vault, seq, add_leaf, &t) < 0) {
		text_free(&t);
		vault_failed(s, reply);
		return;
	}
	give_text(&t, reply);
}

static int add_key(void *ctx, uint64_t seq, int64_t utc_us, const char *key)
{
	char time[32];

	ledger_time(utc_us, time);
	return json_array_append_new(ctx, json_pack("{s:s, s:I, s:s}", "key", key, "event",
	                                      (json_int_t)seq, "time", time));
}

void keys_list(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	json_t *all = json_array();

	if (!all || vault_keys(s->vault, add_key, all) != 0) {
		json_decref(all);
		vault_failed(s, reply);
		return;
	}
	reply->body = json_pack("{s:o, s:o}", "keys", all, "trail", seal_json(s->seal));
}

void keys_rotate(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r = {.s = service, .call = call, .reply = reply, .act = "keys rotate"};
	char why[1000];

	if (call->who->uid != 0 && call->who->uid != geteuid()) {
		request_refuse(&r, 403, "owner",
		    "only the service's own user and root change the key that signs the trail");
		return;
	}
	if (seal_rotate(r.s->seal, json_is_true(json_object_get(call->body, "lost")), call->who->name,
	        call->from, why, sizeof(why))) {
		request_refuse(&r, 409, "key", "%s", why);
		return;
	}
	keys_list(service, call, reply);
}
