#include <string.h>
#include "yoke/profile.h"
#include "pattern.h"
#include "profile_channel.h"
#include "profile_code.h"
#include "profile_value.h"
#include "profile_wait.h"
#include "separator.h"

struct key {
	const char *section, *key;
	/* Set p from a value; on false one line was added to why and p is as it was. */
	bool (*set)(struct profile *p, const char *value, struct text *why);
};

/* Bounds that no machine comes near; they keep sums and memory in reach. */
enum { BLOCK_LIMIT = 65536, DEPTH_LIMIT = 64 };
#define RUN_LIMIT 10000000000ull

static void add_channel(struct profile *p, const char *name, const char *const *alias)
{
	struct profile_channel *c = &p->channel[p->channels];

	profile_channel_add(p, name);
	for (; *alias; alias++)
		strcpy(c->alias[c->aliases++], *alias);
}

/* What says that a channel waits for ever in a run that nothing can prevent. */
static const enum finding_id certain[] = {FINDING_WAIT_MISSING, FINDING_WAIT_DOUBLED,
    FINDING_WAIT_SWAPPED, FINDING_WAIT_DIFFERS, FINDING_WAIT_SKIPPED, FINDING_WAIT_REPEATS,
    FINDING_WAIT_PARTNERS, FINDING_WAIT_AFTER_END, FINDING_LOOP_ENDLESS};

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
	for (size_t i = 0; i < sizeof(certain) / sizeof(*certain); i++)
		p->absolute[certain[i]] = true;
}

static bool set_pattern(char *to, size_t size, bool (*check)(const char *, struct text *),
    const char *value, struct text *why)
{
	if (!check(value, why))
		return false;
	/* A pattern that its check takes is at least one byte shorter than its field. */
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

/* None by an empty value. */
static bool set_separator(struct profile *p, const char *value, struct text *why)
{
	if (!*value) {
		p->separator[0] = '\0';
		return true;
	}
	return set_pattern(p->separator, sizeof(p->separator), separator_check, value, why);
}

static bool set_number_from_job(struct profile *p, const char *value, struct text *why)
{
	return profile_value_bool(value, &p->number_from_job, why);
}

/* Programs of the control that other programs may call; none by an empty list. */
static bool set_resident(struct profile *p, const char *value, struct text *why)
{
	struct profile_range range[PROFILE_RANGES_MAX], r;
	uint32_t n = 0;
	int got;

	while ((got = profile_value_range(&value, 'O', PROFILE_VALUE_CODE_MAX, &r, why)) > 0) {
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

SET_NUMBER(number_min, number_min, 0, PROFILE_VALUE_CODE_MAX)
SET_NUMBER(number_max, number_max, 1, PROFILE_VALUE_CODE_MAX)
SET_BOOL(number_colon, colon_number)
SET_BOOL(end_m99, end_m99)
SET_BOOL(point, point_required)
SET_BOOL(lower_case, lower_case)
SET_NUMBER(block_max, block_max, 1, BLOCK_LIMIT)
SET_NUMBER(sequence_max, sequence_max, 1, PROFILE_VALUE_CODE_MAX)
SET_NUMBER(call_depth, call_depth, 1, DEPTH_LIMIT)
SET_NUMBER(run_max, run_max, 1, RUN_LIMIT)

static bool set_fix(struct profile *p, const char *value, struct text *why)
{
	static const char *const words[] = {"unknown", "zero", "down"};
	uint32_t which;

	if (!profile_value_word_of(value, words, 3, &which, why))
		return false;
	p->fix = (enum profile_fix)which;
	return true;
}

static bool set_logic(struct profile *p, const char *value, struct text *why)
{
	static const char *const words[] = {"unknown", "sum", "product", "last"};
	uint32_t which;

	if (!profile_value_word_of(value, words, 4, &which, why))
		return false;
	p->logic = (enum profile_logic)which;
	return true;
}

static bool set_truth(struct profile *p, const char *value, struct text *why)
{
	static const char *const words[] = {"unknown", "whole", "bits"};
	uint32_t which;

	if (!profile_value_word_of(value, words, 3, &which, why))
		return false;
	p->truth = (enum profile_truth)which;
	return true;
}

/* From a tenth of a micrometre to whole millimetres. */
static bool set_increment(struct profile *p, const char *value, struct text *why)
{
	return profile_value_decimal(value, 0.0001, 1, &p->increment, why);
}

static bool set_two_person(struct profile *p, const char *value, struct text *why)
{
	return profile_value_bool(value, &p->two_person, why);
}

/* More rules that are absolute. What is so already stays: a machine's file adds to the shop's. */
static bool set_absolute(struct profile *p, const char *value, struct text *why)
{
	bool more[FINDING_COUNT] = {false};
	char word[YOKE_NAME_MAX + 1];
	int got;

	while ((got = profile_value_name(&value, word, why)) > 0) {
		enum finding_id id = finding_by_name(word);

		if (id == FINDING_COUNT) {
			text_printf(why, "there is no rule '%s': `yoke explain` lists them", word);
			return false;
		}
		more[id] = true;
	}
	if (got < 0)
		return false;
	for (int id = 0; id < FINDING_COUNT; id++)
		p->absolute[id] = p->absolute[id] || more[id];
	return true;
}

static bool set_size_max(struct profile *p, const char *value, struct text *why)
{
	return profile_value_size(value, 1, YOKE_PROGRAM_MAX, &p->size_max, why);
}

static const struct key keys[] = {
    {"programs", "names", set_names},
    {"programs", "header", set_header},
    {"programs", "number_from_job", set_number_from_job},
    {"programs", "channels", profile_channel_names},
    {"programs", "resident", set_resident},
    {"programs", "separator", set_separator},
    {"wait", "codes", profile_wait_codes},
    {"wait", "partners", profile_wait_partners},
    {"wait", "call", profile_wait_call},
    {"wait", "send", profile_wait_send},
    {"wait", "receive", profile_wait_receive},
    {"wait", "alone", profile_wait_alone},
    {"wait", "skip", profile_wait_skip},
    {"values", "fix", set_fix},
    {"values", "logic", set_logic},
    {"values", "truth", set_truth},
    {"values", "increment", set_increment},
    {"release", "two_person", set_two_person},
    {"release", "absolute", set_absolute},
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

static enum profile_result set_any(
    struct profile *p, const char *section, const char *key, const char *value, struct text *why)
{
	if (strcmp(section, "weights") == 0)
		return set_weight(p, key, value, why);
	if (strcmp(section, "codes") == 0)
		return profile_code_set(p, key, value, why);
	if (strncmp(section, "channel ", 8) == 0)
		return profile_channel_set(
		    p, section + 8 + strspn(section + 8, " "), key, value, why);
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
		text_visible(why, key, strnlen(key, 60));
		text_puts(why, " = ");
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
	for (int id = 0; id < FINDING_COUNT; id++)
		if (p->absolute[id] && p->weight[id] < WEIGHT_REFUSE) {
			text_printf(why,
			    "%s is absolute and cannot weigh %s: such a rule always refuses, whatever "
			    "the machine",
			    finding_name((enum finding_id)id), finding_weight_name(p->weight[id]));
			return false;
		}
	return profile_wait_fit(p, why);
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
