/*
 * Goal: `yoke export`, `import` and `loaded` as a person runs them, against a service that answers what
 * it should or should not: nothing leaves the stick's folder, nothing half written stays, and nothing is
 * sent that was not found. What really happens on FAT: tests/peers/stick.sh.
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
#include "mount_point.h"
#include "play.h"
#include "scratch.h"
#include "sha256.h"

#define EXPORT "POST /v1/machines/L3/export"
#define IMPORT "POST /v1/machines/L3/import"
#define UPPER "%\nO4417\n(JOB J4417 REV C UPPER)\nM201\nM30\n%\n"
#define LOWER "%\nO4417\n(JOB J4417 REV C LOWER)\nM201\nM30\n%\n"

static struct fake *fake(void **state)
{
	return ((struct play *)*state)->fake;
}

static const char *sum(const char *program)
{
	static char hex[2][YOKE_SHA_HEX + 1];
	static int turn;
	uint8_t b[YOKE_SHA_SIZE];

	assert_int_equal(sha256_of(program, strlen(program), b), 0);
	turn = !turn;
	sha256_hex(b, hex[turn]);
	return hex[turn];
}

/* The service gives out these two; folder and name of the lower one, and its size as it says. */
static void gives(void **state, const char *folder, const char *name, long long size)
{
	char body[2000], request[200];

	snprintf(body, sizeof(body),
	    "{\"machine\":\"L3\",\"job\":\"J4417\",\"revision\":\"C\",\"event\":7,"
	    "\"time\":\"2031-04-05T06:07:09.5Z\",\"caution\":\"Prove it out.\","
	    "\"header\":\"(JOB {job} REV {rev} {channel})\",\"clash_refused\":true,"
	    "\"channels\":[{\"name\":\"upper\",\"aliases\":[\"UP\"]},{\"name\":\"lower\"}],"
	    "\"files\":[{\"channel\":\"upper\",\"folder\":\"NC/CH1\",\"name\":\"O4417.NC\","
	    "\"sha256\":\"%s\",\"size\":%zu},{\"channel\":\"lower\",\"folder\":\"%s\",\"name\":\"%s\","
	    "\"sha256\":\"%s\",\"size\":%lld}]}",
	    sum(UPPER), strlen(UPPER), folder, name, sum(LOWER), size);
	fake_answer(fake(state), EXPORT, 200, body);
	snprintf(request, sizeof(request), "GET /v1/programs/%s", sum(UPPER));
	fake_bytes(fake(state), request, UPPER, strlen(UPPER));
	snprintf(request, sizeof(request), "GET /v1/programs/%s", sum(LOWER));
	fake_bytes(fake(state), request, LOWER, strlen(LOWER));
}

static void stick(void **state)
{
	play_expect(state, "rm -rf stick && mkdir stick", 0, NULL);
}

static void test_use(void **state)
{
	static const char *const lines[] = {"$Y export J4417 L3", "$Y export L3 stick",
	    "$Y export --last-good J4417 L3 stick", "$Y export @C L3 stick", "$Y export J4417@ L3 stick",
	    "$Y export J4417 L3 nowhere", "$Y export J4417 L3 /dev/null", "$Y export J4417 L3 stick --all",
	    "$Y import L3", "$Y import L3 nowhere", "$Y import L3 stick J4417@", "$Y import L3 stick J D",
	    "$Y loaded", "$Y loaded L3 J4417@", "$Y loaded L3 J4417 more"};

	stick(state);
	for (size_t i = 0; i < sizeof(lines) / sizeof(lines[0]); i++) {
		play_expect(state, lines[i], 2, "yoke: ");
		assert_string_equal(play_out, "");
	}
	assert_int_equal(fake_seen(fake(state), NULL), 0);
	for (const char *verb = "export\0import\0loaded\0"; *verb; verb += strlen(verb) + 1) {
		char line[100];

		snprintf(line, sizeof(line), "$Y %s --help", verb);
		play_expect(state, line, 0, "Example:\n  yoke ");
		play_expect(state, "$Y help", 0, verb);
	}
	play_expect(state, "$Y export J L3 stick --home nowhere", 4, "no service answers");
	play_expect(state, "$Y import L3 stick --home nowhere", 4, "no service answers");
	play_expect(state, "$Y loaded L3 --home nowhere", 4, "no service answers");
}

static void test_export(void **state)
{
	gives(state, "NC/CH2", "O4417.NC", (long long)strlen(LOWER));
	stick(state);
	play_expect(state, "$Y export J4417@C L3 stick", 0, "Prove it out.\n");
	assert_non_null(strstr(play_out, "J4417@C for machine L3 is in stick:\n  upper NC/CH1/O4417.NC, "));
	assert_int_equal(fake_seen(fake(state), EXPORT), 2);
	assert_string_equal(fake_body(fake(state), EXPORT), "{\"job\":\"J4417\",\"revision\":\"C\"}");
	play_expect(state, "cd stick && sha256sum -c --strict YOKE.SUM && find . -type f | sort", 0,
	    "NC/CH1/O4417.NC: OK\nNC/CH2/O4417.NC: OK\n"
	    "./NC/CH1/O4417.NC\n./NC/CH2/O4417.NC\n./YOKE.SUM\n./YOKE.TXT\n");
	/* 06:07:09 UTC is 06:07:08 for FAT. */
	play_expect(state, "TZ=UTC stat -c %y stick/NC/CH1/O4417.NC", 0, "2031-04-05 06:07:08.000000000");
	/* Once more: the same, with folders in small letters, and the last good pair. */
	play_expect(state,
	    "mv stick/NC stick/nc; $Y export --last-good L3 stick --json | jq -c "
	    "'[.files[].path, .event, .unmount]'",
	    0, "[\"nc/CH1/O4417.NC\",\"nc/CH2/O4417.NC\",7,");
	assert_string_equal(fake_body(fake(state), EXPORT), "{\"last_good\":true}");
	play_expect(state, "ls stick; cat stick/YOKE.SUM", 0, "YOKE.SUM\nYOKE.TXT\nnc\n");
	assert_non_null(strstr(play_out, " *nc/CH1/O4417.NC\n"));
	assert_null(strstr(play_out, " *NC/"));
}

/* What a service says that must not be believed. */
static void test_bad_service(void **state)
{
	static const struct {
		const char *folder, *name;
	} bad[] = {{"..", "O4417.NC"}, {"/etc", "O4417.NC"}, {"a/../..", "O4417.NC"}, {"a", "../O4417.NC"},
	    {"a", "O:4417"}, {"a", ""}, {"a//b", "O1"}, {"a", ".."}};

	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++) {
		gives(state, bad[i].folder, bad[i].name, 40);
		stick(state);
		play_expect(state, "$Y export J4417 L3 stick", 4, "no list of programs for a stick");
		play_expect(state, "find stick -type f", 0, NULL);
		assert_string_equal(play_out, "");
	}
	fake_answer(fake(state), EXPORT, 200, "{\"files\":[]}");
	play_expect(state, "$Y export J4417 L3 stick", 4, "no list of programs");
	fake_answer(fake(state), EXPORT, 200, "{}");
	play_expect(state, "$Y export J4417 L3 stick", 4, "no list of programs");
	/* Other bytes than their sum says: nothing of it stays. */
	gives(state, "NC/CH2", "O4417.NC", 40);
	stick(state);
	{
		char request[200];

		snprintf(request, sizeof(request), "GET /v1/programs/%s", sum(LOWER));
		fake_bytes(fake(state), request, UPPER, strlen(UPPER));
	}
	play_expect(state, "$Y export J4417 L3 stick", 4, "is not the program");
	play_expect(state, "find stick -type f", 0, NULL);
	assert_string_equal(play_out, "");
	assert_string_equal(fake_body(fake(state), EXPORT), "{\"job\":\"J4417\",\"look\":true}");
	/* More than there is room for anywhere. */
	gives(state, "NC/CH2", "O4417.NC", 1LL << 60);
	stick(state);
	play_expect(state, "$Y export J4417 L3 stick", 4, "there is no room");
	play_expect(state, "find stick", 0, NULL);
	assert_string_equal(play_out, "stick\n");
}

/* What lies on a stick that should not. */
static void test_bad_stick(void **state)
{
	gives(state, "NC/CH2", "O4417.NC", 40);
	stick(state);
	play_expect(state, "touch stick/nc stick/NC; $Y export J4417 L3 stick", 4, "is no folder");
	stick(state);
	play_expect(state, "mkdir stick/nc stick/Nc; $Y export J4417 L3 stick", 4, "two names there are one");
	stick(state);
	play_expect(state, "mkdir -p stick/NC/CH1/O4417.NC; $Y export J4417 L3 stick", 1, "is no program");
	play_expect(state, "$Y export J4417 L3 stick --replace", 1, "is no program");
	stick(state);
	play_expect(state, "mkdir -p stick/NC out && ln -s ../../out stick/NC/CH1; $Y export J4417 L3 stick; "
	                   "s=$?; ls -A out; exit $s", 4, "is no folder");
	assert_string_equal(play_out, "");
	stick(state);
	play_expect(state,
	    "mkdir -p stick/NC/CH1 && echo keep >kept && ln -s ../../../kept stick/NC/CH1/o4417.nc && "
	    "{ $Y export J4417 L3 stick; s=$?; cat kept; exit $s; }", 1, "is no program");
	assert_string_equal(play_out, "keep\n");
	/* Nothing was recorded for any of them. */
	assert_string_equal(fake_body(fake(state), EXPORT), "{\"job\":\"J4417\",\"look\":true}");
}

static void looks_for(void **state)
{
	fake_answer(fake(state), IMPORT, 200,
	    "{\"machine\":\"L3\",\"job\":\"J4417\",\"revision\":\"C\",\"files\":["
	    "{\"channel\":\"upper\",\"folder\":\"CH1\",\"name\":\"O4417.NC\"},"
	    "{\"channel\":\"lower\",\"folder\":\"\",\"name\":\"P4417.NC\"}],"
	    "\"end\":\"drift\",\"text\":\"upper differs\",\"machine\":{\"name\":\"L3\",\"content\":\"loaded\","
	    "\"job\":\"J4417\",\"revision\":\"C\",\"drift\":true}}");
	fake_answer(fake(state), "POST /v1/programs", 201, "{\"sha256\":\"ab\",\"size\":5}");
}

static void test_import(void **state)
{
	looks_for(state);
	stick(state);
	play_expect(state, "$Y import L3 stick", 1,
	    "lies there: CH1/O4417.NC, P4417.NC was looked for");
	assert_string_equal(fake_body(fake(state), IMPORT), "{\"look\":true}");
	assert_int_equal(fake_seen(fake(state), "POST /v1/programs"), 0);
	play_expect(state,
	    "mkdir stick/ch1; printf 'hello' >stick/ch1/o4417.nc; TZ=UTC touch -d '2031-04-05 06:07:08' "
	    "stick/ch1/o4417.nc; $Y import L3 stick J4417@C",
	    1, "drift: upper differs\nmachine L3: J4417@C, not read back, not proven; CHANGED");
	assert_string_equal(fake_body(fake(state), "POST /v1/programs"), "hello");
	assert_string_equal(fake_body(fake(state), IMPORT),
	    "{\"job\":\"J4417\",\"revision\":\"C\",\"programs\":[{\"channel\":\"upper\","
	    "\"sha256\":\"ab\",\"time\":1933135628}]}");
	/* Two that are one on a stick; something that is no file. */
	play_expect(state, "touch stick/p4417.nc stick/P4417.nc; $Y import L3 stick", 2, "two names there are one");
	play_expect(state, "rm stick/[pP]*; mkfifo stick/P4417.NC; $Y import L3 stick", 2, "is no file");
	/* The service does not take it. */
	play_expect(state, "rm stick/P4417.NC", 0, NULL);
	fake_answer(fake(state), "POST /v1/programs", 413, "{\"error\":\"too-long\",\"text\":\"too long\"}");
	play_expect(state, "$Y import L3 stick", 1, "too long");
	fake_answer(fake(state), "POST /v1/programs", 0, "");
	play_expect(state, "$Y import L3 stick", 4, "yoke: ");
}

static void test_loaded(void **state)
{
	fake_answer(fake(state), "POST /v1/machines/L3/loaded", 200,
	    "{\"name\":\"L3\",\"content\":\"loaded\",\"job\":\"J4417\",\"revision\":\"C\",\"stick\":{"
	    "\"said\":true,\"by\":\"anna (uid 1002)\",\"job\":\"J4417\",\"revision\":\"C\"}}");
	play_expect(state, "$Y loaded L3 J4417@C --note 'blue stick'", 0, NULL);
	assert_string_equal(play_out, "machine L3: J4417@C, as anna (uid 1002) said, not read back, not proven\n");
	assert_string_equal(fake_body(fake(state), "POST /v1/machines/L3/loaded"),
	    "{\"job\":\"J4417\",\"revision\":\"C\",\"note\":\"blue stick\"}");
	play_expect(state, "$Y loaded L3", 0, NULL);
	assert_string_equal(fake_body(fake(state), "POST /v1/machines/L3/loaded"), "{}");
	/* The list of machines shows a stick that is out. */
	fake_answer(fake(state), "GET /v1/machines", 200,
	    "{\"machines\":[{\"name\":\"L3\",\"content\":\"loaded\",\"job\":\"J4417\",\"revision\":\"C\","
	    "\"stick\":{\"said\":false,\"by\":\"anna\",\"job\":\"J4417\",\"revision\":\"D\","
	    "\"since\":\"2031-04-05T06:07:08.000000Z\"}}]}");
	play_expect(state, "$Y machines", 0, "! STICK: J4417@D was given out on a stick 2031-04-05 08:07 by");
}

/* A table as in proc(5), with a blank in a name, and a mount over another. */
static void test_mount_point(void **state)
{
	void *scratch = ((struct play *)*state)->scratch;
	const char *table = scratch_file(&scratch, "mountinfo",
	    "22 1 8:1 / / rw - ext4 /dev/sda1 rw\n"
	    "30 22 8:17 / /media/anna/MY\\040STICK rw,nosuid shared:9 - vfat /dev/sdb1 rw\n"
	    "31 22 0:40 / /media rw - tmpfs tmpfs rw\n"
	    "32 31 8:33 / /media/st rw - vfat /dev/sdc1 rw\n"
	    "broken\n");
	static const struct {
		const char *path, *mount;
	} cases[] = {{"/media/anna/MY STICK/CH1", "/media/anna/MY STICK"},
	    {"/media/anna/MY STICK", "/media/anna/MY STICK"}, {"/media/anna/MY STICKS", "/media"},
	    {"/media/st/x", "/media/st"}, {"/media/stick", "/media"}, {"/home", "/"}, {"/", "/"}};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char *found = mount_point_in(table, cases[i].path);

		assert_non_null(found);
		assert_string_equal(found, cases[i].mount);
		free(found);
	}
	assert_null(mount_point_in("nowhere", "/"));
	assert_null(mount_point("/no such place"));
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, play_setup, play_teardown)
	const struct CMUnitTest tests[] = {TEST(test_use), TEST(test_export), TEST(test_bad_service),
	    TEST(test_bad_stick), TEST(test_import), TEST(test_loaded), TEST(test_mount_point)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
