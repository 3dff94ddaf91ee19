/*
 * Goal: what left a vault tells a person what became of it, and a proof and a key are enough far from it.
 * The service is one that answers what the test says; notes and proofs are those that another library made.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "play.h"

#define SUM_A "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

static struct fake *fake(void **state)
{
	return ((struct play *)*state)->fake;
}

/* Keys, checkpoints and a proof that another library made: tests/fuzz/corpus/seal. */
#define SEAL TEST_SOURCE_DIR "/fuzz/corpus/seal/"
#define TRAIL_KEY "yoke/21fe31dfa154a261+181ad7d8+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea"
#define TRAIL_KEYS                                                                                 \
	"{\"keys\":[{\"key\":\"" TRAIL_KEY "\",\"event\":1,\"time\":\"2031-04-05T06:07:08Z\"}]," \
	"\"trail\":{\"sealed\":11,\"number\":3}}"

/* What a command writes as the service's answer. */
static void answer_output(void **state, const char *request, const char *line)
{
	static char kept[8][8192]; /* the fake service does not copy them */
	static unsigned next;
	char *mine = kept[next++ % 8];

	play_run(state, line);
	assert_true(strlen(play_out) < sizeof(kept[0]));
	strcpy(mine, play_out);
	fake_bytes(fake(state), request, mine, strlen(mine));
}

static void verified(void **state, int events, bool good)
{
	char body[300];

	snprintf(body, sizeof(body),
	    "{\"good\":%s,\"events\":%d,\"first_bad\":0,\"head\":\"" SUM_A "\",\"text\":\"checked\"}",
	    good ? "true" : "false", events);
	fake_answer(fake(state), "GET /v1/audit/verify", 200, body);
}

static void test_against(void **state)
{
	static const char verify[] = "$Y audit verify --against " SEAL "three-notes";

	fake_answer(fake(state), "GET /v1/keys", 200, TRAIL_KEYS);
	answer_output(state, "GET /v1/checkpoints?after=0", "cat " SEAL "three-notes");
	fake_bytes(fake(state), "GET /v1/checkpoints?after=3", "", 0);
	verified(state, 11, true);
	play_expect(state, verify, 0, "good: 3 checkpoints in " SEAL "three-notes fit; the last, of "
	                              "2031-04-05T06:07:08Z, seals entries 1 to 11\n");
	play_expect(state, "$Y audit verify --key " TRAIL_KEY, 0, "good: the trail was signed with this key\n");
	play_expect(state, "sed 's/^/log: yoke checkpoint |/; s/$/|/' " SEAL "three-notes | head -1 >no; "
	                   "$Y audit verify --against no",
	    1, "holds no checkpoint of this trail");
	/* As lines of a log, with others between them. */
	play_expect(state,
	    "tr '\\n' '|' <" SEAL "three-notes | sed 's/||yoke/|\\n<85>x y: yoke checkpoint |yoke/g; "
	    "s/^/<85>x y: yoke checkpoint |/; s/=$/=|/' >log; echo another >>log; $Y audit verify --against - <log",
	    0, "good: 3 checkpoints");
	/* The trail is shorter than what was sealed; what the service finds itself counts as well. */
	verified(state, 8, true);
	play_expect(state, verify, 1,
	    "NOT GOOD: entry 9 is the first that does not fit: entries 9 to 11 are missing at the end of the "
	    "trail: checkpoint 3 of 2031-04-05T06:07:08Z");
	play_expect(state, "$Y audit verify --json --against " SEAL "three-notes", 1, "\"first_bad\": 9");
	verified(state, 11, false);
	play_expect(state, verify, 1, "NOT GOOD: checked");
	/* The vault has fewer of them, or others. */
	verified(state, 11, true);
	answer_output(state, "GET /v1/checkpoints?after=0", "head -n 16 " SEAL "three-notes");
	fake_bytes(fake(state), "GET /v1/checkpoints?after=2", "", 0);
	play_expect(state, verify, 1, "entry 6 is the first that does not fit: checkpoint 3");
	answer_output(state, "GET /v1/checkpoints?after=0", "sed '10s/5/4/' " SEAL "three-notes");
	play_expect(state, verify, 1, "entries 3 to 5 are not those that checkpoint 2");
	/* What stands there was changed, or is another trail's. */
	answer_output(state, "GET /v1/checkpoints?after=0", "cat " SEAL "three-notes");
	play_expect(state, "sed '10s/5/6/' " SEAL "three-notes >bent; $Y audit verify --against bent", 1,
	    "does not have the signature of its key");
	play_expect(state, "sed 's/21fe31dfa154a261/0000000000000000/' " SEAL
	                   "three-notes >other; $Y audit verify --against other",
	    1, "entry 1 is the first that does not fit: other holds no checkpoint of this trail");
	play_expect(state, "$Y audit verify --against nowhere", 2, "");
	play_expect(state, "$Y audit verify --key nonsense", 2, "");
}

static void test_proofs(void **state)
{
	answer_output(state, "GET /v1/audit/5/proof", "cat " SEAL "proof-of-5-in-11");
	play_expect(state, "$Y audit prove 5 --out proof && cmp proof " SEAL "proof-of-5-in-11", 0, "");
	play_expect(state, "$Y audit check-proof proof --key " TRAIL_KEY, 0,
	    "good: entry 5 is in the trail yoke/21fe31dfa154a261\n");
	play_expect(state, "$Y audit check-proof - --key " SEAL "public-key <proof", 0, "who       anna (uid 1002)");
	play_expect(state, "sed 's/^path ./path B/' proof >bent; $Y audit check-proof bent --key " TRAIL_KEY, 1,
	    "NOT GOOD: bent: the event is not in the tree");
	play_expect(state, "$Y audit check-proof proof", 2, "");
	play_expect(state, "$Y audit check-proof --key " TRAIL_KEY, 2, "");
	play_expect(state, "$Y audit check-proof proof --limit 5 --key " TRAIL_KEY, 2, "");
	play_expect(state, "$Y audit prove", 2, "");
	fake_answer(fake(state), "GET /v1/audit/9/proof", 404, "{\"error\":\"no-event\",\"text\":\"none\"}");
	play_expect(state, "$Y audit prove 9", 1, "");
	fake_bytes(fake(state), "GET /v1/audit/8/proof", "yoke proof 1\n\033[2J", 17);
	play_expect(state, "$Y audit prove 8", 4, "");
}

static void test_keys(void **state)
{
	fake_answer(fake(state), "GET /v1/keys", 200, TRAIL_KEYS);
	play_expect(state, "$Y keys", 0, TRAIL_KEY "  from entry 1 on, ");
	play_expect(state, "$Y keys", 0, "sealed: entries 1 to 11 by checkpoint 3\n");
	play_expect(state, "$Y keys >list; $Y audit check-proof " SEAL "proof-of-1-in-1 --key list", 0, "good: entry 1");
	fake_answer(fake(state), "POST /v1/keys/rotate", 403, "{\"error\":\"owner\",\"text\":\"no\"}");
	play_expect(state, "$Y keys rotate", 1, "");
	play_expect(state, "$Y keys rotat", 2, "");
	play_expect(state, "$Y keys --lost", 2, "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_against, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_proofs, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_keys, play_setup, play_teardown),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
