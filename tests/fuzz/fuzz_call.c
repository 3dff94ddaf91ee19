/*
 * Goal: whatever is punched, reading it as a call ends, reads nothing beyond it, gives strings that end
 * and hold no blank; and a text with anything but a number and an end beside its comments is no call.
 */
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include "call.h"
#include "input.h"

/* Whether what stands outside of comments has a letter that a call must not have. */
static bool moves(const uint8_t *text, size_t n)
{
	char in = 0;

	for (size_t i = 0; i < n; i++) {
		if (text[i] == '\n' || (in == '(' && text[i] == ')'))
			in = 0;
		else if (!in && (text[i] == '(' || text[i] == ';'))
			in = (char)text[i];
		else if (!in && strchr("GXZTSF#=[", text[i]) && text[i])
			return true;
	}
	return false;
}

static void check_string(const char *s, size_t max)
{
	if (strlen(s) > max || strpbrk(s, " \t\n()"))
		abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const struct call_words words = CALL_WORDS_DEFAULT;
	struct call c;
	enum call_fault f = call_read(data, size, &words, &c);

	if (!*call_says(f) != (f == CALL_OK))
		abort();
	if (f)
		return 0;
	check_string(c.job, YOKE_NAME_MAX);
	check_string(c.revision, YOKE_NAME_MAX);
	check_string(c.badge, CALL_BADGE_MAX);
	if (moves(data, size) || (c.kind == CALL_BRING && !*c.job))
		abort();
	return 0;
}
