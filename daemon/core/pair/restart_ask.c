/* "upper:N430": a block that a person names. */
#include <string.h>
#include "yoke/restart.h"

static bool complain(struct text *why, const char *s, const char *what)
{
	text_puts(why, "'");
	text_visible(why, s, strlen(s));
	text_printf(why, "' %s; write CHANNEL:N430 or CHANNEL:120, for a line", what);
	return false;
}

bool restart_ask_read(
    const struct profile *profile, const char *s, struct restart_ask *out, struct text *why)
{
	const char *colon = strrchr(s, ':'), *p;
	uint64_t v = 0;

	if (!colon)
		return complain(why, s, "names no block");
	out->channel = profile_channel_find(profile, s, (size_t)(colon - s));
	if (out->channel < 0)
		return complain(why, s, "names no channel of the machine");
	p = colon + 1;
	out->line = *p != 'N' && *p != 'n';
	p += !out->line;
	if (!*p)
		return complain(why, s, "names no block");
	for (; *p; p++) {
		if (*p < '0' || *p > '9' || v > INT64_MAX / 10 - 1)
			return complain(why, s, "has no whole number for its block");
		v = v * 10 + (uint64_t)(*p - '0');
	}
	if (out->line && v == 0)
		return complain(why, s, "counts lines from 0; they begin with 1");
	out->value = v;
	return true;
}
