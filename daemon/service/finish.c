/*
 * All events of one ending are one transaction, so that no machine is called loaded whose drift was
 * seen in the same breath.
 */
#include "finish.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "drip.h"
#include "ending.h"
#include "more.h"
#include "mark.h"
#include "orders.h"
#include "outcome.h"
#include "retry.h"
#include "sameness.h"
#include "written.h"

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

const char *finish_error_name(enum carry_error error)
{
	return error_name[error];
}

bool finish_error_passes(enum carry_error error)
{
	return error_passes[error];
}

static char *figures(const struct service_machine *m, const struct carry_outcome *o)
{
	const struct carry_order *order = &m->carrying;
	json_t *all = json_object(), *list = json_array();
	char *text;

	for (uint32_t i = 0; i < order->items; i++) {
		const struct carry_channel *c = &o->channel[i];
		json_t *f = json_pack("{s:s, s:s, s:b, s:I, s:I, s:I, s:I, s:I, s:I, s:I, s:I}",
		    "channel", order->item[i].channel, "held",
		    held_name[c->held <= CARRY_HELD_STUMP ? c->held : 0], "compared",
		    (int)c->compared, "bytes", (json_int_t)c->bytes, "blocks", (json_int_t)c->block,
		    "after_dc3", (json_int_t)c->after_dc3, "held_ms", (json_int_t)c->held_ms,
		    "line_ms", (json_int_t)c->line_ms, "line_errors", (json_int_t)c->line_errors,
		    "more", (json_int_t)c->more, "left_out", (json_int_t)c->left_out);

		if (!f)
			continue;
		written_put(f, &order->item[i], order->act == CARRY_FETCH ? NULL : &m->program[i],
		    m->has_before[i] ? &m->before[i] : NULL);
		json_array_append_new(list, f);
	}
	json_object_set_new(all, "error", json_string(error_name[o->error]));
	json_object_set_new(all, "channels", list);
	text = json_dumps(all, JSON_COMPACT);
	json_decref(all);
	return text;
}

/* What each channel holds now, as far as it is known. */
static void parts_after(struct ending *e)
{
	const struct service_machine *m = e->m;

	for (uint32_t i = 0; i < e->order->items; i++) {
		const struct carry_channel *c = &e->out->channel[i];
		const struct carry_item *item = &e->order->item[i];
		struct event_part *part = &e->part[i];

		memset(part, 0, sizeof(*part));
		memcpy(part->channel, item->channel, sizeof(part->channel));
		part->has_before = m->has_before[i];
		part->before = m->before[i];
		if (c->held == CARRY_HELD_NEW) {
			part->has_after = true;
			part->after = m->program[i];
		} else if (c->has_sha && c->held != CARRY_HELD_STUMP) {
			part->has_after = true;
			part->after = *written_program(m, e->order, i, &c->sha);
		} else if (c->held == CARRY_HELD_OLD && m->has_before[i]) {
			part->has_after = true;
			part->after = m->before[i];
		}
	}
}

/* A carrier that stopped although nobody wanted that: one that was silent for too long is told to
 * end, and says "cancelled". */
static bool stopped_unasked(const struct ending *e)
{
	return e->out->error == CARRY_ERROR_CANCELLED && e->m->cancelled != e->order->id &&
	       !e->m->halted;
}

static enum event_kind reached(const struct ending *e)
{
	enum event_kind kind = mark_of(e->order, e->out);
	bool touched = *e->o->step != '\0';

	if (kind == EVENT_KEPT && e->out->error == CARRY_ERROR_CARRIER && touched)
		return EVENT_UNKNOWN;
	if (kind == EVENT_CANCELLED && e->m->cancelled != e->order->id)
		return EVENT_KEPT;
	return kind;
}

/* The sentence after an inspection, whose own text says only that it was possible. */
static const char *inspected(enum event_kind kind)
{
	switch (kind) {
	case EVENT_CARRIED:
		return "the order was cut short; a look at the machine found all its programs in "
		       "place";
	case EVENT_KEPT:
		return "the order was cut short; the machine holds what it held before";
	case EVENT_SPLIT:
		return "the order was cut short, and the machine holds halves of two pairs: do not "
		       "run it; send a pair, or restore the last good one";
	default:
		return "the order was cut short, and what the machine holds could not be read: do "
		       "not run it; send a pair, or restore the last good one";
	}
}

/* Why it came to this, where the carrier's own sentence does not say it. */
static void explain(struct ending *e, enum event_kind kind)
{
	static const char cancelled[] = "cancelled; ";
	const char *rest = kind == EVENT_KEPT ? "nothing was changed" : e->out->text;

	if (!strncmp(e->out->text, cancelled, strlen(cancelled)))
		rest = e->out->text + strlen(cancelled);

	if (stopped_unasked(e) && *e->m->why_not) {
		e->error = error_name[CARRY_ERROR_ORDER];
		snprintf(e->text, sizeof(e->text), "%s; %s", e->m->why_not, rest);
	} else if (stopped_unasked(e)) {
		e->error = error_name[CARRY_ERROR_CARRIER];
		snprintf(e->text, sizeof(e->text),
		    "nobody cancelled this order: its carrier was told to end, as when it is "
		    "silent for too long; %s",
		    rest);
	} else if (e->out->error == CARRY_ERROR_NONE && e->order->act == CARRY_INSPECT) {
		snprintf(e->text, sizeof(e->text), "%s", inspected(kind));
	} else {
		return;
	}
	e->about.outcome = e->error;
	e->about.text = e->text;
}

void ending_more(struct ending *e)
{
	if (e->about.text != e->text)
		snprintf(e->text, sizeof(e->text), "%s", e->about.text);
	more_say(e->m, e->out, e->text, sizeof(e->text));
	e->about.text = e->text;
}

/* All of the pair left us, and the copy that was to be compared did not come. */
static bool is_unread(const struct ending *e, enum event_kind kind, bool compared)
{
	return kind == EVENT_CARRIED && e->out->error != CARRY_ERROR_NONE && !compared;
}

/* What that means comes first: of a long sentence the end may be cut off. */
static void tell_unread(struct ending *e)
{
	char why[sizeof(e->text)];
	size_t n;

	snprintf(why, sizeof(why), "%s", e->about.text);
	n = (size_t)snprintf(e->text, sizeof(e->text), "carried, not read back: nothing of ");
	for (uint32_t i = 0, told = 0; i < e->order->items; i++)
		if (!e->out->channel[i].compared)
			n += (size_t)snprintf(e->text + n, sizeof(e->text) - n, "%s%s",
			    told++ ? " and " : "", e->order->item[i].channel);
	snprintf(e->text + n, sizeof(e->text) - n,
	    " was compared; before the next cycle compare it with `yoke fetch %s`, or send the "
	    "pair again; why: %s",
	    e->order->machine, why);
	e->about.text = e->text;
}

bool ending_may_pass(const struct ending *e)
{
	if (stopped_unasked(e))
		return !*e->m->why_not || e->m->why_passes;
	return error_passes[e->out->error];
}

/* Whether an order that changed nothing goes back into the queue: when what stopped it may pass, and
 * one of the service's own also when it was cut short and put right. */
static bool goes_again(const struct ending *e)
{
	if (e->out->error == CARRY_ERROR_CANCELLED && e->m->halted)
		return true;
	if (e->m->cancelled == e->order->id)
		return false;
	if (!orders_is_automatic(e->o))
		return retry_wanted(e->s, e->m, e->order, ending_may_pass(e));
	return ending_may_pass(e) ||
	       (e->out->error == CARRY_ERROR_NONE && e->order->act == CARRY_INSPECT);
}

/* Programs that were gone before the order came, and still are. */
static void tell_gone(struct ending *e)
{
	struct event_part gone[YOKE_CHANNELS_MAX];
	char text[256] = "";
	struct vault_about about = e->about;
	size_t n = 0;

	about.part = gone;
	about.parts = 0;
	for (uint32_t i = 0; i < e->order->items; i++) {
		if (e->out->channel[i].held != CARRY_HELD_ABSENT || !e->part[i].has_before)
			continue;
		gone[about.parts] = e->part[i];
		gone[about.parts++].has_after = false;
		n += (size_t)snprintf(text + n, sizeof(text) - n, "%s%s is no longer there",
		    n ? "; " : "", e->part[i].channel);
		if (n >= sizeof(text))
			n = sizeof(text) - 1;
	}
	about.text = text;
	if (about.parts)
		ledger_record(e->s->ledger, EVENT_DRIFT, SAMENESS_WHO, "carrier", &about);
}

static const char *who(const struct ending *e, enum event_kind kind)
{
	if (kind == EVENT_CANCELLED && *e->m->cancelled_by)
		return e->m->cancelled_by;
	return kind == EVENT_CARRIED ? e->o->who : "service";
}

static int finish_send(struct ending *e)
{
	enum event_kind kind = reached(e);
	bool compared = kind == EVENT_CARRIED, again = kind == EVENT_KEPT && goes_again(e);
	bool unread;

	for (uint32_t i = 0; i < e->order->items; i++)
		compared = compared && e->out->channel[i].compared;
	unread = is_unread(e, kind, compared);
	explain(e, kind);
	if (unread)
		tell_unread(e);
	else if (kind == EVENT_CARRIED && compared)
		e->about.outcome = "done";
	ending_more(e);
	if (ledger_begin(e->s->ledger))
		return -1;
	more_record(e->s, e->m);
	if (kind == EVENT_KEPT || kind == EVENT_CANCELLED)
		tell_gone(e);
	if (again)
		e->about.outcome = "again";
	if (again && e->m->halted)
		e->about.text = e->m->halted;
	ledger_record(e->s->ledger, kind, who(e, kind), "carrier", &e->about);
	if (compared)
		ledger_record(e->s->ledger, EVENT_READ_BACK, "service", "carrier", &e->about);
	if (ledger_commit(e->s->ledger))
		return -1;
	if (kind == EVENT_CARRIED)
		e->m->tries = 0;
	if (again && !e->m->halted && !orders_is_automatic(e->o)) {
		retry_tell(e->s, e->m, e->order->id, e->about.text);
		return 0;
	}
	if (again && !e->m->halted)
		orders_try_later(e->s, e->m);
	outcome_end_follow(
	    e->s, e->order->id, unread ? "failed" : event_name(kind), e->error, e->about.text);
	return 0;
}

/* Why a program that the control executes was cut short, where, and what that means. */
static void tell_stopped(struct ending *e)
{
	const char *channel = e->order->item[0].channel;
	const struct carry_progress *p = &e->m->progress;
	char stopped[512];
	size_t n;

	explain(e, EVENT_UNKNOWN);
	if (!*e->text && e->m->has_progress && !e->out->channel[0].bytes)
		snprintf(e->text, sizeof(e->text),
		    "channel %s, after about %llu of %llu bytes, near block %llu: %s", channel,
		    (unsigned long long)p->bytes, (unsigned long long)p->total,
		    (unsigned long long)p->block + 1, e->out->text);
	else if (!*e->text)
		snprintf(e->text, sizeof(e->text), "%s", e->out->text);
	drip_stopped(channel, stopped, sizeof(stopped));
	n = strlen(e->text);
	snprintf(e->text + n, sizeof(e->text) - n, "; %s", stopped);
	e->about.text = e->text;
}

/*
 * A program that the control executed while it read it. The machine holds what it held; what was
 * begun is never begun again from here.
 */
static int finish_drip(struct ending *e)
{
	bool fed = e->out->error == CARRY_ERROR_NONE;
	bool by_hand = e->out->error == CARRY_ERROR_CANCELLED && !stopped_unasked(e);
	const char *by = fed ? e->o->who : by_hand ? e->m->cancelled_by : "service";
	enum event_kind kind = fed ? EVENT_FED : EVENT_KEPT;

	if (!fed && !drip_begun(e->o))
		return finish_send(e);
	if (fed)
		e->about.parts = 0; /* those of the order: what was executed */
	else
		tell_stopped(e);
	if (!ledger_record(e->s->ledger, kind, by, "carrier", &e->about))
		return -1;
	outcome_end_follow(e->s, e->order->id, event_name(kind), e->error, e->about.text);
	return 0;
}

/* A dry run changed nothing and replaces nothing; what it found out stands in its text. */
static int finish_try(struct ending *e)
{
	if (*e->m->clash && e->out->error == CARRY_ERROR_NONE) {
		e->error = error_name[CARRY_ERROR_NAME];
		e->about.outcome = e->error;
		e->about.text = e->m->clash;
	}
	if (e->out->error == CARRY_ERROR_CANCELLED)
		return finish_send(e);
	e->about.parts = 0;
	if (!ledger_record(e->s->ledger, EVENT_KEPT, e->o->who, "carrier", &e->about))
		return -1;
	outcome_end_follow(e->s, e->order->id,
	    strcmp(e->about.outcome, "done") ? event_name(EVENT_KEPT) : "done", e->error,
	    e->about.text);
	return 0;
}

int finish_order(struct service *s, struct service_machine *m, const struct vault_order *o,
    const struct carry_outcome *out)
{
	struct ending *e = calloc(1, sizeof(*e));
	char *detail = figures(m, out);
	int result = -1;

	if (!e)
		goto out;
	e->s = s;
	e->m = m;
	e->o = o;
	e->order = &m->carrying;
	e->out = out;
	e->error = error_name[out->error];
	e->about = (struct vault_about){
	    .machine = e->order->machine,
	    .job = o->job,
	    .revision = o->revision,
	    .order = e->order->id,
	    .outcome = out->error ? e->error : "done",
	    .text = out->text,
	    .detail = detail,
	    .part = e->part,
	    .parts = e->order->items,
	};
	parts_after(e);
	/* First, since what the outcome says of the machine holds in any case. */
	if (out->error == CARRY_ERROR_ABANDONED)
		ledger_record(s->ledger, EVENT_ABANDONED, "service", "carrier", &e->about);
	result = e->order->act == CARRY_FETCH  ? ending_fetch(e)
	         : e->order->act == CARRY_DRIP ? finish_drip(e)
	         : e->order->act == CARRY_TRY  ? finish_try(e)
	                                       : finish_send(e);
out:
	free(e);
	free(detail);
	return result;
}
