/*
 * Goal: what `yoke check --format sarif` writes has the fields that SARIF 2.1.0 (OASIS) requires,
 * with the meaning that it gives them. Clause numbers are from memory; sarif.sh validates the same
 * output against the published schema.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "report_sarif.h"

static struct profile profile;
static struct report_json_program loaded[2];
static struct pair_report *report;
static json_t *whole;

static struct program *read_program(const char *file, const char *text)
{
	struct program *p = program_new(&profile, file);

	assert_non_null(p);
	assert_int_equal(program_feed(p, text, strlen(text)), 0);
	assert_int_equal(program_finish(p), 0);
	return p;
}

/* Check two texts under the profile and keep what is written of them. */
static void check(
    const char *upper_file, const char *upper, const char *lower_file, const char *lower)
{
	struct program *p[2] = {read_program(upper_file, upper), read_program(lower_file, lower)};

	for (int i = 0; i < 2; i++) {
		loaded[i].file = i ? lower_file : upper_file;
		loaded[i].program = p[i];
		memset(loaded[i].sum, 0xA0 + i, sizeof(loaded[i].sum));
	}
	report = pair_check(&profile, p, 2);
	assert_non_null(report);
	whole = report_sarif_pair(&profile, report, loaded, 2);
	assert_non_null(whole);
}

static int setup(void **state)
{
	profile_defaults(&profile);
	return 0;
}

static int teardown(void **state)
{
	json_decref(whole);
	pair_report_free(report);
	for (int i = 0; i < 2; i++)
		program_free((struct program *)loaded[i].program);
	return 0;
}

static json_t *get(json_t *o, const char *key)
{
	json_t *v = json_object_get(o, key);

	if (!v)
		fail_msg("no '%s'", key);
	return v;
}

static const char *word(json_t *o, const char *key)
{
	json_t *v = get(o, key);

	assert_true(json_is_string(v));
	return json_string_value(v);
}

static json_t *run_of(void)
{
	return json_array_get(get(whole, "runs"), 0);
}

/* The first result of a rule. */
static json_t *result_of(const char *rule)
{
	json_t *r;
	size_t i;

	json_array_foreach(
	    get(run_of(), "results"), i, r) if (strcmp(word(r, "ruleId"), rule) == 0) return r;
	fail_msg("no result of %s", rule);
	return NULL;
}

#define UPPER "%\nO4417(JOB J4417 REV C UPPER)\nG0X1.\nM201\nM30\n%\n"
#define LOWER "%\nO4417(JOB J4417 REV C LOWER)\nG0X1\n\xB0\nM202\nM30\n%\n"

static void log_and_run(void **state)
{
	json_t *run;

	check("J4417-C.upper.nc", UPPER, "J4417-C.lower.nc", LOWER);
	assert_string_equal(word(whole, "version"), "2.1.0");          /* 3.13.2 */
	assert_non_null(strstr(word(whole, "$schema"), "2.1.0.json")); /* 3.13.3 */
	assert_int_equal(json_array_size(get(whole, "runs")), 1);      /* 3.13.4 */
	run = run_of();
	assert_string_equal(word(get(get(run, "tool"), "driver"), "name"), "Yoke"); /* 3.19.8 */
	assert_string_equal(word(get(get(run, "tool"), "driver"), "version"), YOKE_VERSION);
	assert_string_equal(word(run, "columnKind"), "utf16CodeUnits"); /* 3.14.17 */
	assert_string_equal(word(run, "defaultEncoding"), "ISO-8859-1");
	/* 3.20.14: required of an invocation */
	assert_true(
	    json_is_true(get(json_array_get(get(run, "invocations"), 0), "executionSuccessful")));
	assert_string_equal(word(get(run, "properties"), "verdict"), "disagree"); /* 3.8 */
	assert_true(json_is_false(get(get(run, "properties"), "mayRelease")));
	assert_string_equal(word(get(run, "properties"), "job"), "J4417");
	assert_non_null(strstr(word(get(run, "properties"), "caution"), "does not prove"));
}

/* Every finding that there is, once, in the order that ruleIndex counts in (3.19.23, 3.49). */
static void rules(void **state)
{
	json_t *list, *rule;
	size_t i;

	check("J4417-C.upper.nc", UPPER, "J4417-C.lower.nc", LOWER);
	list = get(get(get(run_of(), "tool"), "driver"), "rules");
	assert_int_equal(json_array_size(list), FINDING_COUNT);
	json_array_foreach(list, i, rule)
	{
		const char *level = word(get(rule, "defaultConfiguration"), "level");
		const char *brief = word(get(rule, "shortDescription"), "text");

		assert_string_equal(word(rule, "id"), finding_name((enum finding_id)i));
		assert_true(strlen(word(rule, "name")) > 2 && !strchr(word(rule, "name"), '-'));
		assert_true(brief[strlen(brief) - 1] == '.');
		assert_int_equal(
		    strncmp(word(get(rule, "fullDescription"), "text"), brief, strlen(brief)), 0);
		assert_true(strcmp(level, "error") == 0 || strcmp(level, "warning") == 0 ||
		            strcmp(level, "note") == 0); /* 3.50.3 */
	}
}

static void results(void **state)
{
	json_t *list, *r;
	size_t i;

	check("J4417-C.upper.nc", UPPER, "J4417-C.lower.nc", LOWER);
	list = get(run_of(), "results"); /* 3.14.23: also when there are none */
	assert_int_equal(json_array_size(list), pair_findings(report)->n);
	json_array_foreach(list, i, r)
	{
		const struct finding *f = &pair_findings(report)->v[i];

		assert_string_equal(word(r, "ruleId"), finding_name(f->id));           /* 3.27.5 */
		assert_int_equal(json_integer_value(get(r, "ruleIndex")), (int)f->id); /* 3.27.6 */
		assert_int_equal(
		    strncmp(word(get(r, "message"), "text"), f->text, strlen(f->text)), 0);
	}
	assert_string_equal(word(result_of("character"), "level"), "error"); /* 3.27.10 */
	assert_string_equal(word(result_of("point-missing"), "level"), "warning");
	assert_string_equal(
	    word(get(result_of("point-missing"), "properties"), "channel"), "lower");
}

/* 3.28, 3.29, 3.30: from 1, and absent where a finding is about the file or the line as a whole. */
static void places(void **state)
{
	json_t *place, *related;

	check("J4417-C.upper.nc", UPPER, "J4417-C.lower.nc", LOWER);
	place = get(
	    json_array_get(get(result_of("point-missing"), "locations"), 0), "physicalLocation");
	assert_string_equal(word(get(place, "artifactLocation"), "uri"), "J4417-C.lower.nc");
	assert_int_equal(json_integer_value(get(get(place, "region"), "startLine")), 3);
	assert_int_equal(json_integer_value(get(get(place, "region"), "startColumn")), 3);
	related = json_array_get(get(result_of("wait-differs"), "relatedLocations"), 0);
	assert_int_equal(json_integer_value(get(related, "id")), 0); /* 3.28.2 */
	place = get(related, "physicalLocation");
	assert_non_null(strstr(word(get(place, "artifactLocation"), "uri"), "J4417-C."));
	assert_true(json_integer_value(get(get(place, "region"), "startLine")) > 3);
	assert_int_equal(json_array_size(get(result_of("point-missing"), "relatedLocations")), 0);
}

/* 3.4.3: a URI reference after RFC 3986, whatever bytes a name is made of. */
static void names_as_uris(void **state)
{
	static const char upper[] = "/srv/a b/50%/\xC4#?:J4417-C.upper.nc";
	json_t *artifacts;

	check(upper, UPPER, "C:\\J4417-C.lower.nc", LOWER);
	artifacts = get(run_of(), "artifacts"); /* 3.14.15 */
	assert_int_equal(json_array_size(artifacts), 2);
	assert_string_equal(word(get(json_array_get(artifacts, 0), "location"), "uri"),
	    "file:///srv/a%20b/50%25/%C4%23%3F%3AJ4417-C.upper.nc");
	assert_string_equal(
	    word(get(json_array_get(artifacts, 1), "location"), "uri"), "C%3A%5CJ4417-C.lower.nc");
	assert_string_equal(word(get(json_array_get(artifacts, 1), "hashes"), "sha-256"),
	    "a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1");
}

/* A file that holds both channels is one artifact. */
static void one_artifact(void **state)
{
	check("J4417-C.upper.nc", UPPER, "J4417-C.upper.nc", UPPER);
	assert_int_equal(json_array_size(get(run_of(), "artifacts")), 1);
}

/* 3.11.5: braces are doubled, as they mark places for arguments. */
static void braces(void **state)
{
	check("x", "%\nM30\n%\n", "y", "%\nM30\n%\n");
	assert_non_null(strstr(word(get(result_of("job-unknown"), "message"), "text"),
	    "({{job}}-{{rev}}.{{channel}}.nc)"));
}

/* 3.20.5, 3.51: what the profile weighs otherwise than the rule says. */
static void overrides(void **state)
{
	json_t *list, *o;
	struct text why = {0};

	profile_set(&profile, "weights", "wait-differs", "note", &why);
	profile_set(&profile, "weights", "character", "off", &why);
	check("J4417-C.upper.nc", UPPER, "J4417-C.lower.nc", LOWER);
	assert_string_equal(word(result_of("wait-differs"), "level"), "note");
	list = get(json_array_get(get(run_of(), "invocations"), 0), "ruleConfigurationOverrides");
	assert_int_equal(json_array_size(list), 2);
	o = json_array_get(list, 0);
	assert_string_equal(word(get(o, "descriptor"), "id"), "character");
	assert_int_equal(json_integer_value(get(get(o, "descriptor"), "index")), FINDING_CHARACTER);
	assert_true(json_is_false(get(get(o, "configuration"), "enabled")));
	assert_string_equal(word(get(o, "configuration"), "level"), "none");
	assert_string_equal(word(get(json_array_get(list, 1), "configuration"), "level"), "note");
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(log_and_run),
	    TEST(rules),
	    TEST(results),
	    TEST(places),
	    TEST(names_as_uris),
	    TEST(one_artifact),
	    TEST(braces),
	    TEST(overrides),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
