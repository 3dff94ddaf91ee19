/*
 * Goal: the command itself, run on real files: its exit statuses, its messages for what cannot be
 * read, its JSON, and that neither a closed pipe nor a full disk makes it fall or lie.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include "scratch.h"

static char output[1 << 18];

#define UPPER(rev, body) "%\nO4417\n(JOB J4417 REV " rev " UPPER)\n" body "M30\n%\n"
#define LOWER(rev, body) "%\nO4417\n(JOB J4417 REV " rev " LOWER)\n" body "M30\n%\n"

/* Run a shell line in the scratch folder with $Y as the command; both streams go to output. */
static int run(void **state, const char *line)
{
	char command[4096];
	FILE *p;
	size_t n;
	int status;

	snprintf(command, sizeof(command),
	    "cd '%s' && Y='%s/cli/yoke' && export LC_ALL=C && { %s; } 2>&1", (char *)*state,
	    BUILD_DIR, line);
	p = popen(command, "r");
	assert_non_null(p);
	n = fread(output, 1, sizeof(output) - 1, p);
	output[n] = '\0';
	status = pclose(p);
	assert_true(WIFEXITED(status));
	return WEXITSTATUS(status);
}

static void expect(void **state, const char *line, int status, const char *said)
{
	int got = run(state, line);

	if (got != status || !strstr(output, said))
		fail_msg("%s: status %d, expected %d with '%s'; it said:\n%s", line, got, status,
		    said, output);
}

static json_t *parse(void **state, const char *line, int status)
{
	json_error_t error;
	json_t *o;

	expect(state, line, status, "");
	o = json_loads(output, 0, &error);
	if (!o)
		fail_msg("%s: no JSON: %s\n%s", line, error.text, output);
	return o;
}

static int setup(void **state)
{
	if (scratch_setup(state) < 0)
		return -1;
	scratch_file(state, "J4417-C.upper.nc", UPPER("C", "G0 X62.\nM201\nG1 Z-1. F0.2\nM202\n"));
	scratch_file(state, "J4417-C.lower.nc", LOWER("C", "G0 X10.\nM201\nM202\n"));
	mkdir(scratch_path(state, "bad"), 0755);
	scratch_file(state, "bad/J4417-C.lower.nc", LOWER("C", "G0 X10.\nM201\nM203\n"));
	scratch_file(state, "bad/J4417-D.lower.nc", LOWER("D", "G0 X10.\nM201\nM202\n"));
	mkdir(scratch_path(state, "loop"), 0755);
	scratch_file(
	    state, "loop/J4417-C.upper.nc", UPPER("C", "N5 M201\nM202\nIF [#1 GT 0] GOTO 5\n"));
	return 0;
}

static void test_check(void **state)
{
	expect(state, "$Y check J4417-C.upper.nc J4417-C.lower.nc", 0, "agree");
	assert_non_null(strstr(output, "does not prove that tools cannot meet"));
	expect(state, "$Y check J4417-C.lower.nc J4417-C.upper.nc", 0, "agree");
	expect(state, "$Y check J4417-C.upper.nc bad/J4417-C.lower.nc", 1, ": refuse: ");
	assert_non_null(strstr(output, "[wait-"));
	assert_non_null(strstr(output, "M203"));
	expect(state, "$Y check J4417-C.upper.nc bad/J4417-D.lower.nc", 1, "[revision-differs]");
	expect(state, "$Y check loop/J4417-C.upper.nc J4417-C.lower.nc", 3, "cannot tell");
}

static void test_same_file(void **state)
{
	expect(state, "$Y check J4417-C.upper.nc J4417-C.upper.nc", 1, "[channel-differs]");
}

static void test_wrong_use(void **state)
{
	expect(state, "$Y", 2, "On files, without the service:");
	expect(state, "$Y check", 2, "0 files given");
	expect(state, "$Y check J4417-C.upper.nc", 2, "1 file given; 2 are needed");
	expect(state, "$Y check a b c", 2, "3 files given");
	expect(state, "$Y chekc a b", 2, "did you mean 'check'?");
	expect(state, "$Y frobnicate", 2, "'yoke help' lists the verbs");
	expect(state, "$Y check a b --jsn", 2, "did you mean '--json'?");
	expect(state, "$Y ladder a b --width 10", 2, "from 60 to 500");
	expect(state, "$Y change a", 2, "two are needed");
	expect(state, "$Y explain wait-mising", 2, "did you mean 'wait-missing'?");
	expect(state, "$Y help lader", 2, "did you mean 'ladder'?");
	expect(state, "$Y \"$(printf '\\033[31m')\"", 2, "<1B>[31m");
}

static void test_unreadable(void **state)
{
	expect(state, "$Y check none.nc J4417-C.lower.nc", 2, "none.nc: No such file or directory");
	expect(state, "$Y check . J4417-C.lower.nc", 2, ".: is a directory, not a program");
	expect(state, "$Y check /dev/zero J4417-C.lower.nc", 2, "/dev/zero: is a device");
	expect(state, "mkfifo pipe; $Y check pipe J4417-C.lower.nc", 1, "[empty]");
	expect(state, "ln -s loop.nc loop.nc; $Y check loop.nc J4417-C.lower.nc", 2,
	    "Too many levels");
	expect(state, "truncate -s 1073741825 huge; $Y check huge J4417-C.lower.nc", 2,
	    "larger than 1 GiB");
	expect(state, "$Y change none J4417-C.lower.nc", 2, "none: No such file");
	expect(state, "$Y ladder none none", 2, "none: No such file");
	expect(state, "$Y check J4417-C.upper.nc J4417-C.lower.nc --machine none.conf", 2,
	    "none.conf: error:");
}

static void test_pipes(void **state)
{
	expect(state, "bash -c \"$Y check J4417-C.upper.nc <(cat J4417-C.lower.nc)\"", 0, "agree");
	expect(state, "$Y explain | head -1", 0, "mate-missing");
	expect(state, "bash -c \"set -o pipefail; $Y explain | true\"", 0, "");
	assert_string_equal(output, "");
	expect(state, "$Y explain > /dev/full", 2, "could not be written: No space left");
	expect(state, "$Y check J4417-C.upper.nc J4417-C.lower.nc --json > /dev/full", 2,
	    "could not be written");
	expect(state, "$Y help >&-", 2, "could not be written");
}

static void test_machine(void **state)
{
	scratch_file(state, "LATHE-1.conf",
	    "[wait]\ncodes = M203-M210\n[weights]\npercent-missing = refuse\n");
	expect(state, "$Y check J4417-C.upper.nc bad/J4417-C.lower.nc --machine LATHE-1.conf", 1,
	    "M203");
	scratch_file(state, "LATHE-2.conf", "[wait]\ncodes = M300\n");
	expect(state, "$Y check J4417-C.upper.nc bad/J4417-C.lower.nc --machine=LATHE-2.conf", 0,
	    "agree");
	scratch_file(state, "LATHE-3.conf", "[wait]\ncods = M300\n[wiat]\nx = 1\n");
	expect(state, "$Y check J4417-C.upper.nc J4417-C.lower.nc --machine LATHE-3.conf", 2,
	    "LATHE-3.conf:2: error: unknown key 'cods'");
	assert_non_null(strstr(output, "LATHE-3.conf:4: error:"));
	scratch_file(state, "LATHE-4.conf", "[programs]\nchannels = upper, lower, third\n");
	scratch_file(
	    state, "J4417-C.third.nc", "%\nO4417\n(JOB J4417 REV C THIRD)\nM201\nM202\nM30\n%\n");
	expect(state,
	    "$Y check J4417-C.upper.nc J4417-C.lower.nc J4417-C.third.nc --machine LATHE-4.conf", 0,
	    "agree");
	expect(state, "$Y check J4417-C.upper.nc J4417-C.lower.nc --machine LATHE-4.conf", 1,
	    "[mate-missing]");
}

/* One file that holds both channels, as the machine's file says. */
static void test_one_file(void **state)
{
	scratch_file(state, "ONE.conf",
	    "[programs]\nnames = {job}-{rev}.nc\nheader = (JOB {job} REV {rev})\n"
	    "separator = $ {channel}\n");
	scratch_file(state, "J4417-C.nc",
	    "%\nO4417(JOB J4417 REV C)\n$1\nM201\nM202\nM30\n$2\nM201\nG1 X1.\nM202\nM30\n%\n");
	scratch_file(state, "J4418-C.nc",
	    "%\nO4418(JOB J4418 REV C)\n$1\nM201\nM202\nM30\n$2\nM201\nM30\n%\n");
	expect(state, "$Y check J4417-C.nc --machine ONE.conf", 0, "agree");
	expect(state, "$Y ladder J4417-C.nc --machine ONE.conf", 0, "J4417 revision C");
	expect(state, "$Y check J4418-C.nc --machine ONE.conf", 1,
	    "upper M202 (line 5), lower has ended");
	expect(state, "$Y check J4417-C.nc", 2, "whose [programs] has a separator");
	expect(state, "$Y check J4417-C.upper.nc --machine ONE.conf", 2,
	    "no block gives what follows to a channel (separator = $ {channel})");
	expect(state, "$Y check none.nc --machine ONE.conf", 2, "none.nc: No such file");
	expect(state,
	    "sed 's/^.2/$5/' J4417-C.nc > J4419-C.nc; $Y check J4419-C.nc --machine ONE.conf", 1,
	    "[part-unknown]");
	assert_non_null(strstr(output, "[mate-missing]"));
	json_decref(parse(state, "$Y check J4417-C.nc --machine ONE.conf --json", 0));
}

/* Files of subprograms that the programs call. */
static void test_with(void **state)
{
	scratch_file(state, "calls.nc", UPPER("C", "M98 P8000\nM98 P8001\n"));
	scratch_file(state, "subs-a.nc", "%\nO8000\nM201\nM99\n%\n");
	scratch_file(state, "subs-b.nc", "%\nO8001\nM202\nM99\n%\n");
	expect(state, "$Y check calls.nc J4417-C.lower.nc --with subs-a.nc --with=subs-b.nc", 0,
	    "agree");
	expect(state, "$Y check calls.nc J4417-C.lower.nc --with subs-a.nc", 1, "[sub-missing]");
	expect(state, "$Y ladder calls.nc J4417-C.lower.nc --with subs-a.nc --with subs-b.nc", 0,
	    "M202");
	expect(
	    state, "$Y check calls.nc J4417-C.lower.nc --with none.nc", 2, "none.nc: No such file");
	expect(state,
	    "$Y check calls.nc J4417-C.lower.nc $(for i in $(seq 17); do echo --with subs-a.nc; "
	    "done)",
	    2, "option '--with' stands more than 16 times");
}

static void test_check_json(void **state)
{
	json_t *o = parse(state, "$Y check J4417-C.upper.nc bad/J4417-C.lower.nc --json", 1);
	const char *verdict, *sum, *file;
	json_int_t refuse, line;
	json_t *programs, *findings;
	int release, found = 0;

	assert_int_equal(json_unpack(o, "{s:s, s:b, s:{s:I}, s:o, s:o, s:s}", "verdict", &verdict,
	                     "may_release", &release, "counts", "refuse", &refuse, "programs",
	                     &programs, "findings", &findings, "caution", &file),
	    0);
	assert_string_equal(verdict, "disagree");
	assert_false(release);
	assert_true(refuse >= 1);
	assert_int_equal(json_array_size(programs), 2);
	assert_int_equal(json_unpack(json_array_get(programs, 0), "{s:s}", "sha256", &sum), 0);
	for (size_t i = 0; i < json_array_size(findings); i++) {
		const char *name;

		assert_int_equal(json_unpack(json_array_get(findings, i), "{s:s, s:s, s:I}", "name",
		                     &name, "file", &file, "line", &line),
		    0);
		found |= strncmp(name, "wait-", 5) == 0 && line > 0;
	}
	assert_true(found);
	expect(state, "sha256sum < J4417-C.upper.nc", 0, sum);
	json_decref(o);
	o = parse(state, "$Y check J4417-C.upper.nc J4417-C.lower.nc --json", 0);
	assert_true(json_is_true(json_object_get(o, "may_release")));
	json_decref(o);
}

/* Three formats; what each field means is tested with the writer. */
static void test_check_format(void **state)
{
	const char *pair = "$Y check J4417-C.upper.nc bad/J4417-C.lower.nc";
	char line[200];
	json_t *o;

	snprintf(line, sizeof(line), "%s --format sarif", pair);
	o = parse(state, line, 1);
	assert_string_equal(json_string_value(json_object_get(o, "version")), "2.1.0");
	json_decref(o);
	snprintf(line, sizeof(line), "%s --format=json", pair);
	o = parse(state, line, 1);
	assert_string_equal(json_string_value(json_object_get(o, "verdict")), "disagree");
	json_decref(o);
	snprintf(line, sizeof(line), "%s --json --format json", pair);
	json_decref(parse(state, line, 1));
	snprintf(line, sizeof(line), "%s --format text", pair);
	expect(state, line, 1, "bad/J4417-C.lower.nc:6:1: refuse: ");
	snprintf(line, sizeof(line), "%s --format xml", pair);
	expect(state, line, 2, "check: --format 'xml': text, json or sarif is allowed");
	snprintf(line, sizeof(line), "%s --format sarif --json", pair);
	expect(state, line, 2, "give one");
}

/* Names and contents that are not UTF-8 are still valid JSON. */
static void test_json_bytes(void **state)
{
	json_t *o;

	expect(state, "cp J4417-C.upper.nc \"$(printf 'J4417-C.upper.\\377\\001')\"", 0, "");
	scratch_bytes(state, "J4417-C.lower.raw", "%\nO1 (\xff\x1b)\nX\xfe\n\0G1\n", 17);
	o = parse(
	    state, "$Y check \"$(printf 'J4417-C.upper.\\377\\001')\" J4417-C.lower.raw --json", 1);
	json_decref(o);
	o = parse(state,
	    "$Y change \"$(printf 'J4417-C.upper.\\377\\001')\" J4417-C.lower.raw --json", 1);
	json_decref(o);
}

static void test_ladder(void **state)
{
	json_t *o;

	expect(state, "$Y ladder J4417-C.upper.nc J4417-C.lower.nc", 0, "M202");
	for (const char *s = output; *s; s++)
		assert_true((unsigned char)*s < 0x80);
	expect(state, "$Y ladder J4417-C.upper.nc J4417-C.lower.nc --times", 0, "saves");
	expect(state, "LC_ALL=C.UTF-8 $Y ladder J4417-C.upper.nc bad/J4417-C.lower.nc", 1, "\xe2");
	expect(state,
	    "LC_ALL=C.UTF-8 $Y ladder J4417-C.upper.nc bad/J4417-C.lower.nc --ascii --width 60", 1,
	    "M203");
	for (const char *s = output; *s; s++)
		assert_true((unsigned char)*s < 0x80);
	for (char *s = strtok(output, "\n"); s; s = strtok(NULL, "\n"))
		assert_true(strlen(s) <= 60);
	o = parse(state, "$Y ladder J4417-C.upper.nc bad/J4417-C.lower.nc --json", 1);
	assert_string_equal(json_string_value(json_object_get(o, "verdict")), "disagree");
	assert_true(json_array_size(json_object_get(o, "ladder")) > 5);
	assert_string_equal(
	    json_string_value(json_object_get(o, "times_up_to")), "where channels stand for ever");
	json_decref(o);
}

static void test_explain(void **state)
{
	json_t *o;

	expect(state, "$Y explain wait-missing", 0, "wait-missing (refuse)");
	expect(state, "$Y explain wait-missing", 0, "It is absolute: no profile can give it less weight");
	expect(state, "$Y explain number-clash | grep -c absolute || true", 0, "0");
	expect(state, "COLUMNS=40 $Y explain wait-missing cut-off", 0, "cut-off (refuse)");
	for (char *s = strtok(output, "\n"); s; s = strtok(NULL, "\n"))
		assert_true(strlen(s) <= 40);
	o = parse(state, "$Y explain --json", 0);
	assert_true(json_array_size(o) > 40);
	json_decref(o);
}

static void test_change(void **state)
{
	json_t *o;
	json_int_t waits;

	expect(state, "$Y change J4417-C.lower.nc bad/J4417-C.lower.nc", 1,
	    "refuse: wait code M202 -> M203");
	expect(state, "$Y change J4417-C.lower.nc J4417-C.lower.nc", 0, "same bytes");
	expect(state,
	    "sed 's/$/\\r/' J4417-C.lower.nc > crlf.nc; $Y change J4417-C.lower.nc crlf.nc", 0,
	    "same text");
	expect(state,
	    "sed 's/X10[.]/X10.0 (NEW)/' J4417-C.lower.nc > c.nc; $Y change J4417-C.lower.nc c.nc",
	    0, "same meaning");
	o = parse(state, "$Y change J4417-C.lower.nc bad/J4417-C.lower.nc --json", 1);
	assert_int_equal(json_unpack(o, "{s:{s:I}}", "counts", "wait code", &waits), 0);
	assert_int_equal(waits, 1);
	json_decref(o);
	scratch_file(state, "LATHE-2.conf", "[wait]\ncodes = M300\n");
	expect(state, "$Y change J4417-C.lower.nc bad/J4417-C.lower.nc --machine LATHE-2.conf", 1,
	    "code M202 -> M203");
}

/* Every verb explains itself, with an example. */
static void test_help(void **state)
{
	static const char *const verbs[] = {"check", "ladder", "explain", "change", "help"};
	char line[100];

	for (size_t i = 0; i < sizeof(verbs) / sizeof(verbs[0]); i++) {
		snprintf(line, sizeof(line), "$Y %s --help", verbs[i]);
		expect(state, line, 0, "Example:");
		snprintf(line, sizeof(line), "$Y help %s", verbs[i]);
		expect(state, line, 0, "Example:");
		expect(state, "$Y help", 0, verbs[i]);
	}
	expect(state, "$Y --version", 0, "yoke ");
	expect(state, "$Y --help", 0, "Exit status:");
	expect(state, "$Y check --help > /dev/full", 2, "could not be written");
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, setup, scratch_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(test_check),
	    TEST(test_same_file),
	    TEST(test_wrong_use),
	    TEST(test_unreadable),
	    TEST(test_pipes),
	    TEST(test_machine),
	    TEST(test_with),
	    TEST(test_one_file),
	    TEST(test_check_json),
	    TEST(test_check_format),
	    TEST(test_json_bytes),
	    TEST(test_ladder),
	    TEST(test_explain),
	    TEST(test_change),
	    TEST(test_help),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
