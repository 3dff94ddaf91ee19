#include "conf_duty.h"

#include <string.h>
#include "conf_value.h"
#include "person.h"

static const char *const names[DUTY_COUNT] = {
#define X(id, name, why) name,
    DUTY_LIST(X)
#undef X
};

const char *conf_duty_name(enum duty duty)
{
	return names[duty];
}

/* One group of the list. False: an error was reported. */
static bool add_group(struct conf_duty *d, const char *name, const char *path,
    const struct conf_entry *e, struct conf_report *report)
{
	struct conf_duty_group *g = &d->group[d->n];

	if (!*name || strlen(name) >= sizeof(g->name)) {
		conf_report_error(report, path, e->line,
		    "%s: a group has 1 to %d bytes, and commas stand between groups", e->key,
		    YOKE_NAME_MAX);
		return false;
	}
	if (strcmp(name, "all") == 0) {
		d->all = true;
		return true;
	}
	if (d->n == CONF_DUTY_GROUPS) {
		conf_report_error(
		    report, path, e->line, "%s: more than %d groups", e->key, CONF_DUTY_GROUPS);
		return false;
	}
	if (!person_gid(name, &g->gid)) {
		conf_report_error(report, path, e->line,
		    "%s: this computer knows no group '%s': correct the name, make the group "
		    "(groupadd), or write its number",
		    e->key, name);
		return false;
	}
	strcpy(g->name, name);
	d->n++;
	return true;
}

void conf_duty_add(struct conf_duties *all, const char *path, const struct conf_entry *e,
    struct conf_report *report)
{
	struct conf_duty *d = NULL;
	const char *s = e->value;
	char name[sizeof(d->group[0].name) + 1];

	for (int i = 0; i < DUTY_COUNT; i++)
		if (strcmp(names[i], e->key) == 0)
			d = &all->duty[i];
	if (!d) {
		conf_value_unknown(path, e, names, DUTY_COUNT, report);
		return;
	}
	d->given = true;
	s += strspn(s, " \t");
	while (*s) {
		size_t n = strcspn(s, ","), keep = n;

		while (keep > 0 && (s[keep - 1] == ' ' || s[keep - 1] == '\t'))
			keep--;
		if (keep >= sizeof(name))
			keep = sizeof(name) - 1; /* which is too long, and told */
		memcpy(name, s, keep);
		name[keep] = '\0';
		if (!add_group(d, name, path, e, report))
			return;
		s += n;
		if (*s != ',')
			continue;
		s++;
		s += strspn(s, " \t");
		if (!*s)
			add_group(d, "", path, e, report);
	}
	if (d->all && d->n)
		conf_report_error(report, path, e->line,
		    "%s: 'all' stands alone: with it no group matters", e->key);
}

static const struct conf_duty *rule(const struct conf_duties *all, enum duty duty)
{
	if (duty == DUTY_RELEASE_AGAIN && !all->duty[duty].given)
		duty = DUTY_RELEASE;
	return &all->duty[duty];
}

bool conf_duty_given(const struct conf_duties *all, enum duty duty)
{
	const struct conf_duty *d = rule(all, duty);

	return d->given && !d->all;
}

bool conf_duty_has(
    const struct conf_duties *all, enum duty duty, const gid_t *gid, size_t n, gid_t *by)
{
	const struct conf_duty *d = rule(all, duty);

	if (!conf_duty_given(all, duty))
		return true;
	for (size_t i = 0; i < d->n; i++)
		for (size_t k = 0; k < n; k++)
			if (d->group[i].gid == gid[k]) {
				*by = gid[k];
				return true;
			}
	return false;
}

void conf_duty_words(const struct conf_duties *all, enum duty duty, struct text *out)
{
	const struct conf_duty *d = rule(all, duty);

	if (!conf_duty_given(all, duty)) {
		text_puts(out, "everybody who may open the socket");
		return;
	}
	if (!d->n)
		text_puts(out, "nobody but root and the service's own user");
	else
		text_puts(out, d->n > 1 ? "the groups " : "the group ");
	for (size_t i = 0; i < d->n; i++)
		text_printf(out, "%s%s", i ? ", " : "", d->group[i].name);
}
