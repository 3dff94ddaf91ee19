#include "configured.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "conf_line.h"
#include "load.h"
#include "sha256.h"

/* {"file": name, "sha256": sum}; NULL when it cannot be read. */
static json_t *file_sum(const char *home, const char *name)
{
	char path[2 * YOKE_PATH_MAX], hex[YOKE_SHA_HEX + 1];
	uint8_t sum[YOKE_SHA_SIZE];
	struct text why = {0};
	char *bytes = NULL;
	size_t n = 0;
	json_t *o = NULL;
	int fd;

	snprintf(path, sizeof(path), "%s/%s", home, name);
	fd = load_open(path, &why);
	if (fd >= 0 && !load_bytes(fd, path, &bytes, &n, sum, &why)) {
		sha256_hex(sum, hex);
		o = json_pack("{s:s, s:s}", "file", name, "sha256", hex);
	} else {
		fprintf(stderr, "yoked: %s\n", why.s ? why.s : "memory ran out");
	}
	if (fd >= 0)
		close(fd);
	free(bytes);
	text_free(&why);
	return o;
}

/* Weights that this profile sets otherwise than the list of findings does. */
static void add_weights(json_t *all, const char *machine, const struct profile *p)
{
	for (int id = 0; id < FINDING_COUNT; id++)
		if (p->weight[id] != finding_weight(id))
			json_array_append_new(
			    all, json_pack("{s:s, s:s, s:s, s:s}", "machine", machine, "finding",
			             finding_name(id), "weight", finding_weight_name(p->weight[id]),
			             "instead_of", finding_weight_name(finding_weight(id))));
}

/* A machine whose server is taken for the right one without a look at its key. */
static void add_unverified(json_t *all, const struct conf_machine *m)
{
	const char *why = NULL;

	for (uint32_t i = 0; i < m->profile.channels && !why; i++)
		why = conf_line_unverified(&m->line[i]);
	if (why)
		json_array_append_new(all, json_pack("{s:s, s:s}", "machine", m->name, "because", why));
}

/* Which groups have which duty, with their numbers: a group of the same name may be another one day.
 * NULL where nothing is given. */
static json_t *duties(const struct conf *c)
{
	json_t *all = json_object();

	for (int d = 0; d < DUTY_COUNT; d++) {
		const struct conf_duty *duty = &c->duties.duty[d];
		json_t *groups = json_array();

		for (size_t i = 0; i < duty->n; i++)
			json_array_append_new(
			    groups, json_pack("{s:s, s:I}", "group", duty->group[i].name, "gid",
			                (json_int_t)duty->group[i].gid));
		if (duty->given && !duty->all)
			json_object_set(all, conf_duty_name((enum duty)d), groups);
		json_decref(groups);
	}
	if (json_object_size(all))
		return all;
	json_decref(all);
	return NULL;
}

static json_t *describe(const struct conf *c)
{
	json_t *files = json_array(), *weights = json_array(), *unverified = json_array(), *all,
	       *one = file_sum(c->home, "yoke.conf");
	bool failed = !one;
	char name[YOKE_NAME_MAX + 32];

	json_array_append_new(files, one);
	add_weights(weights, "", &c->profile);
	for (size_t i = 0; i < c->machines; i++) {
		snprintf(name, sizeof(name), "machines/%s.conf", c->machine[i].name);
		one = file_sum(c->home, name);
		failed = failed || !one;
		json_array_append_new(files, one);
		add_weights(weights, c->machine[i].name, &c->machine[i].profile);
		add_unverified(unverified, &c->machine[i]);
	}
	if (failed) {
		json_decref(files);
		json_decref(weights);
		json_decref(unverified);
		return NULL;
	}
	all = json_pack("{s:o, s:o}", "files", files, "weights", weights);
	if (json_array_size(unverified))
		json_object_set(all, "unverified", unverified);
	json_decref(unverified);
	json_object_set_new(all, "duties", duties(c)); /* which takes no NULL: then there are none */
	return all;
}

struct last {
	char *detail; /* of the last configuration recorded, NULL for none */
	uint64_t seq;
};

static int take_last(void *ctx, const struct event *e, const struct sha *hash)
{
	struct last *last = ctx;

	last->seq = e->seq;
	last->detail = strdup(e->detail ? e->detail : "");
	return last->detail ? 0 : -1;
}

static int take_any(void *ctx, const struct event *e, const struct sha *hash)
{
	*(bool *)ctx = true;
	return 0;
}

/* Whether a run under the configuration recorded at seq ended in good order. 0 and *whole, -1. */
static int ran_whole(struct service *s, uint64_t seq, bool *whole)
{
	struct vault_filter stopped = {
	    .kind = event_name(EVENT_STOPPED), .after_seq = seq, .limit = 1};

	*whole = false;
	return vault_events(s->vault, &stopped, take_any, whole) < 0 ? -1 : 0;
}

int configured_record(struct service *s)
{
	struct vault_filter newest = {.kind = event_name(EVENT_CONFIGURED), .limit = 1};
	struct vault_about about = {0};
	json_t *now = describe(s->conf);
	char *detail = now ? json_dumps(now, JSON_COMPACT) : NULL;
	struct last last = {0};
	bool whole = false;
	int result = -1;

	json_decref(now);
	if (!detail || vault_events(s->vault, &newest, take_last, &last) < 0)
		goto out;
	if (last.detail && !strcmp(last.detail, detail)) {
		result = ran_whole(s, last.seq, &whole);
		s->reconfigured = !whole;
		goto out;
	}
	about.detail = detail;
	s->reconfigured = last.detail != NULL;
	result = ledger_record(s->ledger, EVENT_CONFIGURED, "service", "service", &about) ? 0 : -1;
out:
	free(last.detail);
	free(detail);
	return result;
}

static bool has_channel(const struct profile *p, const char *name)
{
	for (uint32_t i = 0; i < p->channels; i++)
		if (!strcmp(p->channel[i].name, name))
			return true;
	return false;
}

/* "upper, lower" of either list: the one that is given. */
static void put_channels(struct text *t, const struct profile *p, const struct vault_machine *held)
{
	uint32_t n = p ? p->channels : held->goods;

	for (uint32_t i = 0; i < n; i++)
		text_printf(
		    t, "%s%s", i ? ", " : "", p ? p->channel[i].name : held->good[i].channel);
}

static int unprove(struct service *s, const struct profile *p, const struct vault_machine *held)
{
	struct vault_about about = {.machine = held->name,
	    .job = held->good_job,
	    .revision = held->good_revision,
	    .outcome = "channels"};
	struct text t = {0};
	uint64_t seq;

	text_puts(&t, "the machine's channels are ");
	put_channels(&t, p, NULL);
	text_printf(&t, " now; %s@%s was proven with ", held->good_job, held->good_revision);
	put_channels(&t, NULL, held);
	about.text = t.s;
	seq = ledger_record(s->ledger, EVENT_UNPROVEN, "service (the configuration was changed)",
	    "service", &about);
	text_free(&t);
	return seq ? 0 : -1;
}

int configured_channels(struct service *s)
{
	for (size_t i = 0; i < s->machines; i++) {
		const struct profile *p = &s->machine[i].conf->profile;
		struct vault_machine held;
		bool same;

		if (vault_machine(s->vault, s->machine[i].conf->name, &held) < 0)
			return -1;
		same = held.goods == p->channels;
		for (uint32_t k = 0; k < held.goods; k++)
			same = same && has_channel(p, held.good[k].channel);
		if (held.has_good && !same && unprove(s, p, &held))
			return -1;
	}
	return 0;
}
