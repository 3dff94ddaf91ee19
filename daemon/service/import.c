/*
 * A stick comes back. What lies on it counts as what the machine holds, but for the very files that
 * were written there by us: those say nothing. Each channel is compared with the pair that was given
 * out (out) and with what the machine is believed to hold (held):
 *
 *   all are out                     fetched, loaded (seen), read-back
 *   all are held                    fetched, read-back
 *   each is one of them             fetched, split
 *   all came, and say that they     fetched, loaded (seen), drift
 *   are out, but were changed
 *   some other                      fetched, drift
 *   not all came, and one is out    fetched, unknown: half of it is in the machine by now
 *   not all came                    fetched
 */
#include "import.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "exam.h"
#include "request.h"
#include "sameness.h"
#include "sha256.h"
#include "show_json.h"
#include "stick.h"
#include "yoke/stick.h"

enum { EXPORTS_MOST = 1000 }; /* how many of the machine's last exports are looked through */

#define GIVEN_OUT "what was given out on a stick"
#define HELD "what the machine was known to hold" /* however it got there */

struct channel {
	const char *name;
	bool has_out, has_held;
	struct sha out, held;
	bool came, own; /* own: the very file that an export wrote */
	struct sha got;
	int64_t time;
	bool is_out, is_held;
};

struct import {
	struct request r;
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
	struct vault_part part[YOKE_CHANNELS_MAX]; /* of that pair, for names */
	uint32_t parts;
	struct channel channel[YOKE_CHANNELS_MAX];
	uint32_t channels, came, owns;
	bool out, held; /* there is such a pair */
	char *detail;
	char text[1024];
};

static bool is_pair(const struct import *im, const char *job, const char *revision)
{
	return !strcmp(im->job, job) && (!*im->revision || !strcmp(im->revision, revision));
}

static void take_pair(struct import *im, const char *job, const char *revision,
    const struct vault_part *part, uint32_t n)
{
	snprintf(im->job, sizeof(im->job), "%s", job);
	snprintf(im->revision, sizeof(im->revision), "%s", revision);
	for (uint32_t i = 0; i < n; i++)
		if (part[i].present)
			im->part[im->parts++] = part[i];
}

/* Which pair's names to look for. 0, -1 refused. */
static int choose(struct import *im)
{
	const struct vault_machine *h = &im->r.held;
	const struct vault_stick *s = &h->stick;
	struct vault_pair pair;
	int found;

	if (s->state != VAULT_STICK_NONE && (!*im->job || is_pair(im, s->job, s->revision))) {
		take_pair(im, s->job, s->revision, s->part, s->parts);
	} else if (*h->last_job && (!*im->job || is_pair(im, h->last_job, h->last_revision))) {
		take_pair(im, h->last_job, h->last_revision, h->part, h->parts);
	} else if (*im->job) {
		found = vault_pair(
		    im->r.s->vault, im->r.m->conf->name, im->job, im->revision, &pair);
		if (!found)
			found = vault_pair(im->r.s->vault, "", im->job, im->revision, &pair);
		if (found < 0) {
			request_not_recorded(&im->r);
			return -1;
		}
		if (found)
			take_pair(im, pair.job, pair.revision, pair.part, pair.parts);
	}
	if (im->parts)
		return 0;
	if (*im->job)
		request_refuse(&im->r, 404, "no-pair",
		    "there is no pair %s%s%s for machine %s: see `yoke jobs`", im->job,
		    *im->revision ? "@" : "", im->revision, im->r.m->conf->name);
	else
		request_refuse(&im->r, 404, "no-pair",
		    "nothing was given out or carried to machine %s, so that the names to look for "
		    "are not known: name the pair, JOB@REV",
		    im->r.m->conf->name);
	return -1;
}

static bool find(const struct vault_part *part, uint32_t n, const char *channel, struct sha *out)
{
	for (uint32_t i = 0; i < n; i++)
		if (part[i].present && !strcmp(part[i].channel, channel)) {
			*out = part[i].sha;
			return true;
		}
	return false;
}

static void fill_channels(struct import *im)
{
	const struct profile *p = &im->r.m->conf->profile;
	const struct vault_machine *h = &im->r.held;

	im->channels = p->channels;
	im->out = h->stick.state != VAULT_STICK_NONE;
	for (uint32_t i = 0; i < im->channels; i++) {
		struct channel *c = &im->channel[i];

		c->name = p->channel[i].name;
		c->has_out = im->out && find(h->stick.part, h->stick.parts, c->name, &c->out);
		c->has_held = find(h->part, h->parts, c->name, &c->held);
		im->held = im->held || c->has_held;
	}
}

/* One element of "programs". 0, -1 refused. */
static int take_program(struct import *im, const json_t *o)
{
	const char *channel = json_string_value(json_object_get(o, "channel"));
	const char *hex = json_string_value(json_object_get(o, "sha256"));
	const json_t *time = json_object_get(o, "time");
	struct channel *c = NULL;
	struct sha sha;

	for (uint32_t i = 0; channel && i < im->channels; i++)
		if (!strcmp(im->channel[i].name, channel))
			c = &im->channel[i];
	if (!c || c->came || !hex || !sha256_parse(hex, sha.b) || !json_is_integer(time)) {
		request_refuse(&im->r, 400, "body",
		    "'programs' must be a list of {channel, sha256, time}, with each channel of "
		    "machine %s once at most",
		    im->r.m->conf->name);
		return -1;
	}
	if (vault_program_size(im->r.s->vault, &sha) < 0) {
		request_refuse(
		    &im->r, 404, "no-program", "the program of %s is not in the vault", channel);
		return -1;
	}
	c->came = true;
	c->got = sha;
	c->time = json_integer_value(time);
	im->came++;
	return 0;
}

static int take_programs(struct import *im)
{
	const json_t *list = json_object_get(im->r.call->body, "programs"), *o;
	size_t i;

	if (!json_is_array(list) || !json_array_size(list)) {
		request_refuse(&im->r, 400, "body", "'programs' is missing");
		return -1;
	}
	json_array_foreach(list, i, o) if (take_program(im, o)) return -1;
	return 0;
}

static bool same_time(int64_t a, int64_t b)
{
	int64_t off = a > b ? a - b : b - a, rest = off % STICK_TIME_ZONE;

	return off <= STICK_TIME_SHIFT &&
	       (rest <= STICK_TIME_STEP || rest >= STICK_TIME_ZONE - STICK_TIME_STEP);
}

/* An export of this machine: which of what came is a file that it wrote? */
static int note_own(void *ctx, const struct event *e, const struct sha *hash)
{
	struct import *im = ctx;
	json_t *detail = e->detail ? json_loads(e->detail, 0, NULL) : NULL;
	const json_t *o;
	size_t k;

	json_array_foreach(json_object_get(detail, "files"), k, o)
	{
		const char *hex = json_string_value(json_object_get(o, "sha256"));
		struct sha sha;

		if (!hex || !sha256_parse(hex, sha.b))
			continue;
		for (uint32_t i = 0; i < im->channels; i++) {
			struct channel *c = &im->channel[i];

			if (c->came && !memcmp(&sha, &c->got, sizeof(sha)) &&
			    same_time(c->time, e->utc_us / 1000000))
				c->own = true;
		}
	}
	json_decref(detail);
	return 0;
}

/* Leave out what we wrote ourselves. 0, -1 refused: nothing else came. */
static int leave_own(struct import *im)
{
	struct vault_filter exports = {.machine = im->r.m->conf->name,
	    .kind = event_name(EVENT_EXPORTED),
	    .limit = EXPORTS_MOST};

	if (vault_events(im->r.s->vault, &exports, note_own, im) < 0) {
		request_not_recorded(&im->r);
		return -1;
	}
	for (uint32_t i = 0; i < im->channels; i++)
		if (im->channel[i].own) {
			im->channel[i].came = false;
			im->came--;
			im->owns++;
		}
	if (im->came)
		return 0;
	request_refuse(&im->r, 409, "own-copy",
	    "what lies there are the copies that `yoke export` wrote, with the same bytes and the "
	    "same file time: they say nothing of the machine. Save the programs at the control onto "
	    "the stick and import them; or say `yoke loaded %s` when they were loaded",
	    im->r.m->conf->name);
	return -1;
}

static int same(struct import *im, const struct channel *c, const struct sha *with, bool *result)
{
	struct sameness_result r;
	struct event_part p = {
	    .has_before = true, .before = *with, .has_after = true, .after = c->got};

	memcpy(p.channel, c->name, strlen(c->name) + 1);
	if (sameness_of_parts(im->r.s, im->r.m, "", &p, NULL, 1, &r))
		return -1;
	free(r.detail);
	*result = !r.different;
	return 0;
}

static int compare(struct import *im)
{
	for (uint32_t i = 0; i < im->channels; i++) {
		struct channel *c = &im->channel[i];

		if (c->came && ((c->has_out && same(im, c, &c->out, &c->is_out)) ||
		                   (c->has_held && same(im, c, &c->held, &c->is_held))))
			return -1;
	}
	return 0;
}

/* What is true of all channels that came. */
static bool every(const struct import *im, bool out, bool held)
{
	for (uint32_t i = 0; i < im->channels; i++) {
		const struct channel *c = &im->channel[i];

		if (c->came && !(out && c->is_out) && !(held && c->is_held))
			return false;
	}
	return true;
}

/* Whether what came says itself that it is the pair that was given out. */
static bool says_out(struct import *im)
{
	const struct vault_stick *s = &im->r.held.stick;
	bool says = im->out;

	for (uint32_t i = 0; says && i < im->channels; i++) {
		struct program *p =
		    exam_program(im->r.s->vault, &im->r.m->conf->profile, "", &im->channel[i].got);

		says = p && !strcmp(program_job(p), s->job) &&
		       !strcmp(program_revision(p), s->revision);
		program_free(p);
	}
	return says;
}

/* A channel holds what was given out, another pair is known, and not all came: it is half loaded at
 * least. */
static bool half_loaded(const struct import *im)
{
	if (im->r.held.content != VAULT_LOADED || im->came == im->channels)
		return false;
	for (uint32_t i = 0; i < im->channels; i++)
		if (im->channel[i].is_out && !im->channel[i].is_held)
			return true;
	return false;
}

static uint32_t parts_got(const struct import *im, bool with_out, struct event_part *part)
{
	uint32_t n = 0;

	for (uint32_t i = 0; i < im->channels; i++) {
		const struct channel *c = &im->channel[i];

		if (!c->came)
			continue;
		memset(&part[n], 0, sizeof(part[n]));
		memcpy(part[n].channel, c->name, strlen(c->name) + 1);
		part[n].has_before = with_out ? c->has_out : c->has_held;
		part[n].before = with_out ? c->out : c->held;
		part[n].has_after = true;
		part[n++].after = c->got;
	}
	return n;
}

static void add(struct import *im, const char *what, const char *more)
{
	size_t n = strlen(im->text);

	snprintf(im->text + n, sizeof(im->text) - n, "%s%s%s", n ? "; " : "", what, more);
}

/* What did not come from the machine, each in words. */
static void tell_rest(struct import *im)
{
	for (uint32_t i = 0; i < im->channels; i++) {
		const struct channel *c = &im->channel[i];

		if (c->own)
			add(im, c->name, " is the copy that `yoke export` wrote, and says nothing of "
			                 "the machine");
		else if (!c->came)
			add(im, c->name, " did not come");
	}
}

static void record(struct import *im, enum event_kind kind, const char *outcome,
    const struct event_part *part, uint32_t n)
{
	bool of_out = kind == EVENT_LOADED;
	const struct vault_stick *s = &im->r.held.stick;
	struct event_part out[YOKE_CHANNELS_MAX];
	struct vault_about about = {.machine = im->r.m->conf->name,
	    .job = of_out ? s->job : im->job,
	    .revision = of_out ? s->revision : im->revision,
	    .outcome = outcome,
	    .text = im->text,
	    .detail = kind == EVENT_FETCHED || kind == EVENT_DRIFT ? im->detail : NULL,
	    .part = of_out ? out : part,
	    .parts = of_out ? request_parts(s->part, s->parts, out) : n};

	ledger_record(im->r.s->ledger, kind, im->r.call->who->name, "stick", &about);
}

/* The events of an import, as the head of this file has them. How it ended, in a word. */
static const char *conclude(struct import *im, const struct event_part *part, uint32_t n)
{
	bool all = im->came == im->channels, known = im->r.held.content == VAULT_LOADED;
	bool is_out = all && im->out && every(im, true, false);
	bool is_held = all && im->held && every(im, false, true);

	record(im, EVENT_FETCHED, "done", part, n);
	if (is_out) {
		record(im, EVENT_LOADED, "seen", NULL, 0);
		record(im, EVENT_READ_BACK, "done", part, n);
		return "read-back";
	}
	if (is_held) {
		record(im, EVENT_READ_BACK, "done", part, n);
		return known || im->r.held.content == VAULT_UNKNOWN ? "read-back" : "fetched";
	}
	if (all && known && im->out && every(im, true, true)) {
		record(im, EVENT_SPLIT, "split", part, n);
		return "split";
	}
	if (!every(im, true, true) && (im->out || im->held)) {
		if (all && says_out(im))
			record(im, EVENT_LOADED, "seen", NULL, 0);
		record(im, EVENT_DRIFT, "drift", part, n);
		return "drift";
	}
	if (half_loaded(im)) {
		record(im, EVENT_UNKNOWN, "half", part, n);
		return "unknown";
	}
	return "fetched";
}

/* What is found, in a sentence, and the parts as they were compared. 0, -1 without memory. */
static int tell(struct import *im, struct event_part *part, uint32_t *n)
{
	bool with_out = im->out && (every(im, true, false) || !every(im, false, true));
	bool all = im->came == im->channels;
	const struct vault_machine *h = &im->r.held;
	struct sameness_result same_as;
	char pair[2 * YOKE_NAME_MAX + 8];

	*n = parts_got(im, with_out, part);
	if (sameness_of_parts(im->r.s, im->r.m,
	        with_out ? GIVEN_OUT : HELD, part, NULL, *n, &same_as))
		return -1;
	im->detail = same_as.detail;
	add(im, same_as.text, "");
	tell_rest(im);
	snprintf(pair, sizeof(pair), "%s@%s", h->stick.job, h->stick.revision);
	if (with_out && all && h->content == VAULT_LOADED && !every(im, true, false) &&
	    every(im, true, true))
		add(im, "the machine holds halves of two pairs: do not run it; load both programs of "
		        "one pair, and import again",
		    "");
	else if (half_loaded(im))
		add(im, "at least half of the pair that was given out is in the machine: do not run it "
		        "until both are there, and bring both back",
		    "");
	else if (h->stick.state == VAULT_STICK_OUT && !with_out)
		add(im, pair, ", which was given out on a stick, is not in the machine");
	if (h->content == VAULT_SPLIT && !(with_out && all && every(im, true, false)))
		add(im, "the machine stays split until a pair is loaded as a whole", "");
	return 0;
}

/* Where to look: the names of the pair. */
static void answer_names(struct import *im)
{
	struct stick_file *file = calloc(YOKE_CHANNELS_MAX, sizeof(*file));
	json_t *all = json_array();
	char why[3 * YOKE_PATH_MAX];

	if (!file || !all)
		goto out;
	if (stick_names(im->r.s, im->r.m, im->job, im->revision, im->part, im->parts, file, why,
	        sizeof(why))) {
		request_refuse(&im->r, 409, "name", "%s", why);
		goto out;
	}
	for (uint32_t i = 0; i < im->parts; i++)
		json_array_append_new(all, json_pack("{s:s, s:s, s:s}", "channel", file[i].channel,
		                               "folder", file[i].folder, "name", file[i].name));
	im->r.reply->body = json_pack("{s:s, s:s, s:s, s:O}", "machine", im->r.m->conf->name, "job",
	    im->job, "revision", im->revision, "files", all);
out:
	json_decref(all);
	free(file);
}

/* Nothing may happen to the machine at the same time. 0, -1 refused. */
static int not_busy(struct request *r)
{
	if (!r->held.order && !r->m->carrying.id)
		return 0;
	request_refuse(r, 409, "busy",
	    "an order for machine %s is under way: wait for its end, or `yoke cancel` it",
	    r->m->conf->name);
	return -1;
}

static void import_now(struct import *im)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	const char *end = "";
	json_t *machine;
	uint32_t n;

	fill_channels(im);
	if (not_busy(&im->r) || take_programs(im) || leave_own(im))
		return;
	if (compare(im) || tell(im, part, &n))
		return; /* without memory, which the API says */
	if (ledger_begin(im->r.s->ledger)) {
		request_not_recorded(&im->r);
		return;
	}
	end = conclude(im, part, n);
	if (ledger_commit(im->r.s->ledger)) {
		request_not_recorded(&im->r);
		return;
	}
	machine = show_json_machine(im->r.s, im->r.m);
	im->r.reply->body =
	    machine ? json_pack("{s:s, s:s, s:s, s:s, s:o}", "end", end, "job", im->job, "revision",
	                  im->revision, "text", im->text, "machine", machine)
	            : NULL;
}

void import_programs(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct import *im = calloc(1, sizeof(*im));
	const char *job, *revision;

	if (!im || request_begin(&im->r, service, call, reply, "import") ||
	    request_string(&im->r, "job", &job) || request_string(&im->r, "revision", &revision))
		goto out;
	snprintf(im->job, sizeof(im->job), "%s", job ? job : "");
	snprintf(im->revision, sizeof(im->revision), "%s", revision ? revision : "");
	if (choose(im))
		goto out;
	im->r.job = im->job;
	im->r.revision = im->revision;
	if (json_is_true(json_object_get(call->body, "look")))
		answer_names(im);
	else
		import_now(im);
out:
	if (im)
		free(im->detail);
	free(im);
}

void import_said(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	struct vault_about about = {.part = part, .outcome = "said"};
	const struct vault_machine *h;
	const struct vault_stick *s;
	const char *job, *revision, *note;
	char text[512];
	struct request r;
	bool named;

	if (request_begin(&r, service, call, reply, "loaded") || request_string(&r, "job", &job) ||
	    request_string(&r, "revision", &revision) || request_string(&r, "note", &note) ||
	    not_busy(&r))
		return;
	h = &r.held;
	s = &h->stick;
	named = job && *job;
	r.job = job;
	r.revision = revision;
	if (s->state != VAULT_STICK_NONE &&
	    (!named || (!strcmp(job, s->job) &&
	                   (!revision || !*revision || !strcmp(revision, s->revision))))) {
		about.job = s->job;
		about.revision = s->revision;
		about.parts = request_parts(s->part, s->parts, part);
	} else if (named && h->content == VAULT_LOADED && !h->drift && !strcmp(job, h->job) &&
	           (!revision || !*revision || !strcmp(revision, h->revision))) {
		about.job = h->job;
		about.revision = h->revision;
		about.parts = request_parts(h->part, h->parts, part);
	} else {
		request_refuse(&r, 409, "not-given-out",
		    "%s%s%s was not given out on a stick for machine %s since it was last sent to: "
		    "`yoke export` first",
		    named ? job : "a pair", named && revision && *revision ? "@" : "",
		    named && revision ? revision : "", r.m->conf->name);
		return;
	}
	snprintf(text, sizeof(text), "said to be loaded by hand, and not read back%s%s",
	    note && *note ? ": " : "", note ? note : "");
	request_record(&r, EVENT_LOADED, text, &about);
}
