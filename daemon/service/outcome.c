#include "outcome.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "clash.h"
#include "finish.h"
#include "listen.h"
#include "more.h"
#include "orders.h"
#include "phase.h"
#include "recover.h"
#include "sameness.h"
#include "sha256.h"
#include "written.h"

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

void outcome_reset(struct service *s, struct service_machine *m, const struct vault_order *o,
    const struct carry_order *order)
{
	struct vault_machine held;

	m->carrying = *order;
	m->has_progress = m->granted = m->unkept = m->why_passes = false;
	m->halted = NULL;
	m->why_not[0] = m->clash[0] = '\0';
	more_forget(m);
	memset(m->has_copy, 0, sizeof(m->has_copy));
	memset(m->has_before, 0, sizeof(m->has_before));
	for (uint32_t i = 0; i < order->items; i++)
		m->program[i] = o->part[i].sha;
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
	const struct line *line = p->item < m->carrying.items ? &m->carrying.item[p->item].line : NULL;
	json_t *o = json_object();

	json_object_set_new(o, "order", json_integer((json_int_t)m->carrying.id));
	json_object_set_new(o, "machine", json_string(m->conf->name));
	if (p->item < m->carrying.items)
		json_object_set_new(o, "channel", json_string(m->carrying.item[p->item].channel));
	json_object_set_new(o, "phase", json_string(phase_name(p->phase)));
	json_object_set_new(o, "text", json_string(phase_text(p->phase, line)));
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

	if (m && order->act == CARRY_LISTEN) {
		listen_progress(s, m, order, p);
		return;
	}
	if (!m || m->carrying.id != order->id || p->phase >= CARRY_PHASE_COUNT)
		return;
	m->progress = *p;
	m->has_progress = true;
	line = outcome_progress(m);
	api_publish(s->api, order->id, line);
	json_decref(line);
}

/* True for a step after which the machine holds something else, or has executed something. */
static bool binds(uint32_t step)
{
	return step == CARRY_STEP_REPLACE || step == CARRY_STEP_TRANSMIT ||
	       step == CARRY_STEP_PUT_BACK || step == CARRY_STEP_FEED;
}

static bool deny(struct service_machine *m, bool passes, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Remember why a step is not granted; passes: it may be another time. False. */
static bool deny(struct service_machine *m, bool passes, const char *format, ...)
{
	va_list ap;

	if (*m->why_not)
		return false;
	va_start(ap, format);
	vsnprintf(m->why_not, sizeof(m->why_not), format, ap);
	va_end(ap);
	m->why_passes = passes;
	return false;
}

/* An order may wait for its control for hours: what it found released may be so no longer. */
static bool may_step(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_step *step, const struct vault_order *o)
{
	char why[sizeof(m->why_not)];
	int may;

	if (m->halted && !m->granted)
		return false;
	if (m->unkept && step->step != CARRY_STEP_TIDY)
		return deny(m, true,
		    "what the machine held could not be kept in the vault, and is not replaced");
	if (*m->clash && step->step != CARRY_STEP_TIDY)
		return deny(m, false, "%s", m->clash);
	if (!carry_brings(order->act) || m->granted || !binds(step->step))
		return true;
	may = orders_still_released(s, o, why, sizeof(why));
	if (may < 0)
		return deny(m, true, "it could not be told whether the pair is still released: %s",
		    vault_error(s->vault));
	return may || deny(m, false, "%s", why);
}

static bool on_step(void *ctx, const struct carry_order *order, const struct carry_step *step)
{
	struct service *s = ctx;
	struct service_machine *m = service_machine_find(s, order->machine);
	struct vault_order o;
	char text[256];
	struct vault_about about = {.machine = order->machine, .order = order->id, .text = text};

	if (!m || step->step >= CARRY_STEP_COUNT || order->act == CARRY_LISTEN)
		return false;
	if (vault_order(s->vault, order->id, &o) != 1)
		return deny(m, true, "the order could not be read: %s", vault_error(s->vault));
	if (!may_step(s, m, order, step, &o))
		return false;
	about.job = o.job;
	about.revision = o.revision;
	about.outcome = step_name[step->step];
	snprintf(text, sizeof(text), "%s: %s",
	    step->item < order->items ? order->item[step->item].channel : "all channels",
	    step_why[step->step]);
	if (!ledger_record(s->ledger, EVENT_STEP, "service", "carrier", &about))
		return deny(m, true, "the step could not be recorded: %s", vault_error(s->vault));
	m->granted = m->granted || binds(step->step);
	return true;
}

int outcome_keep_bytes(struct service *s, const void *bytes, size_t n, const struct sha *sum)
{
	struct vault_stage *stage = vault_stage_new(s->vault);

	if (!stage)
		return -1;
	if (n && vault_stage_add(stage, bytes, n)) {
		vault_stage_drop(stage);
		return -1;
	}
	return vault_stage_keep(stage, sum);
}

int outcome_keep(struct service *s, const struct carry_content *c, bool has, int fd)
{
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
	if (!sha256_of(bytes, c->size, sum) && !memcmp(sum, c->sha.b, sizeof(sum)))
		result = has ? 0 : outcome_keep_bytes(s, bytes, c->size, &c->sha);
	if (bytes)
		munmap(bytes, c->size);
	return result;
}

/* What a machine held before it was replaced and the vault had never seen is kept, and told. same: how
 * it differs from what was carried there, NULL when it does not. */
static void tell_found(struct service *s, const struct service_machine *m,
    const struct carry_order *order, const struct carry_content *c,
    const struct sameness_result *same)
{
	char differs[700];
	const struct carry_item *item = &order->item[c->item];
	struct event_part part = {.has_after = true, .after = c->sha};
	char raw[CARRY_NOTE_MAX + 100];
	struct vault_about about = {
	    .machine = order->machine,
	    .order = order->id,
	    .part = &part,
	    .parts = 1,
	    .outcome = c->role == CARRY_ROLE_RAW ? "raw" : "found",
	    .text = c->role == CARRY_ROLE_RAW ? raw
	                                      : "what the machine held before this order; kept",
	};

	snprintf(raw, sizeof(raw), "a capture of the line that is no program, kept for the log%s%s",
	    *c->note ? ": " : "", c->note);
	memcpy(part.channel, item->channel, sizeof(part.channel));
	if (same) {
		part.has_before = true;
		part.before = m->before[c->item];
		snprintf(differs, sizeof(differs), "kept before it was replaced: %s", same->text);
		about.text = differs;
		about.detail = same->detail;
	}
	ledger_record(
	    s->ledger, same ? EVENT_DRIFT : EVENT_ARRIVED, same ? SAMENESS_WHO : "service", "carrier", &about);
}

/* Whether an old program is another text than what was carried there; the caller frees same->detail. */
static bool is_drift(struct service *s, const struct service_machine *m,
    const struct carry_item *item, const struct carry_content *c, struct sameness_result *same)
{
	struct event_part part = {
	    .has_before = true, .before = m->before[c->item], .has_after = true, .after = c->sha};

	memset(same, 0, sizeof(*same));
	if (c->role != CARRY_ROLE_OLD || !item->has_expect || !m->has_before[c->item])
		return false;
	memcpy(part.channel, item->channel, sizeof(part.channel));
	return sameness_of_parts(s, m, SAMENESS_CARRIED, &part, NULL, 1, same) || same->different;
}

static void on_content(
    void *ctx, const struct carry_order *order, const struct carry_content *came, int fd)
{
	struct service *s = ctx;
	struct service_machine *m = service_machine_find(s, order->machine);
	struct carry_content as = *came; /* which program it is, whatever its line ends */
	const struct carry_content *c = &as;
	const struct carry_item *item;
	struct sameness_result same;
	bool known, has, drift;

	if (m && c->item < order->items && order->act == CARRY_LISTEN) {
		listen_content(s, m, order, came, fd);
		return;
	}
	if (!m || c->item >= order->items)
		goto out;
	item = &order->item[c->item];
	if (c->role == CARRY_ROLE_OLD || c->role == CARRY_ROLE_COPY)
		as.sha = *written_program(m, order, c->item, &came->sha);
	has = memcmp(&as.sha, &came->sha, sizeof(as.sha)) != 0;
	known = vault_program_size(s->vault, &c->sha) >= 0;
	if (outcome_keep(s, came, has, fd)) {
		fprintf(stderr, "yoked: machine %s, %s: what came from it could not be kept: %s\n",
		    order->machine, item->channel, vault_error(s->vault));
		m->unkept = m->unkept || c->role == CARRY_ROLE_OLD;
		goto out;
	}
	if (c->role == CARRY_ROLE_OLD)
		clash_look(s, m, order, c);
	if (c->role == CARRY_ROLE_COPY) {
		m->has_copy[c->item] = true;
		m->copy[c->item] = c->sha;
	} else if (c->role == CARRY_ROLE_MORE) {
		more_note(m, c);
	} else {
		drift = is_drift(s, m, item, c, &same);
		if (c->role == CARRY_ROLE_RAW || !known || drift)
			tell_found(s, m, order, c, drift ? &same : NULL);
		free(same.detail);
	}
out:
	close(fd);
}

/* A line that cannot be reached is told once, and once more when it can. */
static void tell_reach(
    struct service *s, const struct carry_order *order, const struct carry_outcome *out)
{
	bool gone = out->error == CARRY_ERROR_OFFLINE || out->error == CARRY_ERROR_MARKER ||
	            out->error == CARRY_ERROR_NO_ANSWER;
	struct vault_about about = {
	    .machine = order->machine, .order = order->id, .text = out->text};
	struct vault_machine held;

	if (vault_machine(s->vault, order->machine, &held) < 0)
		return;
	about.outcome = gone ? finish_error_name(out->error) : "done";
	if (gone && !held.offline)
		ledger_record(s->ledger, EVENT_OFFLINE, "service", "carrier", &about);
	if (!gone && held.offline && out->error == CARRY_ERROR_NONE)
		ledger_record(s->ledger, EVENT_ONLINE, "service", "carrier", &about);
}

/* The carrier did not come to an end of its own. */
static bool lost(const struct carry_outcome *out)
{
	return out->error == CARRY_ERROR_CARRIER || out->error == CARRY_ERROR_ABANDONED;
}

/* The share went away in the middle: what it holds can be read when it is there again. */
static bool cut_off(const struct carry_order *order, const struct carry_outcome *out)
{
	if (!finish_error_passes(out->error))
		return false;
	for (uint32_t i = 0; i < order->items; i++)
		if (out->channel[i].held == CARRY_HELD_UNKNOWN)
			return true;
	return false;
}

/*
 * No outcome to record yet: a share can be looked at after its carrier died in the middle or when
 * it is gone at last, after the share itself went away in the middle, and once more when that was
 * not possible just now.
 */
static bool look_again(struct service_machine *m, const struct vault_order *o,
    const struct carry_order *order, const struct carry_outcome *out)
{
	if (!line_is_share(order->item[0].line.kind) || m->cancelled == order->id)
		return false;
	if (order->act == CARRY_INSPECT)
		return finish_error_passes(out->error);
	return order->act == CARRY_SEND && *o->step && (lost(out) || cut_off(order, out));
}

/* Who waits for the order is told now: a carrier may hang for days, and a share be away as long. */
static void wait_for_look(struct service *s, struct service_machine *m,
    const struct carry_order *order, const struct carry_outcome *out)
{
	struct vault_about about = {.machine = order->machine,
	    .order = order->id,
	    .outcome = finish_error_name(out->error),
	    .text = "the carrier could not be ended; what the machine holds is not known until it "
	            "is gone and the machine was looked at: do not run it"};
	bool away = order->act == CARRY_SEND && cut_off(order, out) && !lost(out);
	char text[CARRY_TEXT_MAX + 200];

	recover_later(s, m, order->id, order->act == CARRY_INSPECT || away);
	if (away) {
		snprintf(text, sizeof(text),
		    "the share went away in the middle: what the machine holds is not known until it "
		    "can be looked at, which is tried again and again: do not run it; why: %s",
		    out->text);
		about.text = text;
	} else if (out->error != CARRY_ERROR_ABANDONED) {
		return;
	}
	ledger_record(s->ledger, away ? EVENT_OFFLINE : EVENT_ABANDONED, "service", "carrier", &about);
	outcome_end_follow(s, order->id, "unknown", about.outcome, about.text);
}

static void on_outcome(void *ctx, const struct carry_order *order, const struct carry_outcome *out)
{
	struct service *s = ctx;
	struct service_machine *m = service_machine_find(s, order->machine);
	struct vault_order o;
	int found;

	if (m && order->act == CARRY_LISTEN) {
		listen_outcome(s, m, order, out);
		goto kick;
	}
	if (!m || out->error >= CARRY_ERROR_COUNT || m->carrying.id != order->id)
		goto kick;
	found = vault_order(s->vault, order->id, &o);
	if (found == 1)
		tell_reach(s, order, out);
	if (found == 1 && look_again(m, &o, order, out))
		wait_for_look(s, m, order, out);
	else if (found < 0 || (found == 1 && finish_order(s, m, &o, out))) {
		fprintf(stderr,
		    "yoked: machine %s: the outcome of order %llu was not recorded (%s)\n",
		    order->machine, (unsigned long long)order->id, vault_error(s->vault));
		recover_later(s, m, order->id, true);
	}
	m->carrying.id = 0;
	m->has_progress = false;
kick:
	orders_kick(s);
}

static void on_freed(void *ctx, const char *machine)
{
	orders_kick(ctx);
}

const struct dispatch_calls outcome_calls = {
    .step = on_step,
    .progress = on_progress,
    .content = on_content,
    .outcome = on_outcome,
    .freed = on_freed,
};
