#include "trail_keys.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include "ask.h"
#include "exit.h"
#include "out.h"
#include "whole_file.h"

enum { KEY_FILE_MAX = 1 << 20 };

void trail_keys_free(struct trail_keys *k)
{
	free(k->key);
	*k = (struct trail_keys){0};
}

static bool add(struct trail_keys *k, const char *s, size_t n)
{
	struct note_key one, *grown;

	if (!note_key_read(s, n, &one))
		return false;
	grown = reallocarray(k->key, k->n + 1, sizeof(*grown));
	if (!grown)
		return false;
	k->key = grown;
	k->key[k->n++] = one;
	return true;
}

/* Every word that is a key. */
static void add_words(struct trail_keys *k, const char *s, size_t n)
{
	static const char between[] = " \t\r\n";
	size_t at = 0;

	while (at < n) {
		size_t length = 0;

		while (at + length < n && s[at + length] && !strchr(between, s[at + length]))
			length++;
		add(k, s + at, length);
		at += length + 1;
	}
}

int trail_keys_read(const char *verb, const char *given, struct trail_keys *out)
{
	char *bytes;
	size_t n;

	*out = (struct trail_keys){0};
	if (add(out, given, strlen(given)))
		return 0;
	if (whole_file(given, KEY_FILE_MAX, &bytes, &n)) {
		out_error("%s: --key '%s' is neither a public key, NAME+ID+BASE64 as `yoke keys` lists "
		          "them, nor a file that can be read: %s",
		    verb, given, strerror(errno));
		return EXIT_USE;
	}
	add_words(out, bytes, n);
	free(bytes);
	if (out->n)
		return 0;
	out_error("%s: no public key stands in %s: `yoke keys` lists them", verb, given);
	return EXIT_USE;
}

int trail_keys_ask(struct trail_keys *out)
{
	const json_t *one;
	json_t *o;
	int status;
	size_t i;

	*out = (struct trail_keys){0};
	o = ask("/v1/keys", NULL, &status);
	json_array_foreach(json_object_get(o, "keys"), i, one)
	{
		const char *key = ask_string(one, "key");

		add(out, key, strlen(key));
	}
	json_decref(o);
	return status;
}
