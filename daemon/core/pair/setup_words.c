/* Places, numbers and work offsets in words. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include "setup_words.h"

const char *setup_words_where(
    char out[SETUP_WORDS], const struct setup_channel *c, const struct setup_place *p)
{
	char n[32] = "";
	bool own = !p->file || !c->file || strcmp(p->file, c->file) == 0;

	if (p->line == 0)
		return "";
	if (p->sequence >= 0)
		snprintf(n, sizeof(n), "N%" PRId64 ", ", p->sequence);
	snprintf(out, SETUP_WORDS, "%sline %" PRIu64 "%s%.64s", n, p->line, own ? "" : " of ",
	    own ? "" : p->file);
	return out;
}

const char *setup_words_number(char out[SETUP_WORDS], double v)
{
	size_t n;

	snprintf(out, SETUP_WORDS, "%.4f", v == 0 ? 0 : v);
	for (n = strlen(out); n && out[n - 1] == '0'; n--)
		out[n - 1] = '\0';
	if (n && out[n - 1] == '.')
		out[n - 1] = '\0';
	if (strcmp(out, "-0") == 0)
		strcpy(out, "0");
	return out;
}

const char *setup_work_name(const struct setup_work *w, char out[SETUP_NAME_MAX])
{
	if (w->code == -1)
		return "none programmed";
	if (w->code < 0)
		return "not known";
	if (w->code == 541)
		snprintf(out, SETUP_NAME_MAX, w->p_known ? "G54.1 P%" PRIu32 : "G54.1 P?", w->p);
	else
		snprintf(out, SETUP_NAME_MAX, w->code % 10 ? "G%d.%d" : "G%d", w->code / 10,
		    w->code % 10);
	return out;
}
