/*
 * Goal: `yoke audit report` puts everything that the trail has of a job on one paper: every entry
 * once, however many pages they come in, also a drift that names no job; nothing that came behind the
 * entry to which the paper is tied; every difference; and no text of others becomes an element of the
 * page or drives a terminal.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "play.h"

#define HASH "fdf3d3127318037036e04c2cb280f5d27c0b20478609fd5559bac6efd042b09a"
/* What lies in programs of no machine: their sums are taken with sha256sum by the test. */
#define OLD "%\\nO1\\nG1 Z-1. F0.2\\nM30\\n%\\n"
#define NEW "%\\nO1\\nG1 Z-1. F0.3\\nM30\\n%\\n"
#define FOUND "%\\nO1\\nG1 Z-1 F0.3\\nM30\\n%\\n"

/* The sums of the three. */
static char sum_old[65], sum_new[65], sum_found[65];

static struct fake *fake(void **state)
{
	return ((struct play *)*state)->fake;
}

static void program(void **state, const char *text, const char *bytes, char sum[65])
{
	char line[200];

	snprintf(line, sizeof(line), "printf '%%b' '%s' | sha256sum | cut -c1-64 | tr -d '\\n'", text);
	play_expect(state, line, 0, NULL);
	snprintf(sum, 65, "%.64s", play_out);
	snprintf(line, sizeof(line), "GET /v1/programs/%s", sum);
	fake_bytes(fake(state), line, bytes, strlen(bytes));
}

static void answer(void **state, const char *request, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void answer(void **state, const char *request, const char *format, ...)
{
	static char body[1 << 16];
	va_list ap;

	va_start(ap, format);
	vsnprintf(body, sizeof(body), format, ap);
	va_end(ap);
	fake_answer(fake(state), request, 200, body);
}

#define PART(before, after) "[{\"channel\":\"upper\"" before after "}]"
#define BEFORE ",\"before\":\"%s\""
#define AFTER ",\"after\":\"%s\""

/* Nothing more is there, and the trail is sealed by a checkpoint, of which only the look counts here. */
#define SEALED "yoke/0123456789abcdef\n9\nAAAA\nnumber 7\ntime 2031-04-05T22:08:01Z\n\n\342\200\224 yoke/"         \
	"0123456789abcdef AQID/+abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz==\n"

static void seals(void **state, int end)
{
	static const char *const kinds[] = {"keyed", "sealing", "from-backup", "repaired", "clock-stepped"};
	char request[100];

	for (size_t i = 0; i < sizeof(kinds) / sizeof(kinds[0]); i++) {
		snprintf(request, sizeof(request), "GET /v1/audit?after=0&limit=500&order=oldest&kind=%s", kinds[i]);
		answer(state, request, "{\"events\":[]}");
	}
	snprintf(request, sizeof(request), "GET /v1/audit/%d/proof", end);
	answer(state, request, "any");
	answer(state, "GET /v1/keys", "{\"keys\":[],\"trail\":{\"key\":\"KEY\",\"sealed\":9,\"number\":7}}");
	answer(state, "GET /v1/checkpoints?after=6", "%s", SEALED);
}

/* A job J with two revisions; entries 2 to 9 name it, 6 is a drift that does not, 7 another job's. */
static void shop(void **state)
{
	program(state, OLD, "%\nO1\nG1 Z-1. F0.2\nM30\n%\n", sum_old);
	program(state, NEW, "%\nO1\nG1 Z-1. F0.3\nM30\n%\n", sum_new);
	program(state, FOUND, "%\nO1\nG1 Z-1 F0.3\nM30\n%\n", sum_found);
	answer(state, "GET /v1/status", "{\"version\":\"9.9\"}");
	answer(state, "GET /v1/machines", "{\"machines\":[{\"name\":\"LATHE-1\",\"content\":\"loaded\","
	    "\"job\":\"J\",\"revision\":\"B\",\"parts\":[{\"channel\":\"upper\",\"sha256\":\"%s\"}],"
	    "\"drift\":true,\"last_good\":null},{\"name\":\"LATHE-2\",\"job\":\"K\"}]}", sum_new);
	answer(state, "GET /v1/jobs/J", "{\"job\":\"J\",\"pairs\":[{\"job\":\"J\",\"revision\":\"B\","
	    "\"state\":\"released\",\"verdict\":\"agree\",\"since\":\"2031-04-05T22:07:09Z\",\"parts\":"
	    "[{\"channel\":\"upper\",\"sha256\":\"%s\"},{\"channel\":\"lower\",\"sha256\":null}]}]}",
	    sum_new);
	answer(state, "GET /v1/audit?limit=1", "{\"events\":[{\"seq\":9,\"time\":\"2031-04-05T22:08:00Z\","
	    "\"hash\":\"" HASH "\"}]}");
	answer(state, "GET /v1/audit?after=0&limit=500&order=oldest&job=J", "{\"events\":["
	    "{\"seq\":2,\"time\":\"2031-04-05T22:07:08Z\",\"kind\":\"arrived\",\"who\":\"anna (uid 1002)\","
	    "\"from\":\"folder\",\"job\":\"J\",\"revision\":\"A\",\"outcome\":\"O1\",\"text\":\"J-A.nc\","
	    "\"parts\":" PART("", AFTER) ",\"detail\":{\"size\":28}},"
	    "{\"seq\":3,\"time\":\"2031-04-05T22:07:09Z\",\"kind\":\"held\",\"who\":\"anna (uid 1002)\","
	    "\"job\":\"J\",\"revision\":\"A\",\"outcome\":\"cannot tell\",\"text\":\"mate-missing: no lower\","
	    "\"detail\":{\"counts\":{\"refuse\":2,\"warn\":1,\"note\":0}}}]}", sum_old);
	answer(state, "GET /v1/audit?after=3&limit=500&order=oldest&job=J", "{\"events\":["
	    "{\"seq\":4,\"time\":\"2031-04-05T22:07:10Z\",\"kind\":\"arrived\",\"who\":\"bert (uid 1003)\","
	    "\"from\":\"folder\",\"job\":\"J\",\"revision\":\"B\",\"text\":\"J-B.nc\",\"parts\":"
	    PART("", AFTER) "},"
	    "{\"seq\":5,\"time\":\"2031-04-05T22:07:11Z\",\"kind\":\"queued\",\"who\":\"cleo (uid 1004)\","
	    "\"from\":\"socket\",\"machine\":\"LATHE-1\",\"job\":\"J\",\"revision\":\"B\",\"order\":5,"
	    "\"outcome\":\"send\"}]}", sum_new);
	answer(state, "GET /v1/audit?after=5&limit=500&order=oldest&job=J", "{\"events\":["
	    "{\"seq\":8,\"time\":\"2031-04-05T22:07:12Z\",\"kind\":\"carried\",\"machine\":\"LATHE-1\","
	    "\"job\":\"J\",\"revision\":\"B\",\"order\":5,\"outcome\":\"done\",\"parts\":"
	    PART(BEFORE, AFTER) "},"
	    "{\"seq\":9,\"time\":\"2031-04-05T22:07:13Z\",\"kind\":\"accepted\",\"who\":\"dora\",\"job\":\"J\","
	    "\"revision\":\"B\",\"outcome\":\"number-mate\",\"text\":\"one number each here\"},"
	    "{\"seq\":10,\"time\":\"2031-04-05T22:07:14Z\",\"kind\":\"proven\",\"job\":\"J\",\"text\":\"later\"}]}",
	    sum_old, sum_new);
	answer(state, "GET /v1/audit?after=0&limit=500&order=oldest&kind=drift", "{\"events\":["
	    "{\"seq\":6,\"time\":\"2031-04-05T22:07:12Z\",\"kind\":\"drift\",\"machine\":\"LATHE-1\",\"order\":5,"
	    "\"outcome\":\"found\",\"text\":\"something else\",\"parts\":" PART(BEFORE, AFTER) "},"
	    "{\"seq\":7,\"time\":\"2031-04-05T22:07:12Z\",\"kind\":\"drift\",\"machine\":\"LATHE-2\",\"order\":1,"
	    "\"text\":\"of another job\",\"parts\":[{\"channel\":\"upper\",\"before\":\"" HASH "\"}]}]}",
	    sum_new, sum_found);
	answer(state, "GET /v1/audit?after=7&limit=500&order=oldest&kind=drift", "{\"events\":[]}");
	answer(state, "GET /v1/audit?after=9&limit=1&order=oldest&job=J", "{\"events\":[]}");
	seals(state, 9);
	answer(state, "GET /v1/audit?after=0&limit=500&order=oldest&kind=repaired", "{\"events\":[{\"seq\":1,"
	    "\"time\":\"2031-04-05T22:07:07Z\",\"kind\":\"repaired\",\"text\":\"entry 0 is lost\"}]}");
	answer(state, "GET /v1/audit?after=1&limit=500&order=oldest&kind=repaired", "{\"events\":[]}");
}

static void says(const char *s)
{
	if (!strstr(play_out, s))
		fail_msg("'%s' is not in: %s", s, play_out);
}

static size_t count(const char *s)
{
	size_t n = 0;

	for (const char *at = play_out; (at = strstr(at, s)); at++)
		n++;
	return n;
}

static void test_whole(void **state)
{
	char text[300];

	shop(state);
	play_expect(state, "COLUMNS=140 $Y audit report J", 0, "Audit report of job J\n=====");
	says(HASH);
	says("from 2 to 9\n");
	says("2031-04-05 22:07:08Z");
	says("2031-04-06 00:07 +0200");
	says("wait codes: cannot tell; mate-missing: no lower; findings: 2 refuse, 1 warn, 0 note");
	says("despite number-mate: one number each here");
	says("found: something else");
	says("CHANGED THERE");
	says("single block");
	says("entry 0 is lost");
	says("number 7, over entries 1 to 9");
	/* As it was signed, so that the paper's file can be compared with the trail. */
	says("\n" SEALED);
	assert_true(fake_seen(fake(state), "GET /v1/audit/9/proof") == 1);
	snprintf(text, sizeof(text), "upper P1:%.12s -> P2:%.12s", sum_old, sum_new);
	says(text);
	snprintf(text, sizeof(text), "P1:%.12s -> P2:%.12s, revision A (entry 2) to B (entry 4)", sum_old,
	    sum_new);
	says(text);
	says("feed F0.2 -> F0.3");
	snprintf(text, sizeof(text), "P2:%.12s -> P3:%.12s, changed on machine LATHE-1 (entry 6)", sum_new,
	    sum_found);
	says(text);
	says("refuse  decimal point"); /* Z-1. became Z-1 */
	for (int seq = 2; seq <= 9; seq++) {
		snprintf(text, sizeof(text), "\n%d   2031-04-05 22:07:", seq);
		if (count(text) != (seq == 7 ? 0 : 1))
			fail_msg("entry %d stands there %zu times: %s", seq, count(text), play_out);
	}
	assert_null(strstr(play_out, "later"));
	assert_null(strstr(play_out, "of another job"));
	assert_null(strstr(play_out, "LATHE-2"));
}

static void test_narrow(void **state)
{
	shop(state);
	play_expect(state, "$Y audit report J | awk 'length > 80' | grep -v ' yoke/0123456789abcdef '", 1, NULL);
	assert_string_equal(play_out, "");
	play_expect(state, "$Y audit report J --out j.txt && wc -l <j.txt", 0, NULL);
	assert_true(atoi(play_out) > 100);
	play_expect(state, "$Y audit report J --out j.txt", 2, "nothing is overwritten");
}

/* The page by a general checker of HTML, which says nothing when there is nothing to say. */
static void test_page(void **state)
{
	shop(state);
	play_expect(state, "$Y audit report J --html --out j.html && cat j.html", 0, "<!DOCTYPE html>");
	says("<th scope=\"col\">SHA-256</th>");
	assert_null(strstr(play_out, "<script"));
	assert_null(strstr(play_out, " src="));
	assert_null(strstr(play_out, "<link"));
	assert_null(strstr(play_out, "@import"));
	says("<pre>\n" SEALED "</pre>");
	play_expect(state, "tidy -q -e j.html 2>&1", 0, NULL);
	assert_string_equal(play_out, "");
}

/* ESC, a line end, markup, a quote, a turn of the direction of writing. */
#define EVIL "<script>alert(1)</script>\\u001b[2J\\n\\u0022'&\\u202e"
#define EVIL_PATH "%3Cscript%3E"

static void test_hostile(void **state)
{
	answer(state, "GET /v1/status", "{\"version\":\"%s\"}", EVIL);
	answer(state, "GET /v1/machines", "{\"machines\":[{\"name\":\"" EVIL "\",\"content\":\"" EVIL
	    "\",\"job\":\"<script>\",\"revision\":\"" EVIL "\",\"parts\":[{\"channel\":\"" EVIL
	    "\",\"sha256\":\"" EVIL "\"}]}]}");
	answer(state, "GET /v1/jobs/" EVIL_PATH, "{\"pairs\":[{\"revision\":\"" EVIL "\",\"state\":\"" EVIL
	    "\",\"since\":\"" EVIL "\",\"machine\":\"" EVIL "\",\"verdict\":\"" EVIL "\",\"text\":\"" EVIL
	    "\"}]}");
	answer(state, "GET /v1/audit?limit=1", "{\"events\":[{\"seq\":1,\"time\":\"" EVIL "\",\"hash\":\"" EVIL
	    "\"}]}");
	answer(state, "GET /v1/audit?after=1&limit=500&order=oldest&job=" EVIL_PATH, "{\"events\":[]}");
	answer(state, "GET /v1/audit?after=0&limit=500&order=oldest&job=" EVIL_PATH, "{\"events\":[{\"seq\":1,"
	    "\"time\":\"" EVIL "\",\"kind\":\"" EVIL "\",\"who\":\"" EVIL "\",\"from\":\"" EVIL
	    "\",\"machine\":\"" EVIL "\",\"job\":\"<script>\",\"revision\":\"" EVIL "\",\"outcome\":\"" EVIL
	    "\",\"text\":\"x" EVIL "\",\"parts\":[{\"channel\":\"" EVIL "\",\"before\":\"" EVIL "\"}]}]}");
	answer(state, "GET /v1/audit?after=0&limit=500&order=oldest&kind=drift", "{\"events\":[]}");
	answer(state, "GET /v1/audit?after=1&limit=1&order=oldest&job=" EVIL_PATH, "{\"events\":[]}");
	seals(state, 1);
	answer(state, "GET /v1/keys", "{\"trail\":{\"key\":\"" EVIL "\",\"sealed\":9,\"number\":7,\"error\":\"" EVIL "\"}}");
	answer(state, "GET /v1/checkpoints?after=6", "\x1b[2J<script>\n");
	play_expect(state, "$Y audit report '<script>' --html", 0, NULL);
	says("<h1>Audit report of job &lt;script&gt;</h1>");
	says("&lt;script&gt;alert(1)&lt;/script&gt;&lt;1B&gt;[2J&lt;0A&gt;&quot;&#39;&amp;");
	assert_int_equal(count("<script"), 0);
	assert_int_equal(count("\033"), 0);
	assert_int_equal(count("\342\200\256"), 0);
	play_expect(state, "$Y audit report '<script>' --html | tidy -q -e 2>&1", 0, NULL);
	assert_string_equal(play_out, "");
	play_expect(state, "COLUMNS=200 $Y audit report '<script>'", 0, "<script>alert(1)</script><1B>[2J<0A>");
	assert_int_equal(count("\033"), 0);
	assert_int_equal(count("\342\200\256"), 0);
}

static void test_failures(void **state)
{
	char request[100];

	shop(state);
	/* No key, no checkpoint. */
	answer(state, "GET /v1/keys", "{\"trail\":{\"key\":\"\",\"sealed\":0,\"number\":0,\"error\":\"no key\"}}");
	play_expect(state, "COLUMNS=140 $Y audit report J", 0, "none: no key\n");
	/* What cannot be had is said on the paper too. */
	snprintf(request, sizeof(request), "GET /v1/programs/%s", sum_old);
	fake_answer(fake(state), request, 404, "{\"error\":\"no-program\",\"text\":\"not in the vault\"}");
	play_expect(state, "$Y audit report J", 1, "NOT COMPARED: the programs could not be had");
	play_expect(state, "$Y audit report J >/dev/null", 1, "not in the vault");
	/* Other bytes than those named. */
	fake_bytes(fake(state), request, "abc", 3);
	play_expect(state, "$Y audit report J", 4, "NOT COMPARED");
	/* The shop goes on meanwhile, each time. */
	answer(state, "GET /v1/audit?after=9&limit=1&order=oldest&job=J", "{\"events\":[{\"seq\":11}]}");
	play_expect(state, "$Y audit report J", 4, "ask again when it is quieter");
	assert_string_equal(play_out, "");
	fake_answer(fake(state), "GET /v1/audit?after=3&limit=500&order=oldest&job=J", 500,
	    "{\"error\":\"vault\",\"text\":\"disk\"}");
	play_expect(state, "$Y audit report J", 4, "yoke: disk\n");
	assert_string_equal(play_out, "");
	fake_answer(fake(state), "GET /v1/jobs/K", 404, "{\"error\":\"no-job\",\"text\":\"no program of job K\"}");
	answer(state, "GET /v1/audit?after=0&limit=500&order=oldest&job=K", "{\"events\":[]}");
	play_expect(state, "$Y audit report K", 1, "no program of job K");
	play_expect(state, "$Y audit report J --home nowhere", 4, "no service answers");
}

static void test_wrong_use(void **state)
{
	static const char *const lines[] = {"$Y audit report", "$Y audit report J K", "$Y audit report J --json", "$Y audit report J --csv",
	    "$Y audit report J --limit x", "$Y audit report J --machine none.conf", "$Y audit report J --kind held",
	    "$Y audit --html"};

	for (size_t i = 0; i < sizeof(lines) / sizeof(lines[0]); i++) {
		play_expect(state, lines[i], 2, NULL);
		assert_string_equal(play_out, "");
	}
	assert_int_equal(fake_seen(fake(state), NULL), 0);
	play_expect(state, "$Y audit report --help", 0, "yoke audit report JOB");
	/* Options in any place, as everywhere. */
	shop(state);
	play_expect(state, "$Y audit --html report --limit 3 J", 0, "<h1>");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_whole, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_narrow, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_page, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_hostile, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_failures, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_wrong_use, play_setup, play_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
