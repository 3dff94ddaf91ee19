#include "called.h"

#include <stdio.h>
#include <string.h>
#include "ask.h"
#include "call.h"

static const enum api_verb verbs[] = {
    [CALL_BRING] = API_SEND, [CALL_LAST_GOOD] = API_RESTORE, [CALL_PROVEN] = API_PROVE};

static api_fn *const answers[] = {
    [CALL_BRING] = ask_send, [CALL_LAST_GOOD] = ask_restore, [CALL_PROVEN] = ask_prove};

/* A call that does not get as far as a request. */
static enum called refuse(struct service *s, struct service_machine *m, const char *outcome,
    const struct call *call, const char *why)
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
	ledger_record(s->ledger, EVENT_REFUSED, who, "line", &about);
	return CALLED_REFUSED;
}

static enum called answer(struct service *s, struct service_machine *m, const struct call *call,
    const char *person)
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
	json_decref(reply.body);
	json_decref((json_t *)ask.body);
	if (!good)
		return CALLED_REFUSED;
	return call->kind == CALL_PROVEN ? CALLED_DONE : CALLED_ORDER;
}

enum called called(struct service *s, struct service_machine *m, const void *text, size_t n)
{
	struct call call;
	enum call_fault f = call_read(text, n, &m->conf->call.words, &call);
	const char *person = NULL;

	if (f == CALL_NONE)
		return CALLED_NO;
	if (f)
		return refuse(s, m, "call", &(struct call){.line = call.line}, call_says(f));
	if (*call.badge) {
		person = conf_badge_name(&s->conf->badges, call.badge);
		if (!person)
			return refuse(s, m, "badge", &call,
			    "its badge is not known: add it to [badges] of yoke.conf, or call "
			    "without one");
	}
	return answer(s, m, &call, person);
}
