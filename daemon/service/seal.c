#include "seal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "checkpoint.h"
#include "ledger.h"
#include "seal_copy.h"
#include "seal_key.h"
#include "vault_seal.h"

enum { AGAIN_MS = 2000, LAST_COPY_MS = 3000, WHY = 2 * YOKE_PATH_MAX };

struct seal {
	struct service *s;
	const struct conf_trail *conf;
	struct ed25519 *key;  /* NULL: it cannot be used */
	struct seal_copy *copy; /* NULL: there is no second place */
	struct checkpoint last; /* number 0: none was made */
	uint64_t since; /* loop time, ms, since which an entry waits to be sealed; 0: none does */
	uint64_t tried; /* loop time, ms, of the last try that failed */
	char why[WHY];  /* why nothing is sealed; "" when it is */
};

static int64_t now_s(void)
{
	return (int64_t)time(NULL);
}

/* Tell the trail what became of sealing. */
static void tell(struct seal *l, const char *outcome, const char *text)
{
	ledger_record(l->s->ledger, EVENT_SEALING, "service", "service",
	    &(struct vault_about){.outcome = outcome, .text = text});
}

static void fail(struct seal *l, const char *why)
{
	bool first = !*l->why;
	char text[500];

	l->tried = uv_now(l->s->loop);
	if (strcmp(l->why, why) == 0)
		return;
	snprintf(l->why, sizeof(l->why), "%s", why);
	fprintf(stderr, "yoked: the trail is not sealed: %s\n", why);
	/* Once, whatever the reasons are: it is tried again every two seconds. */
	if (!first)
		return;
	snprintf(text, sizeof(text), "the trail is not sealed: %s", why);
	tell(l, "failed", text);
}

/* --- The key --- */

/* Take key into force with an event, signed by before as well (NULL: lost, or the first). 0, -1. */
static int name_key(struct seal *l, const struct ed25519 *key, const struct ed25519 *before,
    const char *who, const char *from, const char *text)
{
	char named[NOTE_KEY_MAX + 1];
	struct vault_about about = {.outcome = named, .text = text};

	if (vault_key_text(l->s->vault, key, named) < 0 || ledger_begin(l->s->ledger) < 0)
		return -1;
	if (!ledger_record(l->s->ledger, EVENT_KEYED, who, from, &about) ||
	    vault_seal(l->s->vault, key, before, now_s()) != 1) {
		ledger_rollback(l->s->ledger);
		return -1;
	}
	return ledger_commit(l->s->ledger);
}

/* Whether this is the key that the trail names. 1, 0, -1; 1 also when it names none yet (*first). */
static int in_force(struct seal *l, const struct ed25519 *key, bool *first)
{
	char named[NOTE_KEY_MAX + 1], want[NOTE_KEY_MAX + 1];
	struct note_key now;
	int r = vault_key(l->s->vault, &now);

	*first = r == 0;
	if (r <= 0)
		return r < 0 ? -1 : 1;
	note_key_write(&now, want);
	return vault_key_text(l->s->vault, key, named) < 0 ? -1 : strcmp(named, want) == 0;
}

/* A new key was named and the service was killed before it took its place: put it there now. */
static struct ed25519 *take_pending(struct seal *l)
{
	struct ed25519 *key = seal_key_pending(l->conf->key);
	char why[WHY];
	bool first;

	if (key && in_force(l, key, &first) == 1 && !first && !seal_key_accept(l->conf->key, why, sizeof(why)))
		return key;
	ed25519_free(key);
	return NULL;
}

/* The first key of all. NULL, with why. */
static struct ed25519 *make_first(struct seal *l, char *why, size_t n)
{
	struct ed25519 *key = ed25519_make();

	if (key && !seal_key_prepare(l->conf->key, key, why, n) && !seal_key_accept(l->conf->key, why, n)) {
		*why = '\0';
		return key;
	}
	if (!key)
		snprintf(why, n, "no key can be made");
	ed25519_free(key);
	return NULL;
}

static const char remedy[] =
    "; bring back the file that belongs to this vault, or, when it is lost, let `yoke keys rotate --lost` "
    "make a new one";

/* Find the key; the first time make it. True when l->key is the one in force. */
static bool find_key(struct seal *l)
{
	char why[WHY - sizeof(remedy)] = "", whole[WHY];
	struct note_key now;
	bool missing, first = false;
	int any = vault_key(l->s->vault, &now), fits = 1;
	struct ed25519 *key = any < 0 ? NULL : take_pending(l);

	if (any >= 0 && !key)
		key = seal_key_read(l->conf->key, &missing, why, sizeof(why));
	if (any == 0 && !key && missing && seal_key_is_file(l->conf->key))
		key = make_first(l, why, sizeof(why));
	if (key)
		fits = in_force(l, key, &first);
	if (any < 0 || fits < 0)
		snprintf(why, sizeof(why), "%s", vault_error(l->s->vault));
	else if (fits == 0)
		snprintf(why, sizeof(why),
		    "the key in %s is not the one that the trail names", l->conf->key);
	else if (key && first &&
	         name_key(l, key, NULL, "service", "service", "the first key that signs this trail") < 0)
		snprintf(why, sizeof(why), "%s", vault_error(l->s->vault));
	if (key && !*why) {
		seal_key_drop(l->conf->key);
		l->key = key;
		return true;
	}
	ed25519_free(key);
	snprintf(whole, sizeof(whole), "%s%s", why, any == 1 && seal_key_is_file(l->conf->key) ? remedy : "");
	fail(l, whole);
	return false;
}

/* --- Sealing --- */

bool seal_now(struct seal *l)
{
	if (!l->key && !find_key(l))
		return false;
	if (vault_seal(l->s->vault, l->key, NULL, now_s()) < 0 ||
	    vault_sealed(l->s->vault, &l->last) < 0) {
		fail(l, vault_error(l->s->vault));
		return false;
	}
	l->since = 0;
	if (!*l->why)
		return true;
	*l->why = '\0';
	fprintf(stderr, "yoked: the trail is sealed again\n");
	tell(l, "again", "the trail is sealed again");
	return vault_seal(l->s->vault, l->key, NULL, now_s()) >= 0 &&
	       vault_sealed(l->s->vault, &l->last) >= 0;
}

void seal_pulse(struct seal *l)
{
	uint64_t now = uv_now(l->s->loop), end;

	if (l->copy)
		seal_copy_pulse(l->copy, l->last.number);
	if (*l->why) {
		if (now - l->tried >= AGAIN_MS)
			seal_now(l);
		return;
	}
	if (vault_end(l->s->vault, &end) < 0 || end <= l->last.size)
		return;
	if (!l->since)
		l->since = now;
	if (end - l->last.size >= l->conf->events || now - l->since >= l->conf->seconds * UINT64_C(1000))
		seal_now(l);
}

struct seal *seal_new(struct service *s)
{
	struct seal *l = calloc(1, sizeof(*l));

	if (!l)
		return NULL;
	l->s = s;
	l->conf = &s->conf->trail;
	if (*l->conf->to) {
		l->copy = seal_copy_new(s, l->conf->to);
		if (!l->copy) {
			free(l);
			return NULL;
		}
	}
	vault_sealed(s->vault, &l->last);
	seal_now(l);
	return l;
}

void seal_free(struct seal *l)
{
	if (!l)
		return;
	if (!*l->why)
		seal_now(l);
	if (l->copy) {
		seal_copy_end(l->copy, l->last.number, LAST_COPY_MS);
		seal_copy_free(l->copy);
	}
	ed25519_free(l->key);
	free(l);
}

/* --- Another key --- */

/* Keys that a credential holds: the new one is there already, and the one before it may be beside it. */
static int rotate_credential(struct seal *l, bool lost, const char *who, const char *from, char *why, size_t n)
{
	bool missing, first;
	struct ed25519 *key = seal_key_read(l->conf->key, &missing, why, n), *old = NULL;
	int fits, rc = -1;

	if (!key)
		return -1;
	fits = in_force(l, key, &first);
	if (fits) {
		snprintf(why, n,
		    "the credential still holds the key in force: give the service the new one as the "
		    "credential and the old one as the same with .old, start it again, and ask again");
		goto out;
	}
	old = lost ? NULL : seal_key_old(l->conf->key);
	if (!lost && (!old || in_force(l, old, &first) != 1)) {
		snprintf(why, n,
		    "the key in force is not in the credential with .old: without it use --lost");
		goto out;
	}
	rc = name_key(l, key, old, who, from, old ? "a new key" : "a new key; the one before is lost");
	if (rc)
		snprintf(why, n, "%s", vault_error(l->s->vault));
out:
	ed25519_free(old);
	if (rc) {
		ed25519_free(key);
		return -1;
	}
	ed25519_free(l->key);
	l->key = key;
	return 0;
}

static int rotate_file(struct seal *l, bool lost, const char *who, const char *from, char *why, size_t n)
{
	struct ed25519 *key = ed25519_make();

	if (!key || seal_key_prepare(l->conf->key, key, why, n)) {
		if (!key)
			snprintf(why, n, "no key can be made");
		ed25519_free(key);
		return -1;
	}
	if (name_key(l, key, lost ? NULL : l->key, who, from,
	        lost ? "a new key; the one before is lost" : "a new key")) {
		snprintf(why, n, "%s", vault_error(l->s->vault));
		seal_key_drop(l->conf->key);
		ed25519_free(key);
		return -1;
	}
	/* From here on it is the key: what fails now is done at the next try. */
	ed25519_free(l->key);
	l->key = NULL;
	if (seal_key_accept(l->conf->key, why, n)) {
		fail(l, why);
		ed25519_free(key);
		return -1;
	}
	l->key = key;
	return 0;
}

int seal_rotate(struct seal *l, bool lost, const char *who, const char *from, char *why, size_t n)
{
	int rc;

	if (lost && l->key) {
		snprintf(why, n, "the key is not lost: it signs; without --lost it signs the new one too");
		return -1;
	}
	if (!lost && !l->key && seal_key_is_file(l->conf->key)) {
		snprintf(why, n, "the key in force cannot be used: %s", l->why);
		return -1;
	}
	rc = seal_key_is_file(l->conf->key) ? rotate_file(l, lost, who, from, why, n)
	                                    : rotate_credential(l, lost, who, from, why, n);
	if (rc == 0)
		seal_now(l);
	return rc;
}

json_t *seal_json(struct seal *l)
{
	char named[NOTE_KEY_MAX + 1] = "", time[CHECKPOINT_TIME_MAX + 1] = "";
	struct note_key key;
	json_t *o;

	if (vault_key(l->s->vault, &key) == 1)
		note_key_write(&key, named);
	if (l->last.number)
		checkpoint_time(l->last.utc_s, time);
	o = json_pack("{s:s, s:I, s:I, s:s}", "key", named, "sealed", (json_int_t)l->last.size,
	    "number", (json_int_t)l->last.number, "time", time);
	if (o && *l->why)
		json_object_set_new(o, "error", json_string(l->why));
	if (o && l->copy)
		json_object_set_new(o, "copy", seal_copy_json(l->copy));
	return o;
}
