#include "conf_badge.h"

#include <stdbool.h>
#include <string.h>
#include <strings.h>

/* As long as a call can say it, and as a comment can hold it. */
static bool number_ok(const char *s)
{
	size_t n = strlen(s);

	for (size_t i = 0; i < n; i++)
		if (s[i] <= ' ' || s[i] > '~' || strchr("();%", s[i]))
			return false;
	return n > 0 && n < sizeof(((struct conf_badge *)0)->number);
}

const char *conf_badge_name(const struct conf_badges *all, const char *number)
{
	for (size_t i = 0; i < all->n; i++)
		if (strcasecmp(all->badge[i].number, number) == 0)
			return all->badge[i].name;
	return NULL;
}

void conf_badge_add(struct conf_badges *all, const char *path, const struct conf_entry *e,
    struct conf_report *report)
{
	struct conf_badge *b;

	if (!number_ok(e->key)) {
		conf_report_error(report, path, e->line,
		    "badge '%.80s': 1 to 31 printable characters without blanks, ( ) ; and %% are "
		    "allowed",
		    e->key);
		return;
	}
	if (e->value[0] == '\0' || strlen(e->value) >= sizeof(b->name)) {
		conf_report_error(report, path, e->line,
		    "badge %s: the name of a person, 1 to 63 bytes, is needed", e->key);
		return;
	}
	if (conf_badge_name(all, e->key)) {
		conf_report_error(report, path, e->line,
		    "badge %s stands twice; upper and lower case are the same", e->key);
		return;
	}
	if (all->n == CONF_BADGES_MAX) {
		conf_report_error(report, path, e->line, "more than %d badges", CONF_BADGES_MAX);
		return;
	}
	b = &all->badge[all->n++];
	*b = (struct conf_badge){0};
	memcpy(b->number, e->key, strlen(e->key));
	memcpy(b->name, e->value, strlen(e->value));
}
