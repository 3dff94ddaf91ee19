#include "audit_proof.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "new_file.h"
#include "out.h"
#include "proof.h"
#include "trail_keys.h"
#include "whole_file.h"

/* Base64, numbers and the dash of a signature: nothing that drives a terminal. */
static bool tame(const char *s, size_t n)
{
	static const char dash[] = "\xe2\x80\x94";

	for (size_t i = 0; i < n; i++) {
		if (s[i] == '\n' || (s[i] >= ' ' && s[i] <= '~'))
			continue;
		if (n - i < 3 || memcmp(s + i, dash, 3) != 0)
			return false;
		i += 2;
	}
	return n > 0;
}

int audit_prove(const char *seq, const char *out)
{
	char *path = ask_path("/v1/audit/%s/proof", seq);
	struct text t = {0};
	struct http_answer a;
	int status = EXIT_SERVICE;

	if (!path) {
		out_error("out of memory");
		return EXIT_SERVICE;
	}
	if (http_request(path, NULL, &a) == 0) {
		status = a.status == 200 ? EXIT_DONE : ask_refusal(a.status, a.json);
		if (status == EXIT_DONE && !tame(a.bytes ? a.bytes : "", a.n)) {
			out_error("the service's answer is no proof");
			status = EXIT_SERVICE;
		}
		if (status == EXIT_DONE)
			text_add(&t, a.bytes, a.n);
	}
	http_answer_free(&a);
	free(path);
	if (status != EXIT_DONE)
		text_free(&t);
	else if (out)
		status = new_file_write(out, &t);
	else
		out_text(&t);
	return status;
}

static void put(struct text *t, const char *name, const struct leaf_text *value)
{
	if (!value->n)
		return;
	text_printf(t, "  %-9s ", name);
	text_visible(t, value->s, value->n);
	text_putc(t, '\n');
}

static void put_sum(struct text *t, bool has, const struct sha *sum)
{
	for (int i = 0; has && i < YOKE_SHA_SIZE; i++)
		text_printf(t, "%02x", sum->b[i]);
	text_puts(t, has ? "" : "none");
}

static void put_part(struct text *t, const struct event_part *p)
{
	text_puts(t, "  program   ");
	text_visible(t, p->channel, strlen(p->channel));
	if (p->has_before) {
		text_putc(t, ' ');
		put_sum(t, true, &p->before);
		text_puts(t, " ->");
	}
	text_putc(t, ' ');
	put_sum(t, p->has_after, &p->after);
	text_putc(t, '\n');
}

static void say(const struct proof *p)
{
	const struct leaf *l = &p->leaf;
	char time[CHECKPOINT_TIME_MAX + 1], key[NOTE_KEY_MAX + 1];
	struct text t = {0};

	checkpoint_time(l->utc_us / 1000000, time);
	text_printf(&t, "good: entry %llu is in the trail %s\n", (unsigned long long)l->seq,
	    p->checkpoint.origin);
	text_printf(&t, "  time      %s\n", time);
	put(&t, "kind", &l->kind);
	put(&t, "who", &l->who);
	put(&t, "from", &l->from);
	put(&t, "machine", &l->machine);
	put(&t, "job", &l->job);
	put(&t, "revision", &l->revision);
	if (l->order)
		text_printf(&t, "  order     %llu\n", (unsigned long long)l->order);
	put(&t, "outcome", &l->outcome);
	put(&t, "text", &l->text);
	for (uint32_t i = 0; i < l->parts; i++)
		put_part(&t, &l->part[i]);
	put(&t, "detail", &l->detail);
	checkpoint_time(p->checkpoint.utc_s, time);
	note_key_write(&p->key, key);
	text_printf(&t, "sealed with entries 1 to %llu at %s\nby the key %s\n",
	    (unsigned long long)p->checkpoint.size, time, key);
	out_text(&t);
}

int audit_check_proof(const char *file, const char *key)
{
	struct trail_keys keys;
	struct proof p;
	char *bytes = NULL, why[300];
	size_t n;
	int status;

	if (!key) {
		out_error("audit: check-proof needs --key: the public key that you trust, as `yoke keys` "
		          "lists it there, or a file with it");
		return EXIT_USE;
	}
	status = trail_keys_read("audit", key, &keys);
	if (!status && whole_file(file, PROOF_MAX, &bytes, &n)) {
		out_error("%s cannot be read: %s", file, strerror(errno));
		status = EXIT_USE;
	}
	if (!status) {
		if (proof_check(bytes, n, keys.key, keys.n, &p, why, sizeof(why))) {
			say(&p);
		} else {
			struct text t = {0};

			text_puts(&t, "NOT GOOD: ");
			ask_put(&t, file);
			text_printf(&t, ": %s\n", why);
			out_text(&t);
			status = EXIT_REFUSED;
		}
		proof_free(&p);
	}
	free(bytes);
	trail_keys_free(&keys);
	return status;
}
