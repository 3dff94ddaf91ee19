#include "rights.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include "answers.h"
#include "person.h"
#include "refusals.h"
#include "yoke/text.h"

enum { CALL_GROUPS = 64, SHOWN_GROUPS = 8 };

static const struct {
	const char *method, *path;
	enum duty duty;
} requests[API_COUNT] = {
#define X(id, method, path, duty) [API_##id] = {method, path, DUTY_##duty},
    API_LIST(X)
#undef X
};

#define THROUGH "somebody through "

static const char behind_server[] = "several people stand behind a file server's account";

static bool stands_above(uid_t uid)
{
	return uid == 0 || uid == geteuid();
}

static bool through_server(const struct service *s, uid_t uid, char out[RIGHTS_NAME])
{
	const struct conf_owner *o = conf_owner_find(&s->conf->owners, uid);

	if (o)
		snprintf(out, RIGHTS_NAME, THROUGH "%s (account %s, uid %u)", o->server,
		    o->account, uid);
	return o != NULL;
}

void rights_owner(const struct service *s, uid_t uid, char out[RIGHTS_NAME])
{
	if (!through_server(s, uid, out))
		person_user(uid, out, RIGHTS_NAME);
}

bool rights_person(const struct service *s, const char *who, uid_t *uid, const char **why)
{
	*why = "which person that is nobody can say";
	if (!strncmp(who, THROUGH, strlen(THROUGH)))
		*why = behind_server;
	if (!person_is(who, uid))
		return false;
	*why = "several people may stand behind root";
	if (*uid == 0)
		return false;
	*why = "several people may stand behind the service's own user";
	if (*uid == geteuid())
		return false;
	*why = behind_server;
	return !conf_owner_find(&s->conf->owners, *uid);
}

bool rights_owner_has(const struct service *s, const char *who, enum duty duty)
{
	gid_t group[CALL_GROUPS], by;
	uid_t uid;

	if (!conf_duty_given(&s->conf->duties, duty))
		return true;
	if (!person_is(who, &uid))
		return false;
	if (stands_above(uid))
		return true;
	return conf_duty_has(
	    &s->conf->duties, duty, group, person_groups(uid, group, CALL_GROUPS), &by);
}

bool rights_call(const struct service *s, const char *login, enum duty duty, char *why, size_t n)
{
	const struct conf_duties *all = &s->conf->duties;
	gid_t group[CALL_GROUPS], by;
	struct text whom = {0}, caller = {0};
	uid_t uid;

	if (!conf_duty_given(all, duty))
		return true;
	if (login && person_login(login, &uid) &&
	    conf_duty_has(all, duty, group, person_groups(uid, group, CALL_GROUPS), &by))
		return true;
	conf_duty_words(all, duty, &whom);
	if (login)
		text_visible(&caller, login, strlen(login));
	snprintf(why, n,
	    "the duty '%s' is for %s ([duties] in yoke.conf), and %s%s: call with the badge of a "
	    "login that has it",
	    conf_duty_name(duty), whom.s ? whom.s : "others",
	    caller.s ? caller.s : "a call without a badge has no duty",
	    caller.s ? " is no login in one of them" : "");
	text_free(&caller);
	text_free(&whom);
	return false;
}

/* Whether he has it; then *by is the group that gives it, or his own where none has to. */
static bool has(const struct service *s, const struct api_who *who, enum duty duty, gid_t *by)
{
	const struct conf_duties *all = &s->conf->duties;

	*by = who->gid;
	return stands_above(who->uid) || conf_duty_has(all, duty, &who->gid, 1, by) ||
	       conf_duty_has(all, duty, who->group, who->groups, by);
}

bool rights_has(const struct service *s, const struct api_who *who, enum duty duty)
{
	gid_t by;

	return has(s, who, duty, &by);
}

bool rights_may_upload(void *service, const struct api_who *who)
{
	return rights_has(service, who, requests[API_PROGRAM_KEEP].duty);
}

/* "games, users, and 3 more" */
static void put_groups(struct text *t, const struct api_who *who)
{
	char name[RIGHTS_NAME];
	size_t shown = 1;

	person_group(who->gid, name, sizeof(name));
	text_puts(t, name);
	for (size_t i = 0; i < who->groups && shown < SHOWN_GROUPS; i++) {
		if (who->group[i] == who->gid)
			continue;
		person_group(who->group[i], name, sizeof(name));
		text_printf(t, ", %s", name);
		shown++;
	}
	if (who->groups > shown)
		text_printf(t, ", and %zu more", who->groups - shown);
}

/* Who is refused what, by the path as it was asked for. */
static void refuse(struct service *s, const struct api_call *call, enum duty duty,
    struct api_reply *reply)
{
	const char *method = requests[call->verb].method, *path = requests[call->verb].path;
	struct service_machine *m = NULL;
	struct text why = {0}, asked = {0};
	struct vault_about about = {.outcome = "duty"};

	if (!strncmp(path, "/v1/machines/{", 14))
		m = service_machine_find(s, call->path[0]);
	about.machine = m ? m->conf->name : "";
	text_printf(&why, "the duty '%s' is for ", conf_duty_name(duty));
	conf_duty_words(&s->conf->duties, duty, &why);
	text_printf(&why, " ([duties] in yoke.conf), and you are %s, with the groups ",
	    call->who->name);
	put_groups(&why, call->who);
	text_printf(&asked, "%s ", method);
	for (int value = 0; *path; path++) {
		if (*path != '{') {
			text_putc(&asked, *path);
			continue;
		}
		text_visible(&asked, call->path[value], strnlen(call->path[value], 100));
		value++;
		path = strchr(path, '}');
	}
	text_printf(&asked, ": %s", why.s ? why.s : "");
	about.text = asked.s;
	refusals_tell(s->refusals, uv_now(s->loop), call->who->name, call->from, &about);
	api_reply_error(reply, 403, "duty", "%s", why.s ? why.s : "you have not the duty for this");
	text_free(&asked);
	text_free(&why);
}

/* The one door of the API. */
static void answer(void *service, const struct api_call *call, struct api_reply *reply)
{
	enum duty duty = requests[call->verb].duty;
	struct service *s = service;
	struct api_who who = *call->who;
	struct api_call named = *call;
	gid_t by;
	bool may = has(s, &who, duty, &by);

	if (!through_server(s, who.uid, who.name))
		person_user_group(who.uid, by, who.name, sizeof(who.name));
	named.who = &who;
	if (may)
		answers[call->verb](s, &named, reply);
	else
		refuse(s, &named, duty, reply);
}

api_fn *const rights_answers[API_COUNT] = {
#define X(id, method, path, duty) [API_##id] = answer,
    API_LIST(X)
#undef X
};
