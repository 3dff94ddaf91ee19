/*
 * The service finds what does not fit within its vault. What somebody who may write the vault has taken off
 * its end, or written anew with the key in hand, is found by the checkpoints that left it: each of them must
 * be one that the vault still has, word for word in number, size and root.
 */
#include "audit_verify.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "out.h"
#include "trail_list.h"
#include "whole_file.h"

/* Verifying reads every program of the vault: an hour. */
enum { VERIFY_PATIENCE_S = 3600, AGAINST_MAX = 256 << 20 };

/* What was compared, and how it came out. */
struct comparison {
	const char *file;
	struct trail_list there, here; /* in the file, in the vault */
	struct trail_keys keys;
	uint64_t events;
	bool good;
	uint64_t first_bad; /* an entry; 0 when it is none */
	size_t fit;
	struct text text;
};

/* Say what does not fit. Always false. */
static bool __attribute__((format(printf, 3, 4)))
bad(struct comparison *c, uint64_t entry, const char *format, ...)
{
	va_list ap;

	c->first_bad = entry;
	va_start(ap, format);
	text_vprintf(&c->text, format, ap);
	va_end(ap);
	return false;
}

/* Every checkpoint that the vault has. 0, or an exit status and said. */
static int ask_here(struct comparison *c)
{
	size_t before;
	char path[64];
	int status = 0;

	do {
		struct http_answer a;
		unsigned long long after = c->here.n ? c->here.point[c->here.n - 1].c.number : 0;

		before = c->here.n;
		snprintf(path, sizeof(path), "/v1/checkpoints?after=%llu", after);
		status = EXIT_SERVICE;
		if (http_request(path, NULL, &a) == 0) {
			status = a.status == 200 ? 0 : ask_refusal(a.status, a.json);
			if (!status && a.n)
				trail_list_add(&c->here, a.bytes, a.n, &c->keys);
		}
		http_answer_free(&a);
	} while (!status && c->here.n > before);
	return status;
}

/* One checkpoint of the file against the vault's of the same number. before: the last that fitted. */
static bool fits(struct comparison *c, const struct trail_point *p, const struct checkpoint *before)
{
	unsigned long long number = p->c.number, size = p->c.size, from = before ? before->size + 1 : 1;
	const struct checkpoint *mine =
	    p->c.number - 1 < c->here.n ? &c->here.point[p->c.number - 1].c : NULL;
	char time[CHECKPOINT_TIME_MAX + 1];

	checkpoint_time(p->c.utc_s, time);
	if (p->is == NOTE_FORGED)
		return bad(c, 0, "checkpoint %llu of %s in %s does not have the signature of its key", number,
		    time, c->file);
	if (p->is != NOTE_GOOD)
		return bad(c, 0, "checkpoint %llu of %s in %s is signed with no key that is known here", number,
		    time, c->file);
	if (p->c.size > c->events)
		return bad(c, c->events + 1,
		    "entries %llu to %llu are missing at the end of the trail: checkpoint %llu of %s in %s "
		    "sealed them",
		    (unsigned long long)c->events + 1, size, number, time, c->file);
	if (!mine)
		return bad(c, from,
		    "checkpoint %llu of %s in %s, of %llu entries, is not in the vault, whose last is %zu: "
		    "entries from %llu on were written anew",
		    number, time, c->file, size, c->here.n, from);
	if (mine->number != p->c.number || mine->size != p->c.size || mine->utc_s != p->c.utc_s ||
	    memcmp(mine->root.b, p->c.root.b, sizeof(mine->root.b)) != 0)
		return bad(c, from,
		    "entries %llu to %llu are not those that checkpoint %llu of %s in %s sealed", from, size,
		    number, time, c->file);
	return true;
}

static bool compare(struct comparison *c, const char *origin)
{
	const struct checkpoint *before = NULL;
	char time[CHECKPOINT_TIME_MAX + 1];

	for (size_t i = 0; i < c->there.n; i++) {
		const struct trail_point *p = &c->there.point[i];

		if (strcmp(p->c.origin, origin) != 0)
			continue;
		if (!fits(c, p, before))
			return false;
		if (!before || p->c.size > before->size)
			before = &p->c;
		c->fit++;
	}
	if (!before)
		return bad(c, 1, "%s holds no checkpoint of this trail (%s): it is another one, or was written "
		                 "anew from its beginning",
		    c->file, *origin ? origin : "which has no key");
	checkpoint_time(before->utc_s, time);
	text_printf(&c->text, "%zu checkpoint%s in %s fit%s; the last, of %s, seals entries 1 to %llu", c->fit,
	    c->fit == 1 ? "" : "s", c->file, c->fit == 1 ? "s" : "", time,
	    (unsigned long long)before->size);
	return true;
}

/* Read the file and compare. 0, or an exit status and said. */
static int against(struct comparison *c, const char *origin)
{
	char *bytes;
	size_t n;
	int status;

	if (whole_file(c->file, AGAINST_MAX, &bytes, &n)) {
		out_error("%s cannot be read: %s", c->file, strerror(errno));
		return EXIT_USE;
	}
	trail_list_add(&c->there, bytes, n, &c->keys);
	free(bytes);
	status = ask_here(c);
	if (!status && (c->there.failed || c->here.failed)) {
		out_error("out of memory");
		status = EXIT_SERVICE;
	}
	if (!status)
		c->good = compare(c, origin);
	return status;
}

/* Keys that a person trusts: one of them must be among those of the trail. */
static bool knows_key(const struct trail_keys *trusted, const struct trail_keys *trail)
{
	for (size_t i = 0; i < trusted->n; i++)
		for (size_t k = 0; k < trail->n; k++)
			if (memcmp(&trusted->key[i], &trail->key[k], sizeof(trusted->key[i])) == 0)
				return true;
	return false;
}

/* What --against and --key ask. *good is set. 0, or an exit status and said. */
static int compare_all(struct comparison *c, const char *key)
{
	struct trail_keys trail = {0};
	char origin[NOTE_NAME_MAX + 1] = "";
	int status = key ? trail_keys_read("audit", key, &c->keys) : 0;

	if (!status)
		status = trail_keys_ask(&trail);
	if (status)
		goto out;
	if (trail.n)
		memcpy(origin, trail.key[0].name, sizeof(origin));
	c->good = !key || knows_key(&c->keys, &trail);
	if (!c->good)
		bad(c, 1, "this trail was never signed with the key that you gave");
	if (!key) {
		c->keys = trail;
		trail = (struct trail_keys){0};
	}
	if (c->good && c->file)
		status = against(c, origin);
out:
	trail_keys_free(&trail);
	return status;
}

static void say(const json_t *o, const struct comparison *c, bool compared)
{
	struct text t = {0};
	bool good = ask_true(o, "good");

	text_puts(&t, good ? "good: " : "NOT GOOD: ");
	if (!good && ask_number(o, "first_bad"))
		text_printf(&t, "entry %lld is the first that does not fit: ",
		    (long long)ask_number(o, "first_bad"));
	ask_put_string(&t, o, "text");
	if (ask_number(o, "sealed")) {
		text_printf(&t, "\nsealed: entries 1 to %lld, at ", (long long)ask_number(o, "sealed"));
		ask_put_string(&t, o, "last_time");
		text_puts(&t, "; for the first time at ");
		ask_put_string(&t, o, "first_time");
	}
	text_puts(&t, "\nhead of the chain: ");
	ask_put_string(&t, o, "head");
	text_puts(&t, "\n");
	if (compared) {
		text_puts(&t, c->good ? "good: " : "NOT GOOD: ");
		if (c->first_bad)
			text_printf(&t, "entry %llu is the first that does not fit: ",
			    (unsigned long long)c->first_bad);
		ask_put(&t, c->text.n ? c->text.s : "the trail was signed with this key");
		text_puts(&t, "\n");
	}
	out_text(&t);
}

static void give(json_t *o, const struct comparison *c, bool compared)
{
	struct text visible = {0};

	ask_put(&visible, c->text.s ? c->text.s : "");
	if (compared)
		json_object_set_new(o, "against", json_pack("{s:b, s:I, s:I, s:s}", "good", (int)c->good,
		                                      "first_bad", (json_int_t)c->first_bad,
		                                      "checkpoints", (json_int_t)c->fit, "text",
		                                      visible.s ? visible.s : ""));
	text_free(&visible);
	out_json(json_incref(o));
}

int audit_verify(bool programs, const char *file, const char *key, bool json)
{
	struct comparison c = {.file = file, .good = true};
	bool compared = file || key;
	int status;
	json_t *o;

	http_patience(VERIFY_PATIENCE_S);
	o = ask(programs ? "/v1/audit/verify" : "/v1/audit/verify?programs=no", NULL, &status);
	if (!o)
		return status;
	c.events = (uint64_t)ask_number(o, "events");
	if (compared)
		status = compare_all(&c, key);
	if (!status) {
		status = ask_true(o, "good") && c.good ? EXIT_DONE : EXIT_REFUSED;
		if (json)
			give(o, &c, compared);
		else
			say(o, &c, compared);
	}
	json_decref(o);
	trail_keys_free(&c.keys);
	trail_list_free(&c.there);
	trail_list_free(&c.here);
	text_free(&c.text);
	return status;
}
