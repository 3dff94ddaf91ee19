#include "upload.h"

#include <stdlib.h>
#include "rights.h"
#include "sha256.h"

/* A program on its way in. */
struct upload {
	struct vault_stage *stage;
	struct sha256 *sum;
	uint64_t n;
	bool failed;
};

static void drop(void *taken)
{
	struct upload *u = taken;

	vault_stage_drop(u->stage);
	sha256_free(u->sum);
	free(u);
}

static void *begin(void *service)
{
	struct service *s = service;
	struct upload *u = calloc(1, sizeof(*u));

	if (!u)
		return NULL;
	u->stage = vault_stage_new(s->vault);
	u->sum = sha256_new();
	if (u->stage && u->sum)
		return u;
	drop(u);
	return NULL;
}

static void add(void *taken, const void *bytes, size_t n)
{
	struct upload *u = taken;

	u->failed = u->failed || vault_stage_add(u->stage, bytes, n) || sha256_add(u->sum, bytes, n);
	u->n += n;
}

const struct api_take upload_take = {rights_may_upload, begin, add, drop};

void upload_keep(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct service *s = service;
	struct upload *u = call->taken;
	char hex[YOKE_SHA_HEX + 1];
	struct sha sha;
	bool kept;

	if (!u)
		return; /* the API says that memory ran out */
	kept = !u->failed && !sha256_end(u->sum, sha.b);
	if (kept) {
		kept = !vault_stage_keep(u->stage, &sha);
		u->stage = NULL;
	}
	if (!kept) {
		api_reply_error(reply, 500, "vault", "%s", vault_error(s->vault));
		return;
	}
	sha256_hex(sha.b, hex);
	reply->status = 201;
	reply->body = json_pack("{s:s, s:I}", "sha256", hex, "size", (json_int_t)u->n);
}
