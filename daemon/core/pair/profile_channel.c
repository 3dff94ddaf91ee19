#include <string.h>
#include "profile_channel.h"
#include "profile_value.h"

/* Bounds that no machine comes near; they keep estimates of time finite. */
enum { RAPID_LIMIT = 1000000, TURN_LIMIT = 10000000, CHANGE_LIMIT = 3600, SPEED_LIMIT = 1000000 };
enum { OFFSET_DIGITS_LIMIT = 4 };

void profile_channel_add(struct profile *p, const char *name)
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
}

int profile_channel_find(const struct profile *p, const char *s, size_t n)
{
	for (uint32_t i = 0; i < p->channels; i++) {
		const struct profile_channel *c = &p->channel[i];

		if (strlen(c->name) == n && profile_value_same(c->name, s, n))
			return (int)i;
		for (uint32_t k = 0; k < c->aliases; k++)
			if (strlen(c->alias[k]) == n && profile_value_same(c->alias[k], s, n))
				return (int)i;
	}
	return -1;
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
	if (old >= 0 && profile_value_same(from->channel[old].name, name, strlen(name) + 1))
		to->channel[to->channels++] = from->channel[old];
	else
		profile_channel_add(to, name);
	return true;
}

bool profile_channel_names(struct profile *p, const char *value, struct text *why)
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

static bool set_aliases(
    const struct profile *p, struct profile_channel *c, const char *value, struct text *why)
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

static bool set_forbid(
    const struct profile *p, struct profile_channel *c, const char *value, struct text *why)
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

static bool set_diameter(
    const struct profile *p, struct profile_channel *c, const char *value, struct text *why)
{
	return profile_value_bool(value, &c->diameter, why);
}

static bool set_offset_digits(
    const struct profile *p, struct profile_channel *c, const char *value, struct text *why)
{
	uint64_t n;

	if (!profile_value_number(value, 0, OFFSET_DIGITS_LIMIT, &n, why))
		return false;
	c->offset_digits = (uint32_t)n;
	return true;
}

#define SET_DECIMAL(name, low, high)                                                               \
	static bool set_##name(const struct profile *p, struct profile_channel *c,                 \
	    const char *value, struct text *why)                                                   \
	{                                                                                          \
		return profile_value_decimal(value, low, high, &c->name, why);                     \
	}

SET_DECIMAL(rapid, 1, RAPID_LIMIT)
SET_DECIMAL(rapid_turn, 1, TURN_LIMIT)
SET_DECIMAL(tool_change, 0, CHANGE_LIMIT)
SET_DECIMAL(speed_max, 1, SPEED_LIMIT)

static const struct key {
	const char *key;
	bool (*set)(const struct profile *p, struct profile_channel *c, const char *value,
	    struct text *why);
} keys[] = {
    {"aliases", set_aliases},
    {"forbid", set_forbid},
    {"diameter", set_diameter},
    {"offset_digits", set_offset_digits},
    {"rapid", set_rapid},
    {"rapid_turn", set_rapid_turn},
    {"tool_change", set_tool_change},
    {"speed_max", set_speed_max},
};

static struct profile_channel *named(struct profile *p, const char *name)
{
	for (uint32_t i = 0; i < p->channels; i++)
		if (strlen(name) == strlen(p->channel[i].name) &&
		    profile_value_same(p->channel[i].name, name, strlen(name)))
			return &p->channel[i];
	return NULL;
}

enum profile_result profile_channel_set(
    struct profile *p, const char *name, const char *key, const char *value, struct text *why)
{
	struct profile_channel *c = named(p, name);
	const struct key *k = NULL;

	for (size_t i = 0; i < sizeof(keys) / sizeof(*keys) && !k; i++)
		if (strcmp(keys[i].key, key) == 0)
			k = &keys[i];
	if (!k)
		return PROFILE_UNKNOWN;
	if (!c) {
		text_puts(why, "no such channel; the channels are");
		for (uint32_t i = 0; i < p->channels; i++)
			text_printf(why, "%s %s", i ? "," : "", p->channel[i].name);
		text_puts(
		    why, " (channels = ... in [programs], before this section, names others)");
		return PROFILE_BAD;
	}
	return k->set(p, c, value, why) ? PROFILE_OK : PROFILE_BAD;
}
