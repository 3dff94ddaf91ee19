/*
 * Goal: no pattern, no file name, no comment and no setting trips what reads them; what a
 * placeholder stands for lies inside the text; a setting that is refused changes nothing; whatever
 * is refused says why in one line.
 */
#include <stdlib.h>
#include <string.h>
#include "input.h"
#include "pattern.h"
#include "yoke/profile.h"

static void check_match(const struct pattern_match *m, bool matched, const char *text, size_t n)
{
	for (int i = 0; i < PATTERN_FIELDS; i++) {
		const struct pattern_value *v = &m->field[i];

		must(matched || v->s == NULL);
		must(!v->s || (v->n > 0 && v->s >= text && v->s + v->n <= text + n));
	}
}

static void check_why(bool good, struct text *why)
{
	must(!why->failed);
	must(good == (why->n == 0));
	must(!why->s || !strchr(why->s, '\n'));
	if (why->s)
		must_be_plain(why->s, why->n);
	text_free(why);
}

static void name(struct input *in)
{
	char *pattern = input_string(in), *path = input_string(in);
	struct text why = {0};
	bool good = pattern_check_name(pattern, &why);
	struct pattern_match m;
	bool matched = pattern_name(pattern, path, &m);

	check_why(good, &why);
	check_match(&m, matched, path, strlen(path));
	free(pattern);
	free(path);
}

static void header(struct input *in)
{
	char *pattern = input_string(in);
	struct text why = {0};
	bool good = pattern_check_header(pattern, &why);
	struct pattern_match m;
	bool matched = pattern_header(pattern, (const char *)in->at, in->left, &m);

	check_why(good, &why);
	check_match(&m, matched, (const char *)in->at, in->left);
	free(pattern);
}

static void settings(struct input *in)
{
	static struct profile p, before;
	struct text why = {0};

	profile_defaults(&p);
	while (in->left > 0) {
		char *section = input_string(in), *key = input_string(in),
		     *value = input_string(in);
		enum profile_result r;

		before = p;
		r = profile_set(&p, section, key, value, &why);
		check_why(r != PROFILE_BAD, &why);
		must(r == PROFILE_OK || memcmp(&p, &before, sizeof(p)) == 0);
		must(p.channels >= 2 && p.channels <= YOKE_CHANNELS_MAX &&
		     p.waits <= PROFILE_RANGES_MAX);
		free(section);
		free(key);
		free(value);
	}
	bool fits = profile_check(&p, &why);

	check_why(fits, &why);
	for (uint32_t i = 0; i < p.channels; i++)
		must(profile_channel_find(&p, p.channel[i].name, strlen(p.channel[i].name)) >= 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size};

	switch (input_byte(&in) % 3) {
	case 0:
		name(&in);
		break;
	case 1:
		header(&in);
		break;
	case 2:
		settings(&in);
		break;
	}
	return 0;
}
