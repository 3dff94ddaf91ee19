/*
 * Goal: an order is followed to its end whatever that is, what the machine holds is said, and a
 * Ctrl-C cancels it once; and events are followed until Ctrl-C.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <string.h>
#include "play.h"

#define SUM_A "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
#define SEND "POST /v1/machines/LATHE-1/send"
#define FETCH "POST /v1/machines/LATHE-1/fetch"
#define FOLLOW "GET /v1/orders/7/follow"
#define CANCEL "POST /v1/orders/7/cancel"
#define MACHINE "GET /v1/machines/LATHE-1"
#define HALF                                                                                       \
	"{\"channel\":\"upper\",\"phase\":\"send\",\"text\":\"sending\",\"bytes\":600,\"total\":"  \
	"1200,"                                                                                    \
	"\"block\":40,\"left_ms\":1500}"

static struct fake *fake(void **state)
{
	return ((struct play *)*state)->fake;
}

static void accept_order(void **state, const char *request, const char *act)
{
	char body[600];

	snprintf(body, sizeof(body),
	    "{\"order\":7,\"act\":\"%s\",\"machine\":\"LATHE-1\",\"job\":\"J4417\",\"revision\":"
	    "\"C\","
	    "\"caution\":\"Prove it out.\",\"state\":\"queued\"}",
	    act);
	fake_answer(fake(state), request, 202, body);
}

static void holds(void **state, const char *content, const char *more)
{
	char body[600];

	snprintf(body, sizeof(body),
	    "{\"name\":\"LATHE-1\",\"content\":\"%s\",\"job\":\"J4417\",\"revision\":\"C\","
	    "\"parts\":[{\"channel\":\"upper\",\"sha256\":\"" SUM_A
	    "\"},{\"channel\":\"lower\",\"sha256\":null}]%s}",
	    content, more);
	fake_answer(fake(state), MACHINE, 200, body);
}

static void test_carried(void **state)
{
	static const char *const steps[] = {
	    "{\"channel\":\"upper\",\"phase\":\"open\",\"text\":\"opening the line\"}", HALF, "",
	    HALF, "+{\"end\":\"carr", "+ied\",\"error\":\"none\",\"text\":\"both compared\"}\n",
	    NULL};

	accept_order(state, SEND, "send");
	fake_stream(fake(state), FOLLOW, steps);
	holds(state, "loaded", ",\"read_back\":true,\"proven\":false");
	play_expect(state, "$Y send J4417@C LATHE-1", 0, NULL);
	assert_string_equal(play_out, "order 7: send J4417@C to machine LATHE-1, queued\n"
	                              "Prove it out.\n"
	                              "carried: both compared\n"
	                              "machine LATHE-1: J4417@C, read back, not proven\n");
	assert_string_equal(play_err,
	    "upper: opening the line\n"
	    "upper: sending: 600 of 1200 bytes, 50 %, block 40, 2 s left\n");
	assert_string_equal(fake_body(fake(state), SEND), "{\"job\":\"J4417\",\"revision\":\"C\"}");
	play_expect(state, "$Y send J4417 LATHE-1", 0, NULL);
	assert_string_equal(fake_body(fake(state), SEND), "{\"job\":\"J4417\"}");
	play_expect(state, "$Y send A@B@C LATHE-1", 0, NULL);
	assert_string_equal(fake_body(fake(state), SEND), "{\"job\":\"A@B\",\"revision\":\"C\"}");
	play_expect(state,
	    "$Y send J4417 LATHE-1 --json | jq -c '[.order, .phase, .end, .content]'", 0, NULL);
	assert_string_equal(play_out,
	    "[7,null,null,null]\n[null,\"open\",null,null]\n"
	    "[null,\"send\",null,null]\n[null,\"send\",null,null]\n"
	    "[null,null,\"carried\",null]\n[null,null,null,\"loaded\"]\n");
	assert_string_equal(play_err, "");
	assert_int_equal(fake_seen(fake(state), CANCEL), 0);
}

static void test_no_wait(void **state)
{
	accept_order(state, "POST /v1/machines/LATHE-1/restore", "restore");
	play_expect(state, "$Y restore LATHE-1 --yes --no-wait", 0,
	    "order 7: restore J4417@C to machine LATHE-1, queued\nProve it out.\n");
	assert_int_equal(fake_seen(fake(state), NULL), 1);
}

/* Nobody is there to be asked: nothing is carried, and nothing is guessed. */
static void test_restore_asks(void **state)
{
	fake_answer(fake(state), "GET /v1/machines/LATHE-1", 200,
	    "{\"name\":\"LATHE-1\",\"content\":\"unknown\",\"last_good\":{\"job\":\"J4417\",\"revision\":\"C\","
	    "\"parts\":[]}}");
	accept_order(state, "POST /v1/machines/LATHE-1/restore", "restore");
	play_expect(state, "COLUMNS=400 $Y restore LATHE-1 </dev/null", 2, "yoke: restore: nobody can be asked");
	assert_non_null(strstr(play_out, "back: J4417@C, proven "));
	assert_non_null(strstr(play_out, "single block"));
	assert_int_equal(fake_seen(fake(state), "POST /v1/machines/LATHE-1/restore"), 0);
	play_expect(state, "$Y restore LATHE-1 --show", 0, "back: J4417@C, proven ");
	assert_int_equal(fake_seen(fake(state), "POST /v1/machines/LATHE-1/restore"), 0);
	play_expect(state, "$Y restore LATHE-1 --json", 2, "needs --yes");
	play_expect(state, "$Y restore LATHE-1 --yes --show", 2, "one of them");
	play_expect(state, "$Y restore LATHE-1 --pair J4417 --yes", 2, "which revision");
	play_expect(state, "$Y restore LATHE-1 --pair J4417@B --yes --no-wait", 0, NULL);
	assert_string_equal(fake_body(fake(state), "POST /v1/machines/LATHE-1/restore"),
	    "{\"job\":\"J4417\",\"revision\":\"B\"}");
}

static void test_refused(void **state)
{
	fake_answer(fake(state), SEND, 409,
	    "{\"error\":\"held\",\"text\":\"job J4417 revision C is held and is not sent: mate "
	    "missing\"}");
	play_expect(state, "$Y send J4417@C LATHE-1", 1,
	    "yoke: job J4417 revision C is held and is not sent: mate missing\n");
	assert_string_equal(play_out, "");
	assert_int_equal(fake_seen(fake(state), NULL), 1);
	fake_answer(fake(state), SEND, 202, "{\"act\":\"send\"}");
	play_expect(state, "$Y send J4417@C LATHE-1", 4, "no order in it");
}

/* Each end that is not both programs on the machine has a status of its own, and says what is
 * there. */
static void test_not_carried(void **state)
{
	static const struct {
		const char *end, *content, *said;
	} cases[] = {
	    {"kept", "loaded", "machine LATHE-1: J4417@C, not read back, not proven\n"},
	    {"failed", "nothing", "machine LATHE-1: nothing was carried there\n"},
	    {"split", "split", "do not run it\n  upper " SUM_A "\n  lower not known\n"},
	    {"unknown", "unknown", "machine LATHE-1: UNKNOWN: "},
	};
	char line[200];
	const char *steps[] = {line, NULL};

	accept_order(state, SEND, "send");
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		snprintf(line, sizeof(line),
		    "{\"end\":\"%s\",\"error\":\"stall\",\"text\":\"memory full\"}", cases[i].end);
		fake_stream(fake(state), FOLLOW, steps);
		holds(state, cases[i].content, "");
		play_expect(state, "$Y send J4417@C LATHE-1", 4, cases[i].said);
		snprintf(line, sizeof(line), "%s: memory full\n", cases[i].end);
		assert_non_null(strstr(play_out, line));
	}
}

/* An order that ended before it could be followed answers with one JSON object. */
static void test_ended_already(void **state)
{
	accept_order(state, SEND, "send");
	holds(state, "loaded", "");
	fake_answer(
	    fake(state), FOLLOW, 200, "{\"end\":\"done\",\"error\":\"\",\"text\":\"all well\"}");
	play_expect(state, "$Y send J4417@C LATHE-1", 0, "done: all well\n");
	fake_answer(
	    fake(state), FOLLOW, 200, "{\"end\":\"failed\",\"error\":\"\",\"text\":\"offline\"}");
	play_expect(state, "$Y send J4417@C LATHE-1", 4, "failed: offline\n");
}

/* Nothing is said about the outcome of an order whose end was not seen. */
static void test_broken_off(void **state)
{
	static const char *const steps[] = {HALF, "!break", NULL};
	static const char *const no_end[] = {HALF, NULL};

	accept_order(state, SEND, "send");
	fake_stream(fake(state), FOLLOW, steps);
	play_expect(state, "$Y send J4417@C LATHE-1", 4, "its outcome is not known here");
	fake_stream(fake(state), FOLLOW, no_end);
	play_expect(state, "$Y send J4417@C LATHE-1", 4, "its outcome is not known here");
	fake_answer(fake(state), FOLLOW, 500, "{\"error\":\"vault\",\"text\":\"disk full\"}");
	play_expect(state, "$Y send J4417@C LATHE-1", 4, "yoke: disk full\n");
	assert_non_null(strstr(play_err, "its outcome is not known here"));
	assert_int_equal(fake_seen(fake(state), MACHINE), 0);
}

static void test_interrupt(void **state)
{
	static const char *const steps[] = {HALF, "!interrupt", "!seen " CANCEL,
	    "{\"end\":\"cancelled\",\"error\":\"cancelled\",\"text\":\"the old pair is there\"}",
	    NULL};

	accept_order(state, SEND, "send");
	fake_stream(fake(state), FOLLOW, steps);
	fake_answer(fake(state), CANCEL, 200, "{\"order\":7,\"cancelling\":true}");
	holds(state, "loaded", ",\"read_back\":true");
	play_expect(state, "$Y send J4417@C LATHE-1", 4,
	    "cancelled: the old pair is there\nmachine LATHE-1: J4417@C, read back, not proven\n");
	assert_non_null(strstr(play_err, "cancelling order 7"));
	assert_int_equal(fake_seen(fake(state), CANCEL), 1);
	assert_string_equal(fake_body(fake(state), CANCEL), "{}");
}

static void test_interrupt_twice(void **state)
{
	static const char *const steps[] = {
	    HALF, "!interrupt", "!seen " CANCEL, "!interrupt", "!gone", NULL};

	accept_order(state, SEND, "send");
	fake_stream(fake(state), FOLLOW, steps);
	fake_answer(fake(state), CANCEL, 200, "{\"order\":7,\"cancelling\":true}");
	play_expect(state, "$Y send J4417@C LATHE-1", 4, "order 7 is left to the service");
	assert_int_equal(fake_seen(fake(state), CANCEL), 1);
}

/* A Ctrl-C before the order has a number is kept until it has one. */
static void test_interrupt_early(void **state)
{
	static const char *const answer[] = {"!interrupt",
	    "{\"order\":7,\"act\":\"send\",\"machine\":\"LATHE-1\",\"state\":\"queued\"}", NULL};
	static const char *const steps[] = {"!seen " CANCEL,
	    "{\"end\":\"cancelled\",\"error\":\"cancelled\",\"text\":\"before it began\"}", NULL};

	fake_stream(fake(state), SEND, answer);
	fake_stream(fake(state), FOLLOW, steps);
	fake_answer(fake(state), CANCEL, 200, "{\"order\":7,\"cancelling\":true}");
	holds(state, "nothing", "");
	play_expect(state, "$Y send J4417@C LATHE-1 --no-wait", 4, "cancelled: before it began\n");
	assert_int_equal(fake_seen(fake(state), CANCEL), 1);
}

/* A cancel that comes too late is said, and the outcome counts. */
static void test_interrupt_late(void **state)
{
	static const char *const steps[] = {HALF, "!interrupt", "!seen " CANCEL,
	    "{\"end\":\"carried\",\"error\":\"none\",\"text\":\"both compared\"}", NULL};

	accept_order(state, SEND, "send");
	fake_stream(fake(state), FOLLOW, steps);
	fake_answer(fake(state), CANCEL, 409,
	    "{\"error\":\"ended\",\"text\":\"order 7 is not under way\"}");
	holds(state, "loaded", "");
	play_expect(state, "$Y send J4417@C LATHE-1", 0, "carried: both compared\n");
	assert_non_null(strstr(play_err, "order 7 is not under way"));
}

static void test_fetch(void **state)
{
	static const char *const good[] = {
	    "{\"end\":\"fetched\",\"error\":\"none\",\"text\":\"same\"}", NULL};
	static const char *const drift[] = {
	    "{\"end\":\"drift\",\"error\":\"none\",\"text\":\"differs\"}", NULL};
	static const char audit[] = "GET /v1/audit?machine=LATHE-1&kind=fetched&limit=100";
	char events[800];

	accept_order(state, FETCH, "fetch");
	fake_stream(fake(state), FOLLOW, good);
	holds(state, "loaded", ",\"read_back\":true");
	play_expect(state, "$Y fetch LATHE-1", 0,
	    "order 7: fetch from machine LATHE-1, queued\nfetched: same\n");
	assert_null(strstr(play_out, "Prove it out"));
	assert_string_equal(fake_body(fake(state), FETCH), "{}");
	snprintf(events, sizeof(events),
	    "{\"events\":[{\"order\":8,\"parts\":[{\"channel\":\"upper\",\"after\":\"%064d\"}]},"
	    "{\"order\":7,\"parts\":[{\"channel\":\"upper\",\"after\":\"" SUM_A "\"}]}]}",
	    0);
	fake_answer(fake(state), audit, 200, events);
	fake_bytes(fake(state), "GET /v1/programs/" SUM_A, "abc", 3);
	play_expect(state,
	    "$Y fetch LATHE-1 upper --out got && printf abc | cmp - got/LATHE-1.upper.nc && ls got",
	    0, "LATHE-1.upper.nc\n");
	assert_string_equal(fake_body(fake(state), FETCH), "{\"channel\":\"upper\"}");
	/* Again: nothing is overwritten. */
	play_expect(state, "$Y fetch LATHE-1 --out got", 2, "got/LATHE-1.upper.nc cannot be made");
	/* Other programs than were carried there: written, and told by the status. */
	fake_stream(fake(state), FOLLOW, drift);
	play_expect(state, "$Y fetch LATHE-1 --out new", 1, "drift: differs\n");
	play_expect(state, "printf abc | cmp - new/LATHE-1.upper.nc", 0, NULL);
	/* The same of a fetch that had ended before it could be followed. */
	fake_answer(fake(state), FOLLOW, 200, "{\"end\":\"done\",\"error\":\"\",\"text\":\"t\"}");
	holds(state, "loaded", ",\"drift\":true");
	play_expect(state, "$Y fetch LATHE-1", 1, "CHANGED at the machine");
	/* A channel's name is no way out of the folder. */
	fake_answer(fake(state), audit, 200,
	    "{\"events\":[{\"order\":7,\"parts\":[{\"channel\":\"/../../x\",\"after\":\"" SUM_A
	    "\"}]}]}");
	play_expect(state, "$Y fetch LATHE-1 --out new", 4, "cannot be the name of a file");
	play_expect(state, "test ! -e x.nc && test ! -e ../x.nc", 0, NULL);
	fake_answer(fake(state), audit, 200, "{\"events\":[]}");
	play_expect(state, "$Y fetch LATHE-1 --out new", 4, "nothing that order 7 brought");
}

/* On a terminal the progress is one line that is written over. */
static void test_terminal(void **state)
{
	static const char *const steps[] = {HALF, "{\"channel\":\"lower\",\"text\":\"opening\"}",
	    "{\"end\":\"carried\",\"error\":\"none\",\"text\":\"well\"}", NULL};

	accept_order(state, SEND, "send");
	fake_stream(fake(state), FOLLOW, steps);
	holds(state, "loaded", "");
	play_expect(state, "script -qec '$Y send J4417@C LATHE-1' typed", 0, "carried: well");
	assert_non_null(strstr(play_out,
	    "\rupper: sending: 600 of 1200 bytes, 50 %, block 40, 2 s left\rlower: opening     "));
	/* Never more than one line, in the narrowest window. */
	play_expect(
	    state, "COLUMNS=20 script -qec '$Y send J4417@C LATHE-1' typed", 0, "carried: well");
	assert_non_null(strstr(play_out, "\rupper: sending: 600\rlower: opening     \r\n"));
}

static void test_follow(void **state)
{
	static const char *const steps[] = {
	    "{\"seq\":9,\"time\":\"2031-04-05T06:07:08.5Z\",\"kind\":\"queued\",\"who\":\"anna\","
	    "\"machine\":\"LATHE-1\",\"job\":\"J4417\",\"revision\":\"C\",\"order\":9,\"outcome\":"
	    "\"send\"}",
	    "", "!wrote .out", "!interrupt", "!gone", NULL};
	static const char *const on[] = {"{\"seq\":9}", "!wrote .out", "!again", NULL};
	static const char *const ends[] = {"{\"seq\":10,\"kind\":\"stopped\",\"x\":[1]}", NULL};

	fake_stream(fake(state), "GET /v1/follow", steps);
	play_expect(state, "$Y follow", 0, NULL);
	assert_string_equal(play_out, "     9  2031-04-05 08:07:08  queued       machine LATHE-1  "
	                              "J4417@C  order 9  send  by anna\n");
	fake_stream(fake(state), "GET /v1/follow", ends);
	play_expect(state, "$Y follow --json", 4, "the service has ended the stream");
	assert_string_equal(play_out, "{\"seq\":10,\"kind\":\"stopped\",\"x\":[1]}\n");
	fake_answer(fake(state), "GET /v1/follow", 503,
	    "{\"error\":\"many\",\"text\":\"too many follow\"}");
	play_expect(state, "$Y follow", 4, "yoke: follow: too many follow\n");
	/* A reader that goes away ends it. */
	fake_stream(fake(state), "GET /v1/follow", on);
	play_expect(state, "$Y follow | head -c 1", 0, " ");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_carried, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_no_wait, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_restore_asks, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_refused, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_not_carried, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_ended_already, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_broken_off, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_interrupt, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_interrupt_twice, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_interrupt_early, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_interrupt_late, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_fetch, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_terminal, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_follow, play_setup, play_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
