/*
 * Goal: an archive that cannot be written whole is not there at all, and why is said: nothing is that old,
 * no checkpoint covers it, the service fails on the way or gives what is no entry; and what is no archive is
 * not taken for one. A whole one is tried on a real trail (tests/fault/archive.sh).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include "play.h"

/* In form a checkpoint over two entries; its root and its signature are nobody's. */
#define A11 "AAAAAAAAAAA"
#define NOTE                                                                                       \
	"yoke/0123456789abcdef\n2\n" A11 A11 A11 "AAAAAAAAAA=\nnumber 7\ntime 2030-06-05T22:08:01Z\n\n" \
	"\342\200\224 yoke/0123456789abcdef " A11 A11 A11 A11 A11 A11 A11 A11 "AAA=\n\n"

/* The beginning of 2031 where the tests are, two hours before that of UTC. */
#define LAST "GET /v1/audit?limit=1&to=1924984800"
#define WRITE "$Y archive --before 2031 a"

static struct fake *fake(void **state)
{
	return ((struct play *)*state)->fake;
}

static void fails(void **state, int status, const char *said)
{
	play_expect(state, WRITE, status, said);
	play_expect(state, "test ! -e a", 0, NULL);
}

static void test_not_written(void **state)
{
	fake_answer(fake(state), LAST, 200, "{\"events\":[]}");
	fails(state, 1, "no entry is that old");
	fake_answer(fake(state), LAST, 200, "{\"events\":[{\"seq\":2}]}");
	fake_answer(fake(state), "GET /v1/checkpoints?after=0", 200, "");
	fake_answer(fake(state), "GET /v1/audit/2/proof", 409, "{\"error\":\"not-sealed\",\"text\":\"no key\"}");
	fails(state, 1, "yoke: no key\n");
	fake_answer(fake(state), "GET /v1/audit/2/proof", 200, "any");
	fails(state, 4, "no checkpoint covers entry 2");
	fake_answer(fake(state), "GET /v1/checkpoints?after=0", 200, NOTE);
	fake_answer(fake(state), "GET /v1/keys", 200, "{\"keys\":[]}");
	fake_answer(fake(state), "GET /v1/audit/entries?after=0", 500, "{\"error\":\"vault\",\"text\":\"disk\"}");
	fails(state, 4, "yoke: disk\n");
	fake_answer(fake(state), "GET /v1/audit/entries?after=0", 200, "");
	fails(state, 4, "the service has no entry 1 any more");
	fake_answer(fake(state), "GET /v1/audit/entries?after=0", 200, "AAAA\n");
	fails(state, 4, "the service gave no entry 1");
	fake_answer(fake(state), "GET /v1/audit/entries?after=0", 200, "<html>\n");
	fails(state, 4, "the service gave no entry 1");
	play_expect(state, "$Y archive --before 2031 none/a", 2, "none/a cannot be made");
	play_expect(state, "$Y archive --before 2031-01-01 /dev/full", 2, "nothing is overwritten");
}

static void test_no_archive(void **state)
{
	static const char key[] = "yoke/9d1ec0389f2e206c+0c1fbc29+Ac6LUsPOmb56j7vOk9GCloYedV662AF+wgQ+Cv1jzExg";
	char line[300];

	snprintf(line, sizeof(line), "$Y audit check-archive a --key %s", key);
	play_expect(state, line, 2, "a cannot be read");
	play_expect(state, "printf '{}\\n' >a", 0, NULL);
	play_expect(state, line, 1, "line 1: this is no archive of this kind");
	play_expect(state, "printf '\\033[2J\\n' >a", 0, NULL);
	play_expect(state, line, 1, "line 1: it is no JSON object");
	play_expect(state, "printf '{\"yoke archive\":1}\\n{\"event\":{},\"leaf\":\"AAAA\"}\\n' >a", 0, NULL);
	play_expect(state, line, 1, "line 2: its leaf holds no entry");
	play_expect(state, "printf '{\"yoke archive\":1}\\n{\"checkpoint\":\"\"}\\n' >a", 0, NULL);
	play_expect(state, line, 1, "line 2: behind the entries there is no checkpoint");
	play_expect(state, "mkdir d && mv d a 2>/dev/null; rm -f a; mv d a", 0, NULL);
	play_expect(state, line, 1, "line 1: it cannot be read");
	assert_int_equal(fake_seen(fake(state), NULL), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_not_written, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_no_archive, play_setup, play_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
