#include "conf_profile.h"

#include <string.h>
#include "conf_value.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static const char *const programs_keys[] = {
    "names", "header", "number_from_job", "channels", "resident", "separator"};
static const char *const wait_keys[] = {
    "codes", "alone", "skip", "partners", "call", "send", "receive"};
static const char *const values_keys[] = {"fix", "logic", "truth", "increment"};
/* The keys of [codes] are M codes: the profile itself tells what is none. */
static const char *const codes_keys[] = {"M10"};
static const char *const limits_keys[] = {"number_min", "number_max", "number_colon", "end_m99",
    "point", "lower_case", "size_max", "block_max", "sequence_max", "call_depth", "run_max"};
static const char *const release_keys[] = {"two_person", "absolute"};
static const char *const channel_keys[] = {"aliases", "forbid", "diameter", "offset_digits",
    "rapid", "rapid_turn", "tool_change", "speed_max"};
static const char *const weights_keys[] = {
#define X(id, name, weight, why) name,
    FINDING_LIST(X)
#undef X
};
static const char *const sections[] = {
    "programs", "wait", "values", "codes", "limits", "weights", "release", "channel NAME"};

static const char *const *keys_of(const char *section, size_t *n)
{
	static const struct {
		const char *section;
		const char *const *keys;
		size_t n;
	} table[] = {
	    {"programs", programs_keys, COUNT(programs_keys)},
	    {"wait", wait_keys, COUNT(wait_keys)},
	    {"values", values_keys, COUNT(values_keys)},
	    {"codes", codes_keys, COUNT(codes_keys)},
	    {"limits", limits_keys, COUNT(limits_keys)},
	    {"weights", weights_keys, COUNT(weights_keys)},
	    {"release", release_keys, COUNT(release_keys)},
	};

	*n = COUNT(channel_keys);
	for (size_t i = 0; i < COUNT(table); i++) {
		if (strcmp(table[i].section, section) != 0)
			continue;
		*n = table[i].n;
		return table[i].keys;
	}
	return strncmp(section, "channel ", 8) == 0 ? channel_keys : NULL;
}

/* Channels come first, wherever they stand: other sections name them. */
static bool is_channels(const struct conf_entry *e)
{
	return strcmp(e->section, "programs") == 0 && strcmp(e->key, "channels") == 0;
}

bool conf_profile_section(const char *section)
{
	size_t n;

	return keys_of(section, &n) != NULL;
}

static void set(struct profile *profile, const char *path, const struct conf_entry *e,
    struct conf_report *report)
{
	struct text why = {0};
	size_t n;
	const char *const *keys;

	switch (profile_set(profile, e->section, e->key, e->value, &why)) {
	case PROFILE_OK:
		break;
	case PROFILE_UNKNOWN:
		keys = keys_of(e->section, &n);
		if (keys)
			conf_value_unknown(path, e, keys, n, report);
		break;
	case PROFILE_BAD:
		while (why.n > 0 && why.s[why.n - 1] == '\n')
			why.s[--why.n] = '\0';
		conf_report_error(
		    report, path, e->line, "%s", why.s ? why.s : "the value is not allowed");
		break;
	}
	text_free(&why);
}

void conf_profile_read(
    const struct conf_file *file, struct profile *profile, struct conf_report *report)
{
	struct text why = {0};

	for (size_t i = 0; i < file->n; i++)
		if (is_channels(&file->v[i]))
			set(profile, file->path, &file->v[i], report);
	for (size_t i = 0; i < file->n; i++)
		if (conf_profile_section(file->v[i].section) && !is_channels(&file->v[i]))
			set(profile, file->path, &file->v[i], report);
	if (!profile_check(profile, &why))
		conf_report_error(report, file->path, 0, "%s",
		    why.s ? why.s : "the settings do not fit together");
	text_free(&why);
}

void conf_profile_unknown_section(const char *path, const struct conf_entry *e,
    const struct conf_sections *own, struct conf_report *report)
{
	const char *known[COUNT(sections) + 8];
	size_t n = 0;

	for (size_t i = 0; own && i < own->n && n < 8; i++)
		known[n++] = own->name[i];
	for (size_t i = 0; i < COUNT(sections); i++)
		known[n++] = sections[i];
	conf_value_unknown_section(path, e, known, n, report);
}
