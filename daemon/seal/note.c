#include "note.h"

#include <stdio.h>
#include <string.h>
#include "base64.h"
#include "hash.h"
#include "yoke/event.h"

static const char dash[] = "\xe2\x80\x94 "; /* U+2014 and a blank */

enum { ALGORITHM = 1, ID = 4, SIGNED = ID + ED25519_SIGNATURE, SIGNED_64 = BASE64_LENGTH(SIGNED) };

/* How many characters at the front can be those of a key's name. */
static size_t name_length(const char *s, size_t n)
{
	size_t i = 0;

	while (i < n && s[i] > ' ' && s[i] < 0x7f && s[i] != '+')
		i++;
	return i;
}

uint32_t note_key_id(const struct note_key *k)
{
	struct hash *h = hash_new();
	struct sha sum = {0};

	if (!h)
		return 0;
	hash_add(h, k->name, strlen(k->name));
	hash_add(h, "\n\1", 2);
	hash_add(h, k->public, sizeof(k->public));
	if (hash_end(h, &sum) < 0)
		memset(&sum, 0, sizeof(sum));
	hash_free(h);
	return (uint32_t)sum.b[0] << 24 | (uint32_t)sum.b[1] << 16 | (uint32_t)sum.b[2] << 8 |
	       sum.b[3];
}

void note_key_write(const struct note_key *k, char out[NOTE_KEY_MAX + 1])
{
	uint8_t whole[1 + ED25519_PUBLIC] = {ALGORITHM};
	struct text t = {0};

	memcpy(whole + 1, k->public, sizeof(k->public));
	base64_put(&t, whole, sizeof(whole));
	snprintf(out, NOTE_KEY_MAX + 1, "%s+%08x+%s", k->name, (unsigned)note_key_id(k),
	    t.s ? t.s : "");
	text_free(&t);
}

bool note_key_read(const char *s, size_t n, struct note_key *out)
{
	uint8_t whole[BASE64_LENGTH(1 + ED25519_PUBLIC) / 4 * 3];
	char again[NOTE_KEY_MAX + 1];
	size_t name = name_length(s, n);

	if (name == 0 || name > NOTE_NAME_MAX || n != name + 1 + 8 + 1 + 44 || s[name] != '+' ||
	    s[name + 9] != '+')
		return false;
	if (base64_read(s + name + 10, 44, whole) != 1 + ED25519_PUBLIC || whole[0] != ALGORITHM)
		return false;
	*out = (struct note_key){0};
	memcpy(out->name, s, name);
	memcpy(out->public, whole + 1, sizeof(out->public));
	note_key_write(out, again);
	return memcmp(again, s, n) == 0;
}

int note_sign(struct text *note, const char *text, const struct note_key *k,
    const struct ed25519 *private)
{
	size_t n = strlen(text), name = strlen(k->name);
	uint32_t id = note_key_id(k);
	uint8_t raw[SIGNED] = {id >> 24, id >> 16 & 0xff, id >> 8 & 0xff, id & 0xff};

	if (n == 0 || text[n - 1] != '\n' || text[0] == '\n' || strstr(text, "\n\n"))
		return -1;
	if (name == 0 || name > NOTE_NAME_MAX || name_length(k->name, name) != name)
		return -1;
	if (ed25519_sign(private, text, n, raw + ID) < 0)
		return -1;
	if (note->n == 0) {
		text_add(note, text, n);
		text_putc(note, '\n');
	}
	text_printf(note, "%s%s ", dash, k->name);
	base64_put(note, raw, sizeof(raw));
	text_putc(note, '\n');
	return note->failed ? -1 : 0;
}

/* A signature at the front: its whole line's length, or 0. name and raw are set when not NULL. */
static size_t take_signature(
    const char *s, size_t n, const char **name, size_t *name_n, uint8_t raw[SIGNED_64 / 4 * 3])
{
	size_t front = sizeof(dash) - 1, length;

	if (n < front || memcmp(s, dash, front) != 0)
		return 0;
	length = name_length(s + front, n - front);
	if (length == 0 || length > NOTE_NAME_MAX || n - front - length < 1 + SIGNED_64 + 1)
		return 0;
	*name = s + front;
	*name_n = length;
	s += front + length;
	if (*s != ' ' || s[1 + SIGNED_64] != '\n' || base64_read(s + 1, SIGNED_64, raw) != SIGNED)
		return 0;
	return front + length + 1 + SIGNED_64 + 1;
}

size_t note_take(const char *s, size_t n, struct note *out)
{
	uint8_t raw[SIGNED_64 / 4 * 3];
	size_t at = 0, line, name_n;
	const char *name;
	int signatures = 0;

	if (n > NOTE_MAX)
		n = NOTE_MAX;
	*out = (struct note){.text = s};
	for (;; at += line) { /* lines, up to an empty one */
		const char *end = at < n ? memchr(s + at, '\n', n - at) : NULL;

		if (!end || memchr(s + at, '\0', (size_t)(end - s) - at))
			return 0;
		line = (size_t)(end - s) - at + 1;
		if (line == 1)
			break;
	}
	if (at == 0)
		return 0;
	out->text_n = at++;
	out->signatures = s + at;
	while (signatures < NOTE_SIGNATURES &&
	       (line = take_signature(s + at, n - at, &name, &name_n, raw)) > 0) {
		at += line;
		signatures++;
	}
	out->signatures_n = (size_t)(s + at - out->signatures);
	return signatures > 0 ? at : 0;
}

enum note_result note_check(const struct note *note, const struct note_key *k)
{
	uint8_t raw[SIGNED_64 / 4 * 3];
	enum note_result result = NOTE_OTHER_KEY;
	uint32_t id = note_key_id(k);
	size_t name = strlen(k->name), at = 0, line, given_n;
	const char *given;

	while (at < note->signatures_n && (line = take_signature(note->signatures + at,
	                                       note->signatures_n - at, &given, &given_n, raw)) > 0) {
		at += line;
		if (given_n != name || memcmp(given, k->name, name) != 0 ||
		    raw[0] != id >> 24 || raw[1] != (id >> 16 & 0xff) || raw[2] != (id >> 8 & 0xff) ||
		    raw[3] != (id & 0xff))
			continue;
		if (!ed25519_check(k->public, note->text, note->text_n, raw + ID))
			return NOTE_FORGED;
		result = NOTE_GOOD;
	}
	return result;
}
