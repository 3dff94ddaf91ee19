#include <string.h>
#include "yoke/profile.h"
#include "pattern.h"
#include "profile_value.h"

struct key {
	const char *section, *key;
	/* Set p from a value; on false one line was added to why and p is as it was. */
	bool (*set)(struct profile *p, const char *value, struct text *why);
};

/* Bounds that no machine comes near; they keep sums and memory in reach. */
enum { CODE_MAX = 99999999, BLOCK_LIMIT = 65536, DEPTH_LIMIT = 64 };
#define RUN_LIMIT 10000000000ull

static bool equal_any_case(const char *a, const char *b, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (profile_value_upper(a[i]) != profile_value_upper(b[i]))
			return false;
	return true;
}

static void add_channel(struct profile *p, const char *name, const char *const *alias)
{
	struct profile_channel *c = &p->channel[p->channels++];

	*c = (struct profile_channel){0};
	strcpy(c->name, name);
	c->diameter = p->channels > 1;
	c->offset_digits = p->channels > 1 ? 2 : 0;
	c->rapid = 20000;
	c->rapid_turn = 7200;
	c->tool_change = 2;
	c->speed_max = 6000;
	for (; alias && *alias; alias++)
		strcpy(c->alias[c->aliases++], *alias);
}

void profile_defaults(struct profile *p)
{
	static const char *const upper[] = {"UP", "UPR", "U", NULL};
	static const char *const lower[] = {"LO", "LOW", "LWR", "L", NULL};

	*p = (struct profile){0};
	add_channel(p, "upper", upper);
	add_channel(p, "lower", lower);
	strcpy(p->names, "{job}-{rev}.{channel}.nc");
	strcpy(p->header, "(JOB {job} REV {rev} {channel})");
	p->wait[0] = (struct profile_range){200, 299};
	p->waits = 1;
	p->partners_letter = 'P';
	p->increment = 0.001;
	p->wait_alone = true;
	p->number_min = 1;
	p->number_max = 9999;
	p->point_required = true;
	p->size_max = YOKE_PROGRAM_MAX;
	p->block_max = 256;
	p->sequence_max = 99999;
	p->call_depth = 4;
	p->run_max = 10000000;
	for (int i = 0; i < FINDING_COUNT; i++)
		p->weight[i] = finding_weight((enum finding_id)i);
}

static bool set_pattern(char *to, size_t size, bool (*check)(const char *, struct text *),
    const char *value, struct text *why)
{
	if (!check(value, why))
		return false;
	/* A usable pattern is at most PATTERN_MAX bytes, one less than the field. */
	memcpy(to, value, strnlen(value, size - 1) + 1);
	return true;
}

static bool set_names(struct profile *p, const char *value, struct text *why)
{
	return set_pattern(p->names, sizeof(p->names), pattern_check_name, value, why);
}

static bool set_header(struct profile *p, const char *value, struct text *why)
{
	return set_pattern(p->header, sizeof(p->header), pattern_check_header, value, why);
}

static bool set_number_from_job(struct profile *p, const char *value, struct text *why)
{
	return profile_value_bool(value, &p->number_from_job, why);
}

static bool keep_channel(
    const struct profile *from, struct profile *to, const char *name, struct text *why)
{
	int old = profile_channel_find(from, name, strlen(name));

	if (to->channels == YOKE_CHANNELS_MAX) {
		text_printf(why, "more than %d channels", YOKE_CHANNELS_MAX);
		return false;
	}
	if (profile_channel_find(to, name, strlen(name)) >= 0) {
		text_printf(why, "'%s' is named twice, or is another channel's alias", name);
		return false;
	}
	if (old >= 0 && equal_any_case(from->channel[old].name, name, strlen(name) + 1))
		to->channel[to->channels++] = from->channel[old];
	else
		add_channel(to, name, NULL);
	return true;
}

/* The channels by name, in order; those that the profile has already keep their aliases. */
static bool set_channels(struct profile *p, const char *value, struct text *why)
{
	struct profile next = {0};
	char name[YOKE_NAME_MAX + 1];
	int got;

	while ((got = profile_value_name(&value, name, why)) > 0)
		if (!keep_channel(p, &next, name, why))
			return false;
	if (got < 0)
		return false;
	if (next.channels < 2) {
		text_printf(
		    why, "fewer than 2 channels; allowed are 2 to %d names", YOKE_CHANNELS_MAX);
		return false;
	}
	memcpy(p->channel, next.channel, sizeof(p->channel));
	p->channels = next.channels;
	return true;
}

static bool overlaps(const struct profile_range *v, uint32_t n, struct profile_range r)
{
	for (uint32_t i = 0; i < n; i++)
		if (r.low <= v[i].high && v[i].low <= r.high)
			return true;
	return false;
}

/* A wait code must not be one of the codes that stop, end or call (ISO 6983-1; M98, M99: common
 * practice). */
static bool wait_range_free(struct profile_range r, struct text *why)
{
	static const uint32_t taken[] = {0, 1, 2, 30, 98, 99};

	for (size_t i = 0; i < sizeof(taken) / sizeof(*taken); i++) {
		if (r.low <= taken[i] && taken[i] <= r.high) {
			text_printf(why, "M%02u stops, ends or calls and cannot be a wait code",
			    (unsigned)taken[i]);
			return false;
		}
	}
	return true;
}

static bool set_codes(struct profile *p, const char *value, struct text *why)
{
	struct profile_range range[PROFILE_RANGES_MAX], r;
	uint32_t n = 0;
	int got;

	while ((got = profile_value_range(&value, 'M', CODE_MAX, &r, why)) > 0) {
		if (n == PROFILE_RANGES_MAX) {
			text_printf(why, "more than %d ranges", PROFILE_RANGES_MAX);
			return false;
		}
		if (!wait_range_free(r, why))
			return false;
		if (overlaps(range, n, r)) {
			text_printf(why, "M%u-M%u overlaps a range before it", (unsigned)r.low,
			    (unsigned)r.high);
			return false;
		}
		range[n++] = r;
	}
	if (got < 0)
		return false;
	if (n == 0) {
		text_puts(
		    why, "no wait code; allowed are M codes and ranges, such as M200-M299, M310");
		return false;
	}
	memcpy(p->wait, range, n * sizeof(*range));
	p->waits = n;
	return true;
}

/* Programs of the control that other programs may call; none by an empty list. */
static bool set_resident(struct profile *p, const char *value, struct text *why)
{
	struct profile_range range[PROFILE_RANGES_MAX], r;
	uint32_t n = 0;
	int got;

	while ((got = profile_value_range(&value, 'O', CODE_MAX, &r, why)) > 0) {
		if (n == PROFILE_RANGES_MAX) {
			text_printf(why, "more than %d ranges", PROFILE_RANGES_MAX);
			return false;
		}
		range[n++] = r;
	}
	if (got < 0)
		return false;
	if (n > 0)
		memcpy(p->resident, range, n * sizeof(*range));
	p->residents = n;
	return true;
}

static bool set_alone(struct profile *p, const char *value, struct text *why)
{
	return profile_value_bool(value, &p->wait_alone, why);
}

static bool set_skip(struct profile *p, const char *value, struct text *why)
{
	return profile_value_choice(value, "common", "separate", &p->skip_separate, why);
}

#define SET_NUMBER(name, field, low, high)                                                         \
	static bool set_##name(struct profile *p, const char *value, struct text *why)             \
	{                                                                                          \
		uint64_t n;                                                                        \
                                                                                                   \
		if (!profile_value_number(value, low, high, &n, why))                              \
			return false;                                                              \
		p->field = n;                                                                      \
		return true;                                                                       \
	}

#define SET_BOOL(name, field)                                                                      \
	static bool set_##name(struct profile *p, const char *value, struct text *why)             \
	{                                                                                          \
		return profile_value_bool(value, &p->field, why);                                  \
	}

SET_NUMBER(number_min, number_min, 0, CODE_MAX)
SET_NUMBER(number_max, number_max, 1, CODE_MAX)
SET_BOOL(number_colon, colon_number)
SET_BOOL(end_m99, end_m99)
SET_BOOL(point, point_required)
SET_BOOL(lower_case, lower_case)
SET_NUMBER(block_max, block_max, 1, BLOCK_LIMIT)
SET_NUMBER(sequence_max, sequence_max, 1, CODE_MAX)
SET_NUMBER(call_depth, call_depth, 1, DEPTH_LIMIT)
SET_NUMBER(run_max, run_max, 1, RUN_LIMIT)

static bool set_size_max(struct profile *p, const char *value, struct text *why)
{
	return profile_value_size(value, 1, YOKE_PROGRAM_MAX, &p->size_max, why);
}

static const struct key keys[] = {
    {"programs", "names", set_names},
    {"programs", "header", set_header},
    {"programs", "number_from_job", set_number_from_job},
    {"programs", "channels", set_channels},
    {"programs", "resident", set_resident},
    {"wait", "codes", set_codes},
    {"wait", "alone", set_alone},
    {"wait", "skip", set_skip},
    {"limits", "number_min", set_number_min},
    {"limits", "number_max", set_number_max},
    {"limits", "number_colon", set_number_colon},
    {"limits", "end_m99", set_end_m99},
    {"limits", "point", set_point},
    {"limits", "lower_case", set_lower_case},
    {"limits", "size_max", set_size_max},
    {"limits", "block_max", set_block_max},
    {"limits", "sequence_max", set_sequence_max},
    {"limits", "call_depth", set_call_depth},
    {"limits", "run_max", set_run_max},
};

static enum profile_result set_weight(
    struct profile *p, const char *name, const char *value, struct text *why)
{
	enum finding_id id = finding_by_name(name);
	enum weight w;

	if (id == FINDING_COUNT)
		return PROFILE_UNKNOWN;
	if (!finding_weight_parse(value, &w)) {
		text_puts(why, "allowed are off, note, warn and refuse");
		return PROFILE_BAD;
	}
	p->weight[id] = w;
	return PROFILE_OK;
}

static bool set_aliases(
    struct profile *p, struct profile_channel *c, const char *value, struct text *why)
{
	struct profile_channel next = *c;
	char name[YOKE_NAME_MAX + 1];
	int got;

	next.aliases = 0;
	while ((got = profile_value_name(&value, name, why)) > 0) {
		int owner = profile_channel_find(p, name, strlen(name));

		if (owner >= 0 && &p->channel[owner] != c) {
			text_printf(why, "'%s' already stands for channel %s", name,
			    p->channel[owner].name);
			return false;
		}
		if (next.aliases == PROFILE_ALIASES_MAX) {
			text_printf(why, "more than %d aliases", PROFILE_ALIASES_MAX);
			return false;
		}
		strcpy(next.alias[next.aliases++], name);
	}
	if (got < 0)
		return false;
	*c = next;
	return true;
}

static bool set_forbid(struct profile_channel *c, const char *value, struct text *why)
{
	struct profile_channel next = *c;
	char word[sizeof(next.forbid[0])];
	int got;

	next.forbids = 0;
	while ((got = profile_value_word(&value, word, sizeof(word), why)) > 0) {
		if (next.forbids == PROFILE_WORDS_MAX) {
			text_printf(why, "more than %d words", PROFILE_WORDS_MAX);
			return false;
		}
		strcpy(next.forbid[next.forbids++], word);
	}
	if (got < 0)
		return false;
	*c = next;
	return true;
}

static enum profile_result set_channel(
    struct profile *p, const char *name, const char *key, const char *value, struct text *why)
{
	bool alias = strcmp(key, "aliases") == 0, ok;
	struct profile_channel *c = NULL;

	if (!alias && strcmp(key, "forbid") != 0)
		return PROFILE_UNKNOWN;
	for (uint32_t i = 0; i < p->channels && !c; i++)
		if (strlen(name) == strlen(p->channel[i].name) &&
		    equal_any_case(p->channel[i].name, name, strlen(name)))
			c = &p->channel[i];
	if (!c) {
		text_puts(why, "no such channel; the channels are");
		for (uint32_t i = 0; i < p->channels; i++)
			text_printf(why, "%s %s", i ? "," : "", p->channel[i].name);
		text_puts(
		    why, " (channels = ... in [programs], before this section, names others)");
		return PROFILE_BAD;
	}
	ok = alias ? set_aliases(p, c, value, why) : set_forbid(c, value, why);
	return ok ? PROFILE_OK : PROFILE_BAD;
}

static enum profile_result set_any(
    struct profile *p, const char *section, const char *key, const char *value, struct text *why)
{
	if (strcmp(section, "weights") == 0)
		return set_weight(p, key, value, why);
	if (strncmp(section, "channel ", 8) == 0)
		return set_channel(p, section + 8 + strspn(section + 8, " "), key, value, why);
	for (size_t i = 0; i < sizeof(keys) / sizeof(*keys); i++)
		if (strcmp(keys[i].section, section) == 0 && strcmp(keys[i].key, key) == 0)
			return keys[i].set(p, value, why) ? PROFILE_OK : PROFILE_BAD;
	return PROFILE_UNKNOWN;
}

enum profile_result profile_set(
    struct profile *p, const char *section, const char *key, const char *value, struct text *why)
{
	struct text fault = {0};
	enum profile_result r = set_any(p, section, key, value, &fault);

	if (r == PROFILE_BAD) {
		text_printf(why, "%s = ", key);
		text_visible(why, value, strnlen(value, 60));
		text_printf(why, "%s: %s", strlen(value) > 60 ? "..." : "",
		    fault.s ? fault.s : "out of memory");
	}
	text_free(&fault);
	return r;
}

bool profile_check(const struct profile *p, struct text *why)
{
	if (p->number_min > p->number_max) {
		text_printf(why, "number_min (%u) is above number_max (%u)",
		    (unsigned)p->number_min, (unsigned)p->number_max);
		return false;
	}
	return true;
}

int profile_channel_find(const struct profile *p, const char *s, size_t n)
{
	for (uint32_t i = 0; i < p->channels; i++) {
		const struct profile_channel *c = &p->channel[i];

		if (strlen(c->name) == n && equal_any_case(c->name, s, n))
			return (int)i;
		for (uint32_t k = 0; k < c->aliases; k++)
			if (strlen(c->alias[k]) == n && equal_any_case(c->alias[k], s, n))
				return (int)i;
	}
	return -1;
}

static bool within(const struct profile_range *v, uint32_t n, uint64_t value)
{
	for (uint32_t i = 0; i < n; i++)
		if (value >= v[i].low && value <= v[i].high)
			return true;
	return false;
}

bool profile_is_wait(const struct profile *p, uint64_t m)
{
	return within(p->wait, p->waits, m);
}

bool profile_is_resident(const struct profile *p, uint64_t o)
{
	return within(p->resident, p->residents, o);
}
