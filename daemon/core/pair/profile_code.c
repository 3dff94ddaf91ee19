#include <string.h>
#include "profile_code.h"
#include "profile_value.h"

static bool is_code(const char *key, uint32_t *code)
{
	struct profile_range r;
	struct text unused = {0};
	bool ok = profile_value_range(&key, 'M', PROFILE_VALUE_CODE_MAX, &r, &unused) == 1 &&
	          *key == '\0' && r.low == r.high;

	text_free(&unused);
	*code = ok ? r.low : 0;
	return ok;
}

/* n bytes without the blanks at either end into to, which holds size; false when they do not fit,
 * or are none. */
static bool copy(char *to, size_t size, const char *s, size_t n)
{
	while (n > 0 && (*s == ' ' || *s == '\t'))
		s++, n--;
	while (n > 0 && (s[n - 1] == ' ' || s[n - 1] == '\t'))
		n--;
	if (n == 0 || n >= size)
		return false;
	memcpy(to, s, n);
	return true;
}

static bool is_plain(const char *s)
{
	for (; *s; s++)
		if ((unsigned char)*s < 0x20 || *s == 0x7f)
			return false;
	return true;
}

enum profile_result profile_code_set(
    struct profile *p, const char *key, const char *value, struct text *why)
{
	struct profile_code next = {0};
	const char *colon = strchr(value, ':');
	const char *text = colon ? colon + 1 : value;
	uint32_t at = 0;

	if (!is_code(key, &next.code)) {
		text_puts(why, "the key is no M code; allowed are keys such as M10");
		return PROFILE_BAD;
	}
	if (!is_plain(value) || !copy(next.text, sizeof(next.text), text, strlen(text)) ||
	    (colon && !copy(next.group, sizeof(next.group), value, (size_t)(colon - value)))) {
		text_printf(why,
		    "allowed are GROUP: TEXT (such as clamping: chuck closed) and TEXT alone, the "
		    "group up to %zu bytes, the text up to %zu",
		    sizeof(next.group) - 1, sizeof(next.text) - 1);
		return PROFILE_BAD;
	}
	while (at < p->codes && p->code[at].code != next.code)
		at++;
	if (at == PROFILE_CODES_MAX) {
		text_printf(why, "more than %d codes", PROFILE_CODES_MAX);
		return PROFILE_BAD;
	}
	p->code[at] = next;
	p->codes += at == p->codes;
	return PROFILE_OK;
}
