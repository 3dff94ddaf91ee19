/*
 * A pair for a machine on a stick: which programs, and under which names. It is the command that
 * writes; it asks twice:
 *
 *   look    -> the list; nothing is recorded. The command looks at the stick and writes beside what
 *              lies there.
 *   export  -> recorded, and the same list. The command puts the programs in place: from here on the
 *              machine may have them.
 */
#include "export.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "report_json.h"
#include "request.h"
#include "sha256.h"
#include "show_json.h"
#include "stick.h"

static json_t *files_json(const struct stick_file *file, uint32_t n)
{
	json_t *all = json_array();

	for (uint32_t i = 0; i < n; i++) {
		char program[YOKE_SHA_HEX + 1], written[YOKE_SHA_HEX + 1];

		sha256_hex(file[i].program.b, program);
		sha256_hex(file[i].written.b, written);
		json_array_append_new(
		    all, json_pack("{s:s, s:s, s:s, s:s, s:s, s:I}", "channel", file[i].channel,
		             "folder", file[i].folder, "name", file[i].name, "program", program,
		             "sha256", written, "size", (json_int_t)file[i].size));
	}
	return all;
}

/* What the command needs to recognise the programs that lie on the stick. */
static void add_profile(json_t *o, const struct profile *p)
{
	json_t *channels = json_array();

	for (uint32_t i = 0; i < p->channels; i++) {
		json_t *aliases = json_array();

		for (uint32_t k = 0; k < p->channel[i].aliases; k++)
			json_array_append_new(aliases, json_string(p->channel[i].alias[k]));
		json_array_append_new(channels,
		    json_pack("{s:s, s:o}", "name", p->channel[i].name, "aliases", aliases));
	}
	json_object_set_new(o, "header", report_json_string(p->header));
	json_object_set_new(o, "number_colon", json_boolean(p->colon_number));
	json_object_set_new(o, "channels", channels);
	json_object_set_new(o, "clash_refused",
	    json_boolean(p->weight[FINDING_NUMBER_CLASH] == WEIGHT_REFUSE));
}

/* The last good pair, which was proven and needs no release. 0, -1 refused. */
static int take_good(struct request *r, struct vault_pair *pair)
{
	const struct vault_machine *h = &r->held;

	if (!h->has_good) {
		request_refuse(r, 409, "no-good-pair",
		    "no pair was ever marked as proven on machine %s: `yoke prove %s` after the "
		    "first good part",
		    r->m->conf->name, r->m->conf->name);
		return -1;
	}
	memset(pair, 0, sizeof(*pair));
	memcpy(pair->job, h->good_job, sizeof(pair->job));
	memcpy(pair->revision, h->good_revision, sizeof(pair->revision));
	memcpy(pair->part, h->good, sizeof(pair->part));
	pair->parts = h->goods;
	r->job = pair->job;
	r->revision = pair->revision;
	return request_not_withdrawn(r, pair->job, pair->revision, pair->part, pair->parts);
}

/* The list, checked. 0, -1 refused. */
static int make_list(struct request *r, const struct vault_pair *pair, struct stick_file *file)
{
	uint32_t channels = r->m->conf->profile.channels;
	char why[3 * YOKE_PATH_MAX];

	if (pair->parts != channels) {
		request_refuse(r, 409, "channels",
		    "job %s revision %s has programs for %u channels, and machine %s has %u: "
		    "release it for the machine as it is configured now",
		    pair->job, pair->revision, pair->parts, r->m->conf->name, channels);
		return -1;
	}
	if (!stick_names(r->s, r->m, pair->job, pair->revision, pair->part, pair->parts, file, why,
	        sizeof(why)) &&
	    !stick_programs(r->s, r->m, file, pair->parts, why, sizeof(why)))
		return 0;
	request_refuse(r, 409, "name", "%s", why);
	return -1;
}

/* 0; -1 not recorded, and said. */
static int record(struct request *r, const struct vault_pair *pair, json_t *files, uint64_t *seq)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	json_t *o = json_pack("{s:O}", "files", files);
	char *detail = o ? json_dumps(o, JSON_COMPACT) : NULL;
	struct vault_about about = {
	    .machine = r->m->conf->name,
	    .job = pair->job,
	    .revision = pair->revision,
	    .text = "given to a person on a stick; whether the machine got it is not known until it "
	            "is said or comes back",
	    .detail = detail,
	    .part = part,
	    .parts = request_parts(pair->part, pair->parts, part),
	};

	*seq = detail ? ledger_record(r->s->ledger, EVENT_EXPORTED, r->call->who->name,
	                    r->call->from, &about)
	              : 0;
	free(detail);
	json_decref(o);
	if (!*seq || vault_machine(r->s->vault, r->m->conf->name, &r->held) < 0) {
		request_not_recorded(r);
		return -1;
	}
	return 0;
}

void export_pair(void *service, const struct api_call *call, struct api_reply *reply)
{
	bool look = json_is_true(json_object_get(call->body, "look"));
	bool good = json_is_true(json_object_get(call->body, "last_good"));
	struct stick_file *file = calloc(YOKE_CHANNELS_MAX, sizeof(*file));
	struct vault_pair pair;
	struct request r;
	json_t *files = NULL;
	uint64_t seq = 0;

	if (!file || request_begin(&r, service, call, reply, "export") ||
	    (!good && request_job(&r)) || request_unlocked(&r) ||
	    (good ? take_good(&r, &pair) : request_pair(&r, &pair)) || make_list(&r, &pair, file))
		goto out;
	files = files_json(file, pair.parts);
	if (!look && record(&r, &pair, files, &seq))
		goto out;
	reply->body = json_pack("{s:s, s:s, s:s, s:O, s:s}", "machine", r.m->conf->name, "job",
	    pair.job, "revision", pair.revision, "files", files, "caution", CAUTION);
	if (reply->body)
		add_profile(reply->body, &r.m->conf->profile);
	if (reply->body && seq) {
		json_object_set_new(reply->body, "event", json_integer((json_int_t)seq));
		show_json_time(reply->body, "time", r.held.stick.utc_us);
	}
out:
	json_decref(files);
	free(file);
}
