#include "outcome.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "orders.h"
#include "recover.h"
#include "sameness.h"
#include "sha256.h"

static const char *const step_name[CARRY_STEP_COUNT] = {
#define X(id, name, why) [CARRY_STEP_##id] = name,
    CARRY_STEP_LIST(X)
#undef X
};

static const char *const step_why[CARRY_STEP_COUNT] = {
#define X(id, name, why) [CARRY_STEP_##id] = why,
    CARRY_STEP_LIST(X)
#undef X
};

static const char *const phase_name[CARRY_PHASE_COUNT] = {
#define X(id, name, text) [CARRY_PHASE_##id] = name,
    CARRY_PHASE_LIST(X)
#undef X
};

static const char *const phase_text[CARRY_PHASE_COUNT] = {
#define X(id, name, text) [CARRY_PHASE_##id] = text,
    CARRY_PHASE_LIST(X)
#undef X
};

static const char *const error_name[CARRY_ERROR_COUNT] = {
#define X(id, name, passes, text) [CARRY_ERROR_##id] = name,
    CARRY_ERROR_LIST(X)
#undef X
};

static const bool error_passes[CARRY_ERROR_COUNT] = {
#define X(id, name, passes, text) [CARRY_ERROR_##id] = passes,
    CARRY_ERROR_LIST(X)
#undef X
};

static const char *const held_name[] = {"unknown", "old", "new", "other", "absent", "stump"};

void outcome_reset(struct service *s, struct service_machine *m, const struct carry_order *order)
{
	struct vault_machine held;

	m->carrying = *order;
	m->has_progress = m->granted = false;
	m->halted = NULL;
	memset(m->has_copy, 0, sizeof(m->has_copy));
	memset(m->has_before, 0, sizeof(m->has_before));
	if (vault_machine(s->vault, m->conf->name, &held) < 0)
		return;
	for (uint32_t i = 0; i < order->items; i++)
		for (uint32_t k = 0; k < held.parts; k++)
			if (held.part[k].present &&
			    !strcmp(held.part[k].channel, order->item[i].channel)) {
				m->has_before[i] = true;
				m->before[i] = held.part[k].sha;
			}
}

void outcome_end_follow(
    struct service *s, uint64_t order, const char *kind, const char *error, const char *text)
{
	json_t *line;

	if (!s->api)
		return;
	line = json_pack("{s:s, s:s, s:s}", "end", kind, "error", error, "text", text);
	if (line)
		api_publish(s->api, order, line);
	json_decref(line);
	api_topic_end(s->api, order);
}

json_t *outcome_progress(const struct service_machine *m)
{
	const struct carry_progress *p = &m->progress;
	json_t *o = json_object();

	json_object_set_new(o, "order", json_integer((json_int_t)m->carrying.id));
	json_object_set_new(o, "machine", json_string(m->conf->name));
	if (p->item < m->carrying.items)
		json_object_set_new(o, "channel", json_string(m->carrying.item[p->item].channel));
	json_object_set_new(o, "phase", json_string(phase_name[p->phase]));
	json_object_set_new(o, "text", json_string(phase_text[p->phase]));
	json_object_set_new(o, "bytes", json_integer((json_int_t)p->bytes));
	json_object_set_new(o, "total", json_integer((json_int_t)p->total));
	json_object_set_new(o, "block", json_integer((json_int_t)p->block));
	if (p->left_ms != UINT64_MAX)
		json_object_set_new(o, "left_ms", json_integer((json_int_t)p->left_ms));
	return o;
}

static void on_progress(void *ctx, const struct carry_order *order, const struct carry_progress *p)
{
	struct service *s = ctx;
	struct service_machine *m = service_machine_find(s, order->machine);
	json_t *line;

	if (!m || m->carrying.id != order->id || p->phase >= CARRY_PHASE_COUNT)
		return;
	m->progress = *p;
	m->has_progress = true;
	line = outcome_progress(m);
	api_publish(s->api, order->id, line);
	json_decref(line);
}

/* True for a step after which the machine holds something else. */
static bool changes(uint32_t step)
{
	return step == CARRY_STEP_REPLACE || step == CARRY_STEP_TRANSMIT ||
	       step == CARRY_STEP_PUT_BACK;
}

static bool on_step(void *ctx, const struct carry_order *order, const struct carry_step *step)
{
	struct service *s = ctx;
	struct service_machine *m = service_machine_find(s, order->machine);
	struct vault_order o;
	char text[256];
	struct vault_about about = {.machine = order->machine, .order = order->id, .text = text};

	if (!m || step->step >= CARRY_STEP_COUNT || vault_order(s->vault, order->id, &o) != 1)
		return false;
	if (m->halted && !m->granted)
		return false;
	about.job = o.job;
	about.revision = o.revision;
	about.outcome = step_name[step->step];
	snprintf(text, sizeof(text), "%s: %s",
	    step->item < order->items ? order->item[step->item].channel : "all channels",
	    step_why[step->step]);
	if (!ledger_record(s->ledger, EVENT_STEP, "service", "carrier", &about))
		return false;
	m->granted = m->granted || changes(step->step);
	return true;
}

/* Take what came from a machine into the vault. 0, -1. */
static int keep_content(struct service *s, const struct carry_content *c, int fd)
{
	struct vault_stage *stage = NULL;
	uint8_t sum[YOKE_SHA_SIZE];
	void *bytes = NULL;
	int result = -1;

	if (c->size > YOKE_PROGRAM_MAX)
		return -1;
	if (c->size) {
		bytes = mmap(NULL, c->size, PROT_READ, MAP_PRIVATE, fd, 0);
		if (bytes == MAP_FAILED)
			return -1;
	}
	if (sha256_of(bytes, c->size, sum) || memcmp(sum, c->sha.b, sizeof(sum)))
		goto out;
	stage = vault_stage_new(s->vault);
	if (!stage)
		goto out;
	if (c->size && vault_stage_add(stage, bytes, c->size)) {
		vault_stage_drop(stage);
		goto out;
	}
	result = vault_stage_keep(stage, &c->sha);
out:
	if (bytes)
		munmap(bytes, c->size);
	return result;
}

/* What a machine held before it was replaced and the vault had never seen is kept, and told. */
static void tell_found(
    struct service *s, const struct carry_order *order, const struct carry_content *c)
{
	const struct carry_item *item = &order->item[c->item];
	struct event_part part = {.has_after = true, .after = c->sha};
	struct vault_about about = {
	    .machine = order->machine,
	    .order = order->id,
	    .part = &part,
	    .parts = 1,
	    .outcome = c->role == CARRY_ROLE_RAW ? "raw" : "found",
	    .text = c->role == CARRY_ROLE_RAW
	                ? "a capture of the line that is no program, kept for the log"
	                : "what the machine held before this order; kept",
	};

	memcpy(part.channel, item->channel, sizeof(part.channel));
	if (c->role == CARRY_ROLE_OLD && item->has_expect) {
		part.has_before = true;
		part.before = item->expect;
		about.text = "the machine held something else than what was carried there; it was "
		             "kept before it was replaced";
	}
	ledger_record(
	    s->ledger, part.has_before ? EVENT_DRIFT : EVENT_ARRIVED, "service", "carrier", &about);
}

static void on_content(
    void *ctx, const struct carry_order *order, const struct carry_content *c, int fd)
{
	struct service *s = ctx;
	struct service_machine *m = service_machine_find(s, order->machine);
	const struct carry_item *item;
	bool known;

	if (!m || c->item >= order->items)
		goto out;
	item = &order->item[c->item];
	known = vault_program_size(s->vault, &c->sha) >= 0;
	if (keep_content(s, c, fd)) {
		fprintf(stderr, "yoked: machine %s, %s: what came from it could not be kept: %s\n",
		    order->machine, item->channel, vault_error(s->vault));
		goto out;
	}
	if (c->role == CARRY_ROLE_COPY) {
		m->has_copy[c->item] = true;
		m->copy[c->item] = c->sha;
	} else if (c->role == CARRY_ROLE_RAW || !known ||
	           (item->has_expect && memcmp(&item->expect, &c->sha, sizeof(struct sha)))) {
		tell_found(s, order, c);
	}
out:
	close(fd);
}

enum event_kind outcome_judge(const struct carry_order *order, const struct carry_outcome *o)
{
	unsigned new = 0, old = 0, unknown = 0, broken = 0;

	for (uint32_t i = 0; i < order->items; i++)
		switch ((enum carry_held)o->channel[i].held) {
		case CARRY_HELD_NEW:
			new ++;
			break;
		case CARRY_HELD_OLD:
			old++;
			break;
		case CARRY_HELD_ABSENT:
			/* Nothing there is as before only when nothing was there. */
			if (order->item[i].has_expect)
				broken++;
			else
				old++;
			break;
		case CARRY_HELD_OTHER:
		case CARRY_HELD_STUMP:
			broken++;
			break;
		case CARRY_HELD_UNKNOWN:
		default:
			unknown++;
		}
	if (new == order->items)
		return EVENT_CARRIED;
	if (old == order->items)
		return o->error == CARRY_ERROR_CANCELLED ? EVENT_CANCELLED : EVENT_KEPT;
	if (broken || new)
		return EVENT_SPLIT;
	return EVENT_UNKNOWN;
}

static char *figures(const struct carry_order *order, const struct carry_outcome *o)
{
	json_t *all = json_object(), *list = json_array();
	char *text;

	for (uint32_t i = 0; i < order->items; i++) {
		const struct carry_channel *c = &o->channel[i];
		json_t *f = json_pack("{s:s, s:s, s:b, s:I, s:I, s:I, s:I, s:I, s:I}", "channel",
		    order->item[i].channel, "held",
		    held_name[c->held <= CARRY_HELD_STUMP ? c->held : 0], "compared",
		    (int)c->compared, "bytes", (json_int_t)c->bytes, "blocks", (json_int_t)c->block,
		    "after_dc3", (json_int_t)c->after_dc3, "held_ms", (json_int_t)c->held_ms,
		    "line_ms", (json_int_t)c->line_ms, "line_errors", (json_int_t)c->line_errors);

		if (f)
			json_array_append_new(list, f);
	}
	json_object_set_new(all, "error", json_string(error_name[o->error]));
	json_object_set_new(all, "channels", list);
	text = json_dumps(all, JSON_COMPACT);
	json_decref(all);
	return text;
}

/* What each channel holds now, as far as it is known. */
static void parts_after(const struct service_machine *m, const struct carry_order *order,
    const struct carry_outcome *o, struct event_part *part)
{
	for (uint32_t i = 0; i < order->items; i++) {
		const struct carry_channel *c = &o->channel[i];
		const struct carry_item *item = &order->item[i];

		memset(&part[i], 0, sizeof(part[i]));
		memcpy(part[i].channel, item->channel, sizeof(part[i].channel));
		part[i].has_before = m->has_before[i];
		part[i].before = m->before[i];
		if (c->held == CARRY_HELD_NEW) {
			part[i].has_after = true;
			part[i].after = item->want;
		} else if (c->has_sha && c->held != CARRY_HELD_STUMP) {
			part[i].has_after = true;
			part[i].after = c->sha;
		} else if (c->held == CARRY_HELD_OLD && m->has_before[i]) {
			part[i].has_after = true;
			part[i].after = m->before[i];
		}
	}
}

static int finish_send(struct service *s, struct service_machine *m, const struct vault_order *o,
    const struct carry_order *order, const struct carry_outcome *out, struct vault_about *about)
{
	enum event_kind kind = outcome_judge(order, out);
	bool compared = true, touched = *o->step != '\0';

	if (kind == EVENT_KEPT && out->error == CARRY_ERROR_CARRIER && touched)
		kind = EVENT_UNKNOWN;
	/* All of it left us, but what the control punched is no equal copy. */
	if (kind == EVENT_CARRIED &&
	    (out->error == CARRY_ERROR_DAMAGED || out->error == CARRY_ERROR_FRAMING))
		kind = EVENT_UNKNOWN;
	if (kind == EVENT_KEPT && error_passes[out->error] && orders_is_automatic(o)) {
		about->outcome = "again";
		orders_try_later(s, m);
	}
	if (kind == EVENT_CANCELLED && m->halted) {
		kind = EVENT_KEPT;
		about->outcome = "again";
		about->text = m->halted;
	}
	if (!ledger_record(
	        s->ledger, kind, kind == EVENT_CARRIED ? o->who : "service", "carrier", about))
		return -1;
	for (uint32_t i = 0; i < order->items; i++)
		compared = compared && out->channel[i].compared;
	if (kind == EVENT_CARRIED && compared &&
	    !ledger_record(s->ledger, EVENT_READ_BACK, "service", "carrier", about))
		return -1;
	if (kind == EVENT_CARRIED)
		m->tries = 0;
	outcome_end_follow(s, order->id, event_name(kind), error_name[out->error], about->text);
	return 0;
}

/* A fetch: what came, and whether it is what was carried there. */
static int finish_fetch(struct service *s, struct service_machine *m,
    const struct carry_order *order, const struct carry_outcome *out, struct vault_about *about,
    struct event_part *part)
{
	struct sameness_result same;
	char text[CARRY_TEXT_MAX + 512];
	uint32_t n = 0;

	for (uint32_t i = 0; i < order->items; i++) {
		bool missing = out->channel[i].held == CARRY_HELD_ABSENT && m->has_before[i];

		if (!m->has_copy[i] && !missing)
			continue;
		part[n] = (struct event_part){.has_before = m->has_before[i],
		    .before = m->before[i],
		    .has_after = m->has_copy[i],
		    .after = m->copy[i]};
		memcpy(part[n++].channel, order->item[i].channel, sizeof(part[0].channel));
	}
	about->parts = n;
	if (out->error == CARRY_ERROR_NONE && n == 0) {
		about->outcome = "nothing";
		about->text = "no program is there under these names";
	}
	if (out->error != CARRY_ERROR_NONE || n == 0) {
		if (!ledger_record(s->ledger, EVENT_KEPT, "service", "carrier", about))
			return -1;
		outcome_end_follow(s, order->id, "failed", error_name[out->error], about->text);
		return 0;
	}
	if (!ledger_record(s->ledger, EVENT_FETCHED, "service", "carrier", about))
		return -1;
	if (sameness_of_parts(s, &m->conf->profile, part, n, &same))
		return -1;
	snprintf(text, sizeof(text), "%s", same.text);
	about->text = text;
	about->detail = same.detail;
	if (same.compared && same.different)
		ledger_record(s->ledger, EVENT_DRIFT, "service", "carrier", about);
	else if (same.compared == m->conf->profile.channels)
		ledger_record(s->ledger, EVENT_READ_BACK, "service", "carrier", about);
	outcome_end_follow(s, order->id, same.different ? "drift" : "fetched", "none", text);
	free(same.detail);
	return 0;
}

/* A line that cannot be reached is told once, and once more when it can. */
static void tell_reach(
    struct service *s, const struct carry_order *order, const struct carry_outcome *out)
{
	bool gone = out->error == CARRY_ERROR_OFFLINE || out->error == CARRY_ERROR_MARKER;
	struct vault_about about = {
	    .machine = order->machine, .order = order->id, .text = out->text};
	struct vault_machine held;

	if (vault_machine(s->vault, order->machine, &held) < 0)
		return;
	about.outcome = gone ? error_name[out->error] : "done";
	if (gone && !held.offline)
		ledger_record(s->ledger, EVENT_OFFLINE, "service", "carrier", &about);
	if (!gone && held.offline && out->error == CARRY_ERROR_NONE)
		ledger_record(s->ledger, EVENT_ONLINE, "service", "carrier", &about);
}

/*
 * No outcome to record yet: a share can be looked at after its carrier died in the middle, and
 * looked at once more when that was not possible just now.
 */
static bool look_again(struct service_machine *m, const struct vault_order *o,
    const struct carry_order *order, const struct carry_outcome *out)
{
	if (order->item[0].line.kind != LINE_DIRECTORY || m->cancelled == order->id)
		return false;
	if (order->act == CARRY_INSPECT)
		return error_passes[out->error];
	return order->act == CARRY_SEND && out->error == CARRY_ERROR_CARRIER && *o->step;
}

static void on_outcome(void *ctx, const struct carry_order *order, const struct carry_outcome *out)
{
	struct service *s = ctx;
	struct service_machine *m = service_machine_find(s, order->machine);
	struct event_part part[YOKE_CHANNELS_MAX];
	struct vault_order o;
	struct vault_about about = {
	    .machine = order->machine, .order = order->id, .part = part, .parts = order->items};
	char *detail = figures(order, out);
	int failed;

	if (!m || out->error >= CARRY_ERROR_COUNT || vault_order(s->vault, order->id, &o) != 1)
		goto out;
	about.job = o.job;
	about.revision = o.revision;
	about.outcome = out->error ? error_name[out->error] : "done";
	about.text = out->text;
	about.detail = detail;
	parts_after(m, order, out, part);
	tell_reach(s, order, out);
	if (look_again(m, &o, order, out)) {
		recover_later(s, m, order->id, order->act == CARRY_INSPECT);
		goto free;
	}
	if (out->error == CARRY_ERROR_ABANDONED)
		ledger_record(s->ledger, EVENT_ABANDONED, "service", "carrier", &about);
	if (order->act == CARRY_FETCH)
		failed = finish_fetch(s, m, order, out, &about, part);
	else
		failed = finish_send(s, m, &o, order, out, &about);
	if (failed) {
		fprintf(stderr,
		    "yoked: machine %s: the outcome of order %llu was not recorded (%s)\n",
		    order->machine, (unsigned long long)order->id, vault_error(s->vault));
		recover_later(s, m, order->id, true);
	}
free:
	m->carrying.id = 0;
	m->has_progress = false;
out:
	free(detail);
	orders_kick(s);
}

static void on_freed(void *ctx, const char *machine)
{
	struct service *s = ctx;
	struct vault_about about = {.machine = machine, .text = "the abandoned carrier is gone"};

	ledger_record(s->ledger, EVENT_ONLINE, "service", "carrier", &about);
	orders_kick(s);
}

const struct dispatch_calls outcome_calls = {
    .step = on_step,
    .progress = on_progress,
    .content = on_content,
    .outcome = on_outcome,
    .freed = on_freed,
};
