#include "conf_trail.h"

#include <stdio.h>
#include <string.h>
#include "secret_place.h"

/* Whether a second place is one: an absolute path, or an address without blanks. */
static bool place_ok(const char *to)
{
	static const char *const urls[] = {"http://", "https://"};

	for (size_t i = 0; i < 2; i++) {
		size_t n = strlen(urls[i]);

		if (strncmp(to, urls[i], n) == 0)
			return to[n] > ' ' && to[n] != '/' && !strpbrk(to, " \"<>\\^`{|}");
	}
	if (strcmp(to, "syslog:") == 0)
		return true;
	return strncmp(to, "file:/", 6) == 0 && to[6] != '\0' && to[strlen(to) - 1] != '/';
}

void conf_trail_check(
    struct conf_trail *t, const char *home, const char *path, struct conf_report *report)
{
	struct secret_place place;

	if (*t->to && !place_ok(t->to))
		conf_report_error(report, path, 0,
		    "checkpoint_to = '%s': file:/PATH, syslog:, http://... or https://... is needed",
		    t->to);
	if (!*t->key && snprintf(t->key, sizeof(t->key), "file:%s/seal.key", home) >=
	                    (int)sizeof(t->key))
		conf_report_error(report, path, 0, "the path of home is too long for seal_key");
	if (!secret_place_read(t->key, &place))
		conf_report_error(report, path, 0,
		    "seal_key = '%s': credential:NAME or file:/PATH is needed: where the key lies, "
		    "never the key",
		    t->key);
}
