#include "show_json.h"

#include <string.h>
#include "adopt.h"
#include "conf_line.h"
#include "drifted.h"
#include "outcome.h"
#include "report_json.h"
#include "sha256.h"

void show_json_put(json_t *o, const char *key, const char *value)
{
	if (value && *value)
		json_object_set_new(o, key, report_json_string(value));
}

void show_json_time(json_t *o, const char *key, int64_t utc_us)
{
	char time[32];

	if (!utc_us)
		return;
	ledger_time(utc_us, time);
	json_object_set_new(o, key, json_string(time));
}

json_t *show_json_parts(const struct vault_part *part, uint32_t n)
{
	json_t *all = json_array();
	char hex[YOKE_SHA_HEX + 1];

	for (uint32_t i = 0; i < n; i++) {
		json_t *o = json_object();

		show_json_put(o, "channel", part[i].channel);
		if (part[i].present) {
			sha256_hex(part[i].sha.b, hex);
			json_object_set_new(o, "sha256", json_string(hex));
		} else {
			json_object_set_new(o, "sha256", json_null());
		}
		json_array_append_new(all, o);
	}
	return all;
}

json_t *show_json_pair(const struct vault_pair *p)
{
	json_t *o = json_object();

	json_object_set_new(o, "machine", *p->area ? report_json_string(p->area) : json_null());
	show_json_put(o, "job", p->job);
	json_object_set_new(o, "revision", report_json_string(p->revision));
	show_json_put(o, "state", vault_pair_state_name(p->state));
	show_json_put(o, "verdict", p->verdict);
	json_object_set_new(o, "parts", show_json_parts(p->part, p->parts));
	show_json_time(o, "since", p->utc_us);
	show_json_put(o, "by", p->who);
	show_json_put(o, "text", p->text);
	json_object_set_new(o, "event", json_integer((json_int_t)p->seq));
	return o;
}

static int add_acceptance(void *ctx, const struct vault_acceptance *a)
{
	json_t *o = json_object();

	show_json_put(o, "rule", a->rule);
	show_json_put(o, "by", a->who);
	show_json_time(o, "since", a->utc_us);
	show_json_put(o, "text", a->text);
	json_object_set_new(o, "event", json_integer((json_int_t)a->seq));
	json_array_append_new(ctx, o);
	return 0;
}

int show_json_accepted(struct service *s, json_t *o, const struct vault_pair *p)
{
	json_t *all = json_array();
	int failed = vault_acceptances(s->vault, p, add_acceptance, all);

	if (json_array_size(all))
		json_object_set(o, "accepted", all);
	json_decref(all);
	return failed < 0 ? -1 : 0;
}

json_t *show_json_order(const struct vault_order *v)
{
	json_t *o = json_object();

	json_object_set_new(o, "order", json_integer((json_int_t)v->id));
	show_json_put(o, "state", vault_order_state_name(v->state));
	show_json_put(o, "act", v->act);
	show_json_put(o, "machine", v->machine);
	show_json_put(o, "job", v->job);
	show_json_put(o, "revision", v->revision);
	json_object_set_new(o, "parts", show_json_parts(v->part, v->parts));
	show_json_put(o, "by", v->who);
	show_json_put(o, "step", v->step);
	show_json_time(o, "since", v->utc_us);
	show_json_put(o, "text", v->text);
	return o;
}

static const char *line_name(const struct service_machine *m)
{
	switch (m->conf->line[0].kind) {
	case LINE_DIRECTORY:
		return "directory";
	case LINE_REMOTE:
		return "remote";
	case LINE_SERIAL:
		return "serial";
	case LINE_STICK:
		return "stick";
	case LINE_NONE:
		break;
	}
	return "none";
}

static bool is_unverified(const struct service_machine *m)
{
	for (uint32_t i = 0; i < m->conf->profile.channels; i++)
		if (conf_line_unverified(&m->conf->line[i]))
			return true;
	return false;
}

static void add_good(json_t *o, const struct vault_machine *v)
{
	json_t *good;

	if (!v->has_good) {
		json_object_set_new(o, "last_good", json_null());
		return;
	}
	good = json_object();
	show_json_put(good, "job", v->good_job);
	show_json_put(good, "revision", v->good_revision);
	json_object_set_new(good, "parts", show_json_parts(v->good, v->goods));
	show_json_time(good, "since", v->good_us);
	show_json_put(good, "by", v->good_by);
	json_object_set_new(o, "last_good", good);
}

/* A pair that was given out on a stick, while that is not settled. */
static void add_stick(json_t *o, const struct vault_stick *v)
{
	json_t *stick;

	if (v->state == VAULT_STICK_NONE)
		return;
	stick = json_object();
	json_object_set_new(stick, "said", json_boolean(v->state == VAULT_STICK_SAID));
	show_json_put(stick, "job", v->job);
	show_json_put(stick, "revision", v->revision);
	json_object_set_new(stick, "parts", show_json_parts(v->part, v->parts));
	show_json_time(stick, "since", v->utc_us);
	show_json_put(stick, "by", v->who);
	json_object_set_new(o, "stick", stick);
}

struct queue {
	json_t *orders;
};

static int add_order(void *ctx, const struct vault_order *v)
{
	struct queue *q = ctx;

	json_array_append_new(q->orders, show_json_order(v));
	return 0;
}

json_t *show_json_machine(struct service *s, const struct service_machine *m)
{
	struct vault_machine v;
	struct drifted now;
	char why[700];
	struct queue q;
	json_t *o;

	if (vault_machine(s->vault, m->conf->name, &v) < 0)
		return NULL;
	o = json_object();
	show_json_put(o, "name", m->conf->name);
	show_json_put(o, "title", m->conf->title);
	show_json_put(o, "line", line_name(m));
	show_json_put(o, "content", vault_content_name(v.content));
	show_json_put(o, "job", v.job);
	show_json_put(o, "revision", v.revision);
	json_object_set_new(o, "parts", show_json_parts(v.part, v.parts));
	json_object_set_new(o, "read_back", json_boolean(v.read_back));
	json_object_set_new(o, "proven", json_boolean(v.proven));
	json_object_set_new(o, "drift", json_boolean(v.drift));
	json_object_set_new(o, "locked", json_boolean(v.locked));
	json_object_set_new(o, "offline", json_boolean(v.offline));
	json_object_set_new(o, "abandoned", json_boolean(v.abandoned));
	show_json_time(o, "since", v.since_us);
	show_json_put(o, "by", v.by);
	show_json_put(o, "lock_text", v.lock_text);
	show_json_put(o, "text", v.text);
	if (is_unverified(m))
		json_object_set_new(o, "unverified", json_true());
	if (m->unsettled)
		json_object_set_new(o, "unsettled", json_integer((json_int_t)m->unsettled));
	if (m->conf->call.listen)
		json_object_set_new(o, "listening", json_boolean(m->listening && !m->away));
	add_stick(o, &v.stick);
	if (!adopt_stands(s, &v, why, sizeof(why)))
		show_json_put(o, "adopted_text", why);
	if (v.drift && drifted_now(s, &v, &now) == 0)
		json_object_set_new(o, "now", drifted_json(&now));
	add_good(o, &v);
	q.orders = json_array();
	vault_orders(s->vault, m->conf->name, true, add_order, &q);
	json_object_set_new(o, "orders", q.orders);
	if (m->has_progress)
		json_object_set_new(o, "progress", outcome_progress(m));
	return o;
}
