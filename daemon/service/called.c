#include "called.h"

#include <stdio.h>
#include <string.h>
#include "ask.h"
#include "call.h"
#include "refusals.h"
#include "rights.h"

static const enum api_verb verbs[] = {
    [CALL_BRING] = API_SEND, [CALL_LAST_GOOD] = API_RESTORE, [CALL_PROVEN] = API_PROVE};

static const enum duty duties[] = {
    [CALL_BRING] = DUTY_CARRY, [CALL_LAST_GOOD] = DUTY_CARRY, [CALL_PROVEN] = DUTY_PROVE};

static api_fn *const answers[] = {
    [CALL_BRING] = ask_send, [CALL_LAST_GOOD] = ask_restore, [CALL_PROVEN] = ask_prove};

/* A call that does not get as far as a request. as: what it is then. */
static enum called refuse(struct service *s, struct service_machine *m, const char *outcome,
    const struct call *call, const char *why, enum called as)
{
	char text[400], who[YOKE_NAME_MAX + 32];
	struct vault_about about = {
	    .machine = m->conf->name, .outcome = outcome, .text = text, .job = call->job,
	    .revision = call->revision};

	if (call->line)
		snprintf(text, sizeof(text), "a call from the keyboard, line %llu: %s",
		    (unsigned long long)call->line, why);
	else
		snprintf(text, sizeof(text), "a call from the keyboard: %s", why);
	snprintf(who, sizeof(who), "machine %s", m->conf->name);
	return refusals_tell(s->refusals, uv_now(s->loop), who, "line", &about) ? as : CALLED_AGAIN;
}

static enum called answer(struct service *s, struct service_machine *m, const struct call *call,
    const char *person, uint64_t *order)
{
	struct api_who who = {.uid = (uid_t)-1, .gid = (gid_t)-1};
	struct api_reply reply = {0};
	struct api_call ask = {.who = &who,
	    .from = "line",
	    .verb = verbs[call->kind],
	    .path = {m->conf->name},
	    .body = json_object()};
	bool good;

	if (person)
		snprintf(who.name, sizeof(who.name), "%s (badge, at machine %s)", person,
		    m->conf->name);
	else
		snprintf(who.name, sizeof(who.name), "machine %s", m->conf->name);
	if (*call->job)
		json_object_set_new((json_t *)ask.body, "job", json_string(call->job));
	if (*call->revision)
		json_object_set_new((json_t *)ask.body, "revision", json_string(call->revision));
	if (call->kind == CALL_PROVEN)
		json_object_set_new(
		    (json_t *)ask.body, "note", json_string("said at the machine's keyboard"));
	answers[call->kind](s, &ask, &reply);
	good = reply.body && (reply.status == 0 || reply.status < 300);
	*order = (uint64_t)json_integer_value(json_object_get(reply.body, "order"));
	json_decref(reply.body);
	json_decref((json_t *)ask.body);
	if (!good)
		return reply.status >= 500 ? CALLED_AGAIN : CALLED_REFUSED;
	return call->kind == CALL_PROVEN ? CALLED_DONE : CALLED_ORDER;
}

enum called called(struct service *s, struct service_machine *m, const void *text, size_t n, bool late,
    uint64_t *order)
{
	struct call call;
	enum call_fault f = call_read(text, n, &m->conf->call.words, &call);
	const char *person = NULL;
	char why[300];

	if (f == CALL_NONE)
		return CALLED_NO;
	if (f)
		return refuse(s, m, "call", &(struct call){.line = call.line}, call_says(f),
		    CALLED_UNREAD);
	if (late)
		return refuse(s, m, "late", &call,
		    "it could not be recorded when it came, and nobody may wait for its answer any "
		    "more: call again",
		    CALLED_REFUSED);
	if (*call.badge) {
		person = conf_badge_name(&s->conf->badges, call.badge);
		if (!person)
			return refuse(s, m, "badge", &call,
			    "its badge is not known: add it to [badges] of yoke.conf, or call "
			    "without one",
			    CALLED_REFUSED);
	}
	if (!rights_call(s, person, duties[call.kind], why, sizeof(why)))
		return refuse(s, m, "duty", &call, why, CALLED_REFUSED);
	return answer(s, m, &call, person, order);
}
