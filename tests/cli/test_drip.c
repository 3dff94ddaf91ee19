/*
 * Goal: a drip feed is asked for one channel, its caution is printed before anything else, it is
 * followed for as long as the control likes, each end is said with the status that it has, and who
 * cancels or locks meanwhile is told what that does.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "play.h"

#define DRIP "POST /v1/machines/LATHE-1/drip"
#define FOLLOW "GET /v1/orders/7/follow"
#define CANCEL "POST /v1/orders/7/cancel"
#define MACHINE "GET /v1/machines/LATHE-1"
#define FEEDS                                                                                      \
	"{\"channel\":\"upper\",\"phase\":\"feed\",\"text\":\"dripping\",\"bytes\":600,\"total\":" \
	"1200,\"block\":40,\"left_ms\":1500}"
#define HELD                                                                                       \
	"{\"channel\":\"upper\",\"phase\":\"feed-held\",\"text\":\"held\",\"bytes\":600,"          \
	"\"total\":1200,\"block\":40}"
#define STOPS "the control stops when its buffer is empty"
#define CANCELLING "{\"order\":7,\"cancelling\":true,\"caution\":\"" STOPS "\"}"

static struct fake *fake(void **state)
{
	return ((struct play *)*state)->fake;
}

static void accept(void **state)
{
	fake_answer(fake(state), DRIP, 202,
	    "{\"order\":7,\"act\":\"drip\",\"machine\":\"LATHE-1\",\"job\":\"J4417\",\"revision\":"
	    "\"C\",\"channel\":\"upper\",\"caution\":\"Prove it out.\",\"state\":\"queued\"}");
	fake_answer(fake(state), MACHINE, 200,
	    "{\"name\":\"LATHE-1\",\"content\":\"loaded\",\"job\":\"J4000\",\"revision\":\"A\","
	    "\"parts\":[],\"read_back\":true,\"proven\":true}");
}

static void test_fed(void **state)
{
	static const char *const steps[] = {FEEDS, HELD, HELD, FEEDS,
	    "{\"end\":\"fed\",\"error\":\"none\",\"text\":\"all of it\"}", NULL};

	accept(state);
	fake_stream(fake(state), FOLLOW, steps);
	play_expect(state, "$Y drip J4417@C LATHE-1 upper", 0, NULL);
	assert_string_equal(play_out,
	    "order 7: drip J4417@C to machine LATHE-1, channel upper, queued\n"
	    "Prove it out.\n"
	    "fed: all of it\n"
	    "machine LATHE-1: J4000@A, read back, proven\n");
	assert_string_equal(play_err, "upper: dripping: 600 of 1200 bytes, 50 %, block 40, 2 s left\n"
	                              "upper: held: 600 of 1200 bytes, 50 %, block 40\n"
	                              "upper: dripping: 600 of 1200 bytes, 50 %, block 40, 2 s left\n");
	assert_string_equal(fake_body(fake(state), DRIP),
	    "{\"job\":\"J4417\",\"revision\":\"C\",\"channel\":\"upper\"}");
	play_expect(state, "$Y drip J4417 LATHE-1 upper --no-wait", 0, "Prove it out.");
	assert_string_equal(
	    fake_body(fake(state), DRIP), "{\"job\":\"J4417\",\"channel\":\"upper\"}");
	assert_int_equal(fake_seen(fake(state), FOLLOW), 1);
}

static void test_refused_and_misused(void **state)
{
	fake_answer(fake(state), DRIP, 409,
	    "{\"error\":\"drip\",\"text\":\"line 5: a wait code\"}");
	play_expect(state, "$Y drip J4417@C LATHE-1 upper", 1, "yoke: line 5: a wait code\n");
	assert_int_equal(fake_seen(fake(state), NULL), 1);
	play_expect(state, "$Y drip J4417@C LATHE-1", 2, "drip");
	play_expect(state, "$Y drip J4417@ LATHE-1 upper", 2, "is no JOB@REV");
	play_expect(state, "$Y drip @C LATHE-1 upper", 2, "is no JOB@REV");
	play_expect(state, "$Y drip J4417 LATHE-1 upper lower", 2, NULL);
	play_expect(state, "$Y drip J4417 LATHE-1 \"$(printf '\\377')\"", 2, "not valid UTF-8");
	assert_int_equal(fake_seen(fake(state), NULL), 1);
}

/* Cut short in the middle: said, with the status of what was not reached. */
static void test_stopped(void **state)
{
	static const char *const steps[] = {FEEDS,
	    "{\"end\":\"kept\",\"error\":\"lost\",\"text\":\"in block 41: lost; nothing is begun "
	    "again by itself\"}",
	    NULL};

	accept(state);
	fake_stream(fake(state), FOLLOW, steps);
	play_expect(state, "$Y drip J4417@C LATHE-1 upper", 4,
	    "kept: in block 41: lost; nothing is begun again by itself\n");
}

static void test_interrupt(void **state)
{
	static const char *const steps[] = {FEEDS, "!interrupt", "!seen " CANCEL,
	    "{\"end\":\"kept\",\"error\":\"cancelled\",\"text\":\"in block 41: cancelled\"}", NULL};

	accept(state);
	fake_stream(fake(state), FOLLOW, steps);
	fake_answer(fake(state), CANCEL, 200, CANCELLING);
	play_expect(state, "$Y drip J4417@C LATHE-1 upper", 4, "kept: in block 41: cancelled\n");
	assert_non_null(strstr(play_err, "cancelling order 7"));
	assert_non_null(strstr(play_err, STOPS));
	assert_int_equal(fake_seen(fake(state), CANCEL), 1);
}

/* Others who meet it: they are told what goes on. */
static void test_others(void **state)
{
	fake_answer(fake(state), CANCEL, 200, CANCELLING);
	play_expect(state, "$Y cancel 7", 0, "order 7 is being cancelled: see `yoke machines`\n" STOPS);
	fake_answer(fake(state), "POST /v1/machines/LATHE-1/lock", 200,
	    "{\"name\":\"LATHE-1\",\"content\":\"nothing\",\"locked\":true,"
	    "\"caution\":\"order 7 goes on\"}");
	play_expect(state, "$Y lock LATHE-1", 0, "order 7 goes on");
	fake_answer(fake(state), MACHINE, 200,
	    "{\"name\":\"LATHE-1\",\"content\":\"nothing\",\"parts\":[],\"orders\":[{\"order\":7,"
	    "\"state\":\"carrying\",\"act\":\"drip\",\"step\":\"feed\",\"job\":\"J4417\","
	    "\"revision\":\"C\"}],\"progress\":" FEEDS "}");
	play_expect(state, "$Y machines LATHE-1", 0, "! DRIPPING: the control executes a program");
	fake_answer(fake(state), MACHINE, 200,
	    "{\"name\":\"LATHE-1\",\"content\":\"nothing\",\"parts\":[],\"orders\":[{\"order\":7,"
	    "\"state\":\"carrying\",\"act\":\"drip\",\"step\":\"\",\"job\":\"J4417\"}]}");
	play_expect(state, "$Y machines LATHE-1", 0, NULL);
	assert_null(strstr(play_out, "DRIPPING"));
}

/* The help carries the cautions, and names no result as what it is not. */
static void test_help(void **state)
{
	static const char *const says[] = {"single block", "rapid override low", "guard closed",
	    "feed hold", "offsets of both channels", "middle of a cut", "setter's\n", "yoke restart",
	    "yoke fetch", "machine\nbuilder's manual", "local regulations",
	    "trained and authorised persons", "A lock does not stop it"};

	play_expect(state, "$Y drip --help", 0, NULL);
	for (size_t i = 0; i < sizeof(says) / sizeof(says[0]); i++)
		if (!strstr(play_out, says[i]))
			fail_msg("the help does not say '%s'", says[i]);
	assert_null(strstr(play_out, "safe"));
	play_expect(state, "$Y help", 0, "drip       feed one program");
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, play_setup, play_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(test_fed),
	    TEST(test_refused_and_misused),
	    TEST(test_stopped),
	    TEST(test_interrupt),
	    TEST(test_others),
	    TEST(test_help),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
