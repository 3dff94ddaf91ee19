#include "ledger.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "api.h"
#include "sha256.h"
#include "yoke/text.h"

struct ledger {
	struct vault *vault;
	struct api *api;
	json_t *waiting; /* told after the commit */
	bool open;       /* between begin and commit */
};

typedef uint64_t record_fn(struct vault *v, const struct vault_by *by, const struct vault_about *a);

static uint64_t record_started(
    struct vault *v, const struct vault_by *by, const struct vault_about *a)
{
	return vault_record_started(v, by, a->text, a->detail);
}

static uint64_t record_stopped(
    struct vault *v, const struct vault_by *by, const struct vault_about *a)
{
	return vault_record_stopped(v, by);
}

static uint64_t record_configured(
    struct vault *v, const struct vault_by *by, const struct vault_about *a)
{
	return vault_record_configured(v, by, a->detail);
}

static record_fn *const record[EVENT_COUNT] = {
    [EVENT_STARTED] = record_started,
    [EVENT_STOPPED] = record_stopped,
    [EVENT_CONFIGURED] = record_configured,
    [EVENT_ARRIVED] = vault_record_arrived,
    [EVENT_TURNED_AWAY] = vault_record_turned_away,
    [EVENT_HELD] = vault_record_held,
    [EVENT_RELEASED] = vault_record_released,
    [EVENT_ACCEPTED] = vault_record_accepted,
    [EVENT_WITHDRAWN] = vault_record_withdrawn,
    [EVENT_QUEUED] = vault_record_queued,
    [EVENT_CANCELLED] = vault_record_cancelled,
    [EVENT_MOVED] = vault_record_moved,
    [EVENT_CARRYING] = vault_record_carrying,
    [EVENT_STEP] = vault_record_step,
    [EVENT_CARRIED] = vault_record_carried,
    [EVENT_READ_BACK] = vault_record_read_back,
    [EVENT_KEPT] = vault_record_kept,
    [EVENT_SPLIT] = vault_record_split,
    [EVENT_UNKNOWN] = vault_record_unknown,
    [EVENT_FETCHED] = vault_record_fetched,
    [EVENT_FED] = vault_record_fed,
    [EVENT_DRIFT] = vault_record_drift,
    [EVENT_ADOPTED] = vault_record_adopted,
    [EVENT_PROVEN] = vault_record_proven,
    [EVENT_UNPROVEN] = vault_record_unproven,
    [EVENT_EXPORTED] = vault_record_exported,
    [EVENT_LOADED] = vault_record_loaded,
    [EVENT_LOCKED] = vault_record_locked,
    [EVENT_UNLOCKED] = vault_record_unlocked,
    [EVENT_OFFLINE] = vault_record_offline,
    [EVENT_ONLINE] = vault_record_online,
    [EVENT_ABANDONED] = vault_record_abandoned,
    [EVENT_REFUSED] = vault_record_refused,
    [EVENT_BACKED_UP] = vault_record_backed_up,
    [EVENT_FROM_BACKUP] = vault_record_from_backup,
    [EVENT_REPAIRED] = vault_record_repaired,
    [EVENT_CLOCK_STEPPED] = vault_record_clock_stepped,
    [EVENT_ROOM_LOW] = vault_record_room_low,
    [EVENT_ROOM_AGAIN] = vault_record_room_again,
    [EVENT_KEYED] = vault_record_keyed,
    [EVENT_SEALING] = vault_record_sealing,
};

struct ledger *ledger_new(struct vault *v)
{
	struct ledger *l = calloc(1, sizeof(*l));

	if (!l)
		return NULL;
	l->vault = v;
	l->waiting = json_array();
	if (!l->waiting) {
		free(l);
		return NULL;
	}
	return l;
}

void ledger_free(struct ledger *l)
{
	if (!l)
		return;
	json_decref(l->waiting);
	free(l);
}

void ledger_tell(struct ledger *l, struct api *a)
{
	l->api = a;
}

void ledger_time(int64_t utc_us, char out[32])
{
	time_t s = (time_t)(utc_us / 1000000);
	int us = (int)(utc_us % 1000000);
	struct tm tm;
	size_t n;

	if (us < 0) {
		us += 1000000;
		s--;
	}
	if (!gmtime_r(&s, &tm)) {
		snprintf(out, 32, "?");
		return;
	}
	n = strftime(out, 32, "%Y-%m-%dT%H:%M:%S", &tm);
	snprintf(out + n, 32 - n, ".%06dZ", us);
}

static void put(json_t *o, const char *key, const char *value)
{
	struct text visible = {0};
	json_t *v;

	if (!value || !*value)
		return;
	v = json_string(value);
	if (!v) { /* not UTF-8: shown byte by byte */
		text_visible(&visible, value, strlen(value));
		v = json_string(visible.s ? visible.s : "?");
		text_free(&visible);
	}
	json_object_set_new(o, key, v);
}

static json_t *parts_json(const struct event *e)
{
	json_t *all = json_array();
	char hex[YOKE_SHA_HEX + 1];

	for (uint32_t i = 0; i < e->parts; i++) {
		const struct event_part *p = &e->part[i];
		json_t *o = json_object();

		put(o, "channel", p->channel);
		if (p->has_before) {
			sha256_hex(p->before.b, hex);
			put(o, "before", hex);
		}
		if (p->has_after) {
			sha256_hex(p->after.b, hex);
			put(o, "after", hex);
		}
		json_array_append_new(all, o);
	}
	return all;
}

json_t *ledger_json(const struct event *e, const struct sha *hash)
{
	char time[32], hex[YOKE_SHA_HEX + 1];
	json_t *o = json_object(), *detail;

	if (!o)
		return NULL;
	ledger_time(e->utc_us, time);
	json_object_set_new(o, "seq", json_integer((json_int_t)e->seq));
	put(o, "time", time);
	put(o, "kind", event_name(e->kind));
	put(o, "who", e->who);
	put(o, "from", e->from);
	put(o, "machine", e->machine);
	put(o, "job", e->job);
	put(o, "revision", e->revision);
	if (e->order)
		json_object_set_new(o, "order", json_integer((json_int_t)e->order));
	put(o, "outcome", e->outcome);
	put(o, "text", e->text);
	if (e->parts)
		json_object_set_new(o, "parts", parts_json(e));
	detail = e->detail && *e->detail ? json_loads(e->detail, 0, NULL) : NULL;
	if (detail)
		json_object_set_new(o, "detail", detail);
	if (hash) {
		sha256_hex(hash->b, hex);
		put(o, "hash", hex);
	}
	return o;
}

static void told(struct ledger *l, enum event_kind kind, uint64_t seq, const struct vault_by *by,
    const struct vault_about *a)
{
	struct event e = {
	    .seq = seq,
	    .utc_us = by->utc_us,
	    .kind = kind,
	    .who = by->who,
	    .from = by->from,
	    .machine = a->machine,
	    .job = a->job,
	    .revision = a->revision,
	    .order = a->order,
	    .outcome = a->outcome,
	    .text = a->text,
	    .parts = a->parts > YOKE_CHANNELS_MAX ? YOKE_CHANNELS_MAX : a->parts,
	};
	json_t *line;

	/* Details stay in the vault: a follower asks for them when it wants them. */
	for (uint32_t i = 0; i < e.parts; i++)
		e.part[i] = a->part[i];
	line = ledger_json(&e, NULL);
	if (!line)
		return;
	if (l->open) {
		json_array_append_new(l->waiting, line);
		return;
	}
	if (l->api)
		api_publish(l->api, 0, line);
	json_decref(line);
}

uint64_t ledger_record(struct ledger *l, enum event_kind kind, const char *who, const char *from,
    const struct vault_about *a)
{
	static const struct vault_about nothing;
	struct timespec now;
	struct vault_by by = {.who = who, .from = from};
	uint64_t seq;

	if (!a)
		a = &nothing;
	clock_gettime(CLOCK_REALTIME, &now);
	by.utc_us = (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
	seq = record[kind](l->vault, &by, a);
	if (seq)
		told(l, kind, seq, &by, a);
	else
		fprintf(stderr, "yoked: event '%s' was not recorded: %s\n", event_name(kind),
		    vault_error(l->vault));
	return seq;
}

int ledger_begin(struct ledger *l)
{
	if (vault_begin(l->vault))
		return -1;
	l->open = true;
	return 0;
}

int ledger_commit(struct ledger *l)
{
	size_t i;
	json_t *line;

	l->open = false;
	if (vault_commit(l->vault)) {
		json_array_clear(l->waiting);
		return -1;
	}
	if (l->api)
		json_array_foreach(l->waiting, i, line) api_publish(l->api, 0, line);
	json_array_clear(l->waiting);
	return 0;
}

void ledger_rollback(struct ledger *l)
{
	l->open = false;
	json_array_clear(l->waiting);
	vault_rollback(l->vault);
}

const char *ledger_error(const struct ledger *l)
{
	return vault_error(l->vault);
}
