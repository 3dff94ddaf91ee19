/*
 * Goal: a path counts as idle only when an agent says so of exactly this path, in a word that means it;
 * everything else, silence and damage included, is no answer or not idle.
 *
 * Source: the values of Execution are those of ExecutionValueType in the public schema
 * MTConnectStreams_1.4.xsd of ANSI/MTC1.4-2018; what they mean, from the standard's text, from memory.
 * current.xml was written for this test and is valid by that schema (xmllint).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "execution.h"

static char *xml;
static size_t xml_size;
static struct execution x;
static char why[300];

static int load(void **state)
{
	FILE *f = fopen(TEST_SOURCE_DIR "/carrier/current.xml", "re");

	xml = calloc(1, 8192);
	assert_non_null(f);
	assert_non_null(xml);
	xml_size = fread(xml, 1, 8191, f);
	fclose(f);
	return 0;
}

static int unload(void **state)
{
	free(xml);
	return 0;
}

static bool ask(const char *device, const char *path)
{
	return execution_read(xml, xml_size, device, path, &x, why, sizeof why);
}

static void no_answer(const char *device, const char *path, const char *because)
{
	assert_false(ask(device, path));
	assert_false(x.idle);
	if (!strstr(why, because))
		fail_msg("expected '%s' in: %s", because, why);
}

/* The document with one word replaced by another of any length. */
static bool with(const char *was, const char *is, const char *path)
{
	char text[8192];
	char *at = strstr(xml, was);

	assert_non_null(at);
	snprintf(text, sizeof text, "%.*s%s%s", (int)(at - xml), xml, is, at + strlen(was));
	return execution_read(text, strlen(text), "LATHE1", path, &x, why, sizeof why);
}

static void two_paths(void **state)
{
	assert_true(ask("LATHE1", "upper"));
	assert_string_equal(x.value, "ACTIVE");
	assert_string_equal(x.program, "O4417");
	assert_false(x.idle);
	assert_true(ask("yoke-bench-1", "p2"));
	assert_string_equal(x.value, "READY");
	assert_string_equal(x.program, "");
	assert_true(x.idle);
}

static void every_value(void **state)
{
	static const struct {
		const char *value;
		bool answers, idle;
	} rows[] = {{"READY", true, true}, {"INTERRUPTED", true, false}, {"ACTIVE", true, false},
	    {"STOPPED", true, false}, {"FEED_HOLD", true, false}, {"PROGRAM_COMPLETED", true, true},
	    {"PROGRAM_STOPPED", true, false}, {"OPTIONAL_STOP", true, false},
	    {"UNAVAILABLE", false, false}, {" READY\n", true, true}, {"ready", true, false},
	    {"WAIT", true, false}, {"", false, false}};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		assert_int_equal(with("ACTIVE", rows[i].value, "upper"), rows[i].answers);
		assert_int_equal(x.idle, rows[i].idle);
	}
}

static void gaps(void **state)
{
	no_answer("LATHE2", "upper", "no device of this name");
	no_answer("", "upper", "several devices");
	no_answer("LATHE1", "middle", "no Path component of this name");
	no_answer("LATHE1", "d1", "no Path component of this name");
	no_answer("LATHE1", "", "no Path component of this name");
	no_answer("MILL", "upper", "does not hear the machine");
	assert_false(with("name=\"lower\"", "name=\"upper\"", "upper"));
	assert_non_null(strstr(why, "the path twice"));
	assert_false(with("Execution dataItemId=\"e2\" timestamp=\"2031-04-05T06:07:08Z\" "
	                  "sequence=\"83\">READY</Execution>",
	    "Program dataItemId=\"e2\" timestamp=\"2031-04-05T06:07:08Z\" "
	    "sequence=\"83\">O1</Program>",
	    "lower"));
	assert_non_null(strstr(why, "does not tell its Execution"));
	/* Told twice: the one that is not idle counts, whichever comes first. */
	assert_true(with("</Execution>", "</Execution><Execution sequence=\"1\">READY</Execution>",
	    "upper"));
	assert_false(x.idle);
	assert_true(with("READY</Execution>",
	    "READY</Execution><Execution sequence=\"1\">FEED_HOLD</Execution>", "lower"));
	assert_false(x.idle);
	assert_string_equal(x.value, "FEED_HOLD");
}

/* An agent's own error, another document, a cut-off one: none of them is an answer. */
static void no_documents(void **state)
{
	static const char error[] =
	    "<?xml version=\"1.0\"?><m:MTConnectError xmlns:m=\"urn:mtconnect.org:MTConnectError:1.4\">"
	    "<m:Errors><m:Error errorCode=\"NO_DEVICE\">No such device</m:Error></m:Errors>"
	    "</m:MTConnectError>";
	static const char *const none[] = {"", "READY", "<html><body>READY</body></html>", "<a>"};

	assert_false(execution_read(error, strlen(error), "", "upper", &x, why, sizeof why));
	assert_non_null(strstr(why, "No such device"));
	for (size_t i = 0; i < sizeof none / sizeof *none; i++)
		assert_false(execution_read(
		    none[i], strlen(none[i]), "", "upper", &x, why, sizeof why));
	for (size_t n = 0; n < xml_size - 1; n += 7)
		assert_false(execution_read(xml, n, "LATHE1", "lower", &x, why, sizeof why));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(two_paths),
	    cmocka_unit_test(every_value),
	    cmocka_unit_test(gaps),
	    cmocka_unit_test(no_documents),
	};

	return cmocka_run_group_tests(tests, load, unload);
}
