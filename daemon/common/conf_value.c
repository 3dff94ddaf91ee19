#include "conf_value.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include "spell.h"

const struct conf_key *conf_value_key(const struct conf_key *keys, size_t n, const char *name)
{
	for (size_t i = 0; i < n; i++)
		if (strcmp(keys[i].name, name) == 0)
			return &keys[i];
	return NULL;
}

/* Decimal digits only: no sign, no blank, no hexadecimal. */
static bool whole(const char *s, uint64_t *value)
{
	*value = 0;
	if (*s == '\0' || strlen(s) > 10)
		return false;
	for (; *s; s++) {
		if (*s < '0' || *s > '9')
			return false;
		*value = *value * 10 + (uint64_t)(*s - '0');
	}
	return true;
}

/* "a, b or c" */
static void list(struct text *t, const char *const *names, size_t n)
{
	for (size_t i = 0; i < n; i++)
		text_printf(t, "%s%s", i == 0 ? "" : i + 1 == n ? " or " : ", ", names[i]);
}

static size_t count(const char *const *choice)
{
	size_t n = 0;

	while (choice[n])
		n++;
	return n;
}

static int set_number(const struct conf_key *k, void *field, const char *path,
    const struct conf_entry *e, struct conf_report *report)
{
	uint64_t value;
	uint32_t number;

	if (!whole(e->value, &value) || value < k->low || value > k->high) {
		conf_report_error(report, path, e->line,
		    "%s = '%s': a whole number%s%s from %u to %u is allowed", e->key, e->value,
		    *k->unit ? " of " : "", k->unit, k->low, k->high);
		return -1;
	}
	number = (uint32_t)value;
	memcpy(field, &number, sizeof(number));
	return 0;
}

static int set_choice(const struct conf_key *k, void *field, const char *path,
    const struct conf_entry *e, struct conf_report *report)
{
	struct text allowed = {0};

	for (unsigned i = 0; k->choice[i]; i++) {
		uint32_t value = i;

		if (strcasecmp(k->choice[i], e->value) != 0)
			continue;
		if (k->type == CONF_LISTED)
			value = (uint32_t)strtoul(k->choice[i], NULL, 10);
		memcpy(field, &value, sizeof(value));
		return 0;
	}
	list(&allowed, k->choice, count(k->choice));
	conf_report_error(report, path, e->line, "%s = '%s': %s is allowed", e->key, e->value,
	    allowed.s ? allowed.s : "");
	text_free(&allowed);
	return -1;
}

static int set_yes_no(
    void *field, const char *path, const struct conf_entry *e, struct conf_report *report)
{
	bool yes = strcasecmp(e->value, "yes") == 0;

	if (!yes && strcasecmp(e->value, "no") != 0) {
		conf_report_error(
		    report, path, e->line, "%s = '%s': yes or no is allowed", e->key, e->value);
		return -1;
	}
	memcpy(field, &yes, sizeof(yes));
	return 0;
}

static int set_string(const struct conf_key *k, void *field, const char *path,
    const struct conf_entry *e, struct conf_report *report)
{
	size_t n = strlen(e->value);

	if (n >= k->size) {
		conf_report_error(report, path, e->line,
		    "%s is %zu bytes long, at most %zu are allowed", e->key, n, k->size - 1);
		return -1;
	}
	memset(field, 0, k->size);
	memcpy(field, e->value, n);
	return 0;
}

int conf_value_set(const struct conf_key *key, void *base, const char *path,
    const struct conf_entry *e, struct conf_report *report)
{
	void *field = (char *)base + key->offset;

	switch (key->type) {
	case CONF_NUMBER:
		return set_number(key, field, path, e, report);
	case CONF_LISTED:
	case CONF_CHOICE:
		return set_choice(key, field, path, e, report);
	case CONF_YES_NO:
		return set_yes_no(field, path, e, report);
	case CONF_STRING:
		break;
	}
	return set_string(key, field, path, e, report);
}

static void unknown(const char *path, unsigned line, const char *what, const char *name,
    const char *const *known, size_t n, struct conf_report *report)
{
	const char *nearest = spell_nearest(name, known, n);
	struct text allowed = {0};

	list(&allowed, known, n);
	if (nearest)
		conf_report_error(report, path, line, "unknown %s; did you mean '%s'? Allowed: %s",
		    what, nearest, allowed.s ? allowed.s : "");
	else
		conf_report_error(report, path, line, "unknown %s. Allowed: %s", what,
		    allowed.s ? allowed.s : "nothing");
	text_free(&allowed);
}

void conf_value_unknown(const char *path, const struct conf_entry *e, const char *const *known,
    size_t n, struct conf_report *report)
{
	struct text what = {0};

	text_printf(&what, "key '%.80s' in [%s]", e->key, e->section);
	unknown(path, e->line, what.s ? what.s : "key", e->key, known, n, report);
	text_free(&what);
}

void conf_value_unknown_section(const char *path, const struct conf_entry *e,
    const char *const *known, size_t n, struct conf_report *report)
{
	struct text what = {0};

	text_printf(&what, "section [%s]", e->section);
	unknown(path, e->line, what.s ? what.s : "section", e->section, known, n, report);
	text_free(&what);
}
