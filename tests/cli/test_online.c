/*
 * Goal: the verbs that ask the service, run as a person runs them against a service that answers
 * what the test says: what they ask, what they show, how they end, and that no text of the service
 * drives a terminal.
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
#include "play.h"

#define SUM_A "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
#define SUM_B "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
#define PROGRAM_A "program " SUM_A
#define SHOW_A "$Y " PROGRAM_A
#define PARTS                                                                                      \
	"[{\"channel\":\"upper\",\"sha256\":\"" SUM_A "\"},{\"channel\":\"lower\",\"sha256\":"     \
	"null}]"
#define FLAGS                                                                                      \
	"\"read_back\":true,\"proven\":false,\"drift\":false,\"offline\":false,\"abandoned\":"     \
	"false,"
#define LOADED                                                                                     \
	"{\"name\":\"LATHE-1\",\"title\":\"at the "                                                \
	"window\",\"line\":\"serial\",\"content\":\"loaded\","                                     \
	"\"job\":\"J4417\",\"revision\":\"C\",\"parts\":" PARTS "," FLAGS "\"locked\":false,"      \
	"\"since\":\"2031-04-05T22:07:08.123456Z\",\"by\":\"anna (uid 1002)\",\"text\":\"done\","  \
	"\"last_good\":{\"job\":\"J4417\",\"revision\":\"B\",\"parts\":" PARTS                     \
	",\"since\":\"2031-04-01T08:00:00Z\",\"by\":\"bert (uid 1003)\"},\"orders\":[" ORDER "]}"
#define ORDER                                                                                      \
	"{\"order\":12,\"state\":\"queued\",\"act\":\"send\",\"machine\":\"LATHE-1\",\"job\":"     \
	"\"J4500\","                                                                               \
	"\"revision\":\"A\",\"parts\":[],\"by\":\"anna (uid "                                      \
	"1002)\",\"since\":\"2031-04-05T22:09:00Z\"}"
#define OTHER(name, content, locked)                                                               \
	"{\"name\":\"" name "\",\"title\":\"\",\"line\":\"directory\",\"content\":\"" content      \
	"\",\"parts\":[]," FLAGS "\"locked\":" locked                                              \
	",\"lock_text\":\"jaws\",\"last_good\":null,"                                              \
	"\"orders\":[]}"

static struct fake *fake(void **state)
{
	return ((struct play *)*state)->fake;
}

static size_t longest_line(const char *s)
{
	size_t most = 0;

	while (*s) {
		size_t n = strcspn(s, "\n");

		most = n > most ? n : most;
		s += n + (s[n] != '\0');
	}
	return most;
}

static void test_machines(void **state)
{
	fake_answer(fake(state), "GET /v1/machines", 200,
	    "{\"machines\":[" LOADED "," OTHER("LATHE-2", "split", "false") "," OTHER(
	        "LATHE-3", "unknown", "false") "," OTHER("LATHE-4", "nothing", "true") "]}");
	play_expect(state, "$Y machines", 0,
	    "MACHINE     HOLDS    STATE    READ BACK  PROVEN  SINCE             BY\n"
	    "LATHE-1     J4417@C  loaded   yes        no      2031-04-06 00:07  anna (uid\n"
	    "                                                                   1002)\n"
	    "    1 order waiting\n"
	    "!! LATHE-2           SPLIT\n"
	    "    !! SPLIT: the channels do not hold the programs of one pair. Do not run it:\n"
	    "    `yoke send JOB LATHE-2` carries a pair.\n"
	    "!! LATHE-3           UNKNOWN\n"
	    "    !! UNKNOWN: what it holds is not known. Do not run it: `yoke fetch LATHE-3`\n"
	    "    looks; `yoke send JOB LATHE-3` carries a pair.\n"
	    "LATHE-4              nothing\n"
	    "    ! LOCKED: nothing is sent until it is unlocked: jaws\n");
	assert_true(longest_line(play_out) <= 80);
	play_expect(state, "COLUMNS=40 $Y machines", 0, "!! SPLIT");
	assert_true(longest_line(play_out) <= 60); /* seven columns have a least width */
	play_expect(state, "$Y machines --json | jq -r '.machines[1].content'", 0, "split\n");
	fake_answer(fake(state), "GET /v1/machines", 200, "{\"machines\":[]}");
	play_expect(state, "$Y machines", 0, "no machine is set up");
}

static void test_machine(void **state)
{
	fake_answer(fake(state), "GET /v1/machines/LATHE-1", 200, LOADED);
	play_expect(state, "$Y machines LATHE-1", 0,
	    "machine LATHE-1: J4417@C, read back, not proven\n"
	    "1 order waiting\n"
	    "title: at the window\n"
	    "line: serial\n"
	    "holds: loaded, since 2031-04-06 00:07:08 by anna (uid 1002)\n"
	    "  upper " SUM_A "\n"
	    "  lower not known\n"
	    "last good pair: J4417@B, since 2031-04-01 10:00:00 by bert (uid 1003)\n");
	assert_non_null(strstr(play_out, "12     queued  send  J4500@A  LATHE-1"));
	fake_answer(
	    fake(state), "GET /v1/machines/a%2F%20%C3%BC", 200, OTHER("x", "split", "false"));
	play_expect(state, "$Y machines 'a/ \303\274'", 0, "machine x: SPLIT");
}

static void test_jobs(void **state)
{
	fake_answer(fake(state), "GET /v1/jobs", 200,
	    "{\"jobs\":[{\"machine\":null,\"job\":\"J4417\",\"revision\":\"C\",\"state\":\"held\","
	    "\"verdict\":\"disagree\",\"parts\":[],\"since\":\"2031-04-05T06:07:08Z\",\"by\":"
	    "\"anna\","
	    "\"text\":\"wait-missing: lower has ended\"},"
	    "{\"machine\":\"LATHE-1\",\"job\":\"J4418\",\"revision\":\"\",\"state\":\"released\","
	    "\"verdict\":\"agree\",\"parts\":[],\"since\":\"2031-04-05T06:07:08Z\",\"by\":\"bert\"}"
	    "]}");
	play_expect(state, "$Y jobs", 0,
	    "PAIR     STATE     VERDICT   FOR      SINCE             BY\n"
	    "J4417@C  held      disagree  any      2031-04-05 08:07  anna\n"
	    "    wait-missing: lower has ended\n"
	    "J4418    released  agree     LATHE-1  2031-04-05 08:07  bert\n");
	fake_answer(fake(state), "GET /v1/jobs/J4417", 200,
	    "{\"job\":\"J4417\",\"pairs\":[{\"machine\":null,\"job\":\"J4417\",\"revision\":\"C\","
	    "\"state\":\"held\",\"verdict\":\"disagree\",\"parts\":" PARTS
	    ",\"since\":\"2031-04-05T06:07:08Z\",\"by\":\"anna\",\"text\":\"t\",\"report\":{"
	    "\"findings\":[{\"name\":\"wait-missing\",\"weight\":\"refuse\",\"channel\":\"lower\","
	    "\"file\":\"a.nc\",\"line\":3,\"col\":1,\"text\":\"lower has ended\",\"remedy\":\"add "
	    "M201\","
	    "\"also\":{\"file\":\"b.nc\",\"line\":4,\"col\":2}},{\"name\":\"mate\",\"weight\":"
	    "\"warn\","
	    "\"file\":\"\",\"line\":0,\"col\":0,\"text\":\"x\",\"remedy\":\"\",\"also\":null}],"
	    "\"caution\":\"Prove it out.\"}}]}");
	play_expect(state, "$Y job J4417", 0,
	    "J4417@C: held, wait codes: disagree, since 2031-04-05 08:07:08 by anna\n"
	    "  upper " SUM_A "\n"
	    "  lower missing\n"
	    "a.nc:3:1: refuse: lower has ended [wait-missing]\n"
	    "    b.nc:4:2: the other place\n"
	    "    add M201\n"
	    "pair: warn: x [mate]\n"
	    "Prove it out.\n");
}

static void test_orders(void **state)
{
	fake_answer(fake(state), "GET /v1/orders?machine=LATHE-1", 200, "{\"orders\":[" ORDER "]}");
	fake_answer(fake(state), "GET /v1/orders?open=no", 200, "{\"orders\":[]}");
	fake_answer(
	    fake(state), "POST /v1/orders/12/cancel", 200, "{\"order\":12,\"cancelling\":true}");
	play_expect(state, "$Y orders LATHE-1", 0,
	    "12     queued  send  J4500@A  LATHE-1  2031-04-06 00:09");
	play_expect(state, "$Y orders --all", 0, "no order waits and none is under way\n");
	play_expect(state, "$Y cancel 12", 0, "order 12 is being cancelled");
	assert_int_equal(fake_seen(fake(state), "POST /v1/orders/12/cancel"), 1);
	fake_answer(fake(state), "POST /v1/orders/12/next", 200, ORDER);
	play_expect(state, "$Y next 12", 0, "order 12 goes next on machine LATHE-1\n");
}

static void test_status(void **state)
{
	fake_answer(fake(state), "GET /v1/status", 200,
	    "{\"version\":\"9.9\",\"programs\":\"/srv/p\",\"machines\":2,\"folder\":{\"files\":7,"
	    "\"waiting\":1,\"ignored\":3,\"refused\":2,\"offline\":false}}");
	play_expect(state, "$Y status", 0,
	    "yoked 9.9 answers; machines: 2\nfolder /srv/p\n"
	    "  files 7, waiting 1, left alone 3, no programs 2\n");
}

static void test_notes(void **state)
{
	fake_answer(fake(state), "POST /v1/machines/LATHE-1/prove", 200, LOADED);
	fake_answer(fake(state), "POST /v1/machines/LATHE-1/lock", 200, LOADED);
	fake_answer(fake(state), "POST /v1/machines/LATHE-1/unlock", 200, LOADED);
	play_expect(state, "$Y prove LATHE-1 --note 'first \"part\" good'", 0, "marked as proven");
	assert_string_equal(fake_body(fake(state), "POST /v1/machines/LATHE-1/prove"),
	    "{\"note\":\"first \\\"part\\\" good\"}");
	play_expect(state, "$Y lock LATHE-1", 0, "LATHE-1: locked");
	assert_string_equal(fake_body(fake(state), "POST /v1/machines/LATHE-1/lock"), "{}");
	play_expect(state, "$Y unlock LATHE-1 --json | jq -r .name", 0, "LATHE-1\n");
	play_expect(state, "$Y lock LATHE-1 --note \"$(printf '\\377')\"", 2, "not valid UTF-8");
	assert_int_equal(fake_seen(fake(state), NULL), 3);
}

/* What the command itself refuses is never asked. */
static void test_wrong_use(void **state)
{
	static const char *const lines[] = {"$Y machines A B", "$Y job", "$Y send J4417",
	    "$Y send J4417@ M", "$Y send @C M", "$Y restore", "$Y fetch", "$Y fetch A B C",
	    "$Y fetch A --out x --no-wait", "$Y cancel", "$Y cancel -- -1", "$Y cancel 1x",
	    "$Y cancel ''", "$Y audit verfy", "$Y audit verify --job J", "$Y audit --no-programs",
	    "$Y audit --json --csv", "$Y archive a", "$Y archive --before 2031", "$Y archive --before 2031-02-30 a",
	    "$Y archive --before soon a", "$Y archive --before 2031 a --json", "$Y audit check-archive a",
	    "$Y audit check-archive --key KEY", "$Y audit report", "$Y audit --limit 0", "$Y audit --limit x",
	    "$Y audit --kind explosion", "$Y audit --from tomorrow", "$Y audit --to 2031-02-30",
	    "$Y program", "$Y program 12", SHOW_A " --json", "$Y follow x", "$Y machines --colour",
	    "$Y machines --home"};

	for (size_t i = 0; i < sizeof(lines) / sizeof(lines[0]); i++) {
		play_expect(state, lines[i], 2, "yoke: ");
		assert_string_equal(play_out, "");
	}
	assert_int_equal(fake_seen(fake(state), NULL), 0);
}

static void test_failures(void **state)
{
	static const char *const verbs[] = {"status", "machines", "machines M", "jobs", "job J",
	    "send J M", "restore M", "fetch M", "export J M .", "import M .", "loaded M", "orders", "cancel 1", "prove M", "lock M",
	    "unlock M", "audit", "audit verify", "audit report J", "archive --before 2031 a", "follow", PROGRAM_A};
	char line[200];

	for (size_t i = 0; i < sizeof(verbs) / sizeof(verbs[0]); i++) {
		snprintf(line, sizeof(line), "$Y %s --home nowhere", verbs[i]);
		play_expect(state, line, 4, "no service answers at nowhere/yoke.sock");
		snprintf(line, sizeof(line), "$Y %s --help", verbs[i]);
		play_expect(state, line, 0, "Example:\n  yoke ");
	}
	play_expect(state, "YOKE_HOME=nowhere $Y jobs", 4, "nowhere/yoke.sock");
	play_expect(state, "$Y jobs --socket other.sock", 4, "no service answers at other.sock");
	fake_answer(fake(state), "GET /v1/jobs", 409, "{\"error\":\"e\",\"text\":\"not now\"}");
	play_expect(state, "$Y jobs", 1, "yoke: not now\n");
	assert_string_equal(play_out, "");
	fake_answer(
	    fake(state), "GET /v1/jobs", 500, "{\"error\":\"vault\",\"text\":\"disk full\"}");
	play_expect(state, "$Y jobs", 4, "yoke: disk full\n");
	fake_answer(fake(state), "GET /v1/jobs", 500, "<html>");
	play_expect(state, "$Y jobs", 4, "status 500");
	fake_answer(fake(state), "GET /v1/jobs", 200, "{\"jobs\":[");
	play_expect(state, "$Y jobs", 4, "no JSON object");
	fake_answer(fake(state), "GET /v1/jobs", 200, "[]");
	play_expect(state, "$Y jobs", 4, "no JSON object");
	fake_answer(fake(state), "GET /v1/jobs", 200, "");
	play_expect(state, "$Y jobs", 4, "no JSON object");
	fake_answer(fake(state), "GET /v1/jobs", 0, "");
	play_expect(state, "$Y jobs", 4, "talking to the service at ./yoke.sock failed");
	/* Values of other types than the API's are as if they were not there. */
	fake_answer(
	    fake(state), "GET /v1/jobs", 200, "{\"jobs\":[7,null,{\"job\":7,\"since\":{}}]}");
	play_expect(state, "$Y jobs", 0, "PAIR");
}

#define EVENT                                                                                      \
	"{\"seq\":9,\"time\":\"2031-04-05T06:07:08.5Z\",\"kind\":\"carried\",\"who\":\"anna (uid " \
	"1002)\", "                                                                                \
	"\"from\":\"carrier\",\"machine\":\"LATHE-1\",\"job\":\"J4417\",\"revision\":\"C\","       \
	"\"order\":7,"                                                                             \
	"\"outcome\":\"none\",\"text\":\"b,\\\"bb\\\"\",\"parts\":[{\"channel\":\"upper\","        \
	"\"before\":\"" SUM_B "\",\"after\":\"" SUM_A                                              \
	"\"},{\"channel\":\"lower\",\"before\":\"" SUM_A "\",\"after\":\"" SUM_A                   \
	"\"}],\"hash\":\"" SUM_B "\"}"

static void test_audit(void **state)
{
	fake_answer(fake(state), "GET /v1/audit?limit=200", 200,
	    "{\"events\":[" EVENT
	    ",{\"seq\":8,\"time\":\"x\",\"kind\":\"held\",\"text\":\"=1+1\"}]}");
	play_expect(state, "$Y audit", 0,
	    "SEQ  TIME                 KIND     MACHINE  PAIR     WHO\n"
	    "9    2031-04-05 08:07:08  carried  LATHE-1  J4417@C  anna (uid 1002)\n"
	    "    order 7 none: b,\"bb\"\n"
	    "    upper e3b0c44298fc -> ba7816bf8f01, lower ba7816bf8f01 as before\n");
	play_expect(state, "$Y audit --json | jq -s -r '.[0].parts[1].after + \" \" + .[1].kind'",
	    0, SUM_A " held\n");
	/* RFC 4180, section 2: lines end with CRLF (rule 1), a header (3), quotes around a field
	 * with a comma or quotes (6), quotes doubled in it (7). */
	play_expect(state, "$Y audit --csv", 0, NULL);
	assert_string_equal(play_out,
	    "seq,time,kind,who,from,machine,job,revision,order,outcome,text,parts,hash\r\n"
	    "9,2031-04-05T06:07:08.5Z,carried,anna (uid 1002),carrier,LATHE-1,J4417,C,7,none,"
	    "\"b,\"\"bb\"\"\",\"upper " SUM_B " -> " SUM_A ", lower " SUM_A " -> " SUM_A "\"," SUM_B
	    "\r\n"
	    "8,x,held,,,,,,,,'=1+1,,\r\n");
	/* date(1) is the outside word on moments: TZ is XXX-2. */
	play_run(state,
	    "printf 'GET "
	    "/v1/audit?job=a%%26b&machine=M&who=anna%%20x&kind=held&text=F0.3&from=%s&to=%s&limit=5' "
	    "$(date -d '2031-04-05 00:00' +%s) $(date -d '2031-04-07 00:00' +%s)");
	fake_answer(fake(state), play_out, 200, "{\"events\":[]}");
	play_expect(state,
	    "$Y audit --job 'a&b' --machine M --who 'anna x' --kind held --text F0.3 --from 2031-04-05 --to "
	    "2031-04-06 --limit 5",
	    0, "no entry is like this");
	play_run(state, "printf 'GET /v1/audit?from=%s&to=%s&limit=200' "
	                "$(date -d '2031-01-01' +%s) $(date -d '2033-01-01' +%s)");
	fake_answer(fake(state), play_out, 200, "{\"events\":[]}");
	play_expect(state, "$Y audit --from 2031 --to 2032", 0, "no entry");
	play_run(state, "printf 'GET /v1/audit?from=%s&to=%s&limit=200' "
	                "$(date -d '2031-04-05 06:07' +%s) $(date -d '2031-04-05 06:07:09' +%s)");
	fake_answer(fake(state), play_out, 200, "{\"events\":[]}");
	play_expect(
	    state, "$Y audit --from 2031-04-05T06:07 --to '2031-04-05 06:07:09'", 0, "no entry");
}

static void test_verify(void **state)
{
	fake_answer(fake(state), "GET /v1/audit/verify", 200,
	    "{\"good\":true,\"events\":9,\"first_bad\":0,\"head\":\"" SUM_A
	    "\",\"text\":\"9 entries\"}");
	play_expect(state, "$Y audit verify", 0, "good: 9 entries\nhead of the chain: " SUM_A "\n");
	fake_answer(fake(state), "GET /v1/audit/verify?programs=no", 200,
	    "{\"good\":false,\"events\":9,\"first_bad\":4,\"head\":\"" SUM_A
	    "\",\"text\":\"its hash\"}");
	play_expect(state, "$Y audit verify --no-programs", 1,
	    "NOT GOOD: entry 4 is the first that does not fit: its hash\n");
	play_expect(state, "$Y audit verify --no-programs --json", 1, "\"first_bad\": 4");
	/* An answer without a word on it is not good. */
	fake_answer(fake(state), "GET /v1/audit/verify", 200, "{}");
	play_expect(state, "$Y audit verify", 1, "NOT GOOD");
}

static void test_program(void **state)
{
	static const char nul[] = "%\r\n\0O1\r\n%\r\n";
	char request[200];

	/* FIPS 180-4 example: the sum of "abc" is SUM_A; of nothing, SUM_B. */
	fake_bytes(fake(state), "GET /v1/programs/" SUM_A, "abc", 3);
	play_expect(state, "$Y program " SUM_A, 0, NULL);
	assert_string_equal(play_out, "abc");
	fake_bytes(fake(state), "GET /v1/programs/" SUM_B, "", 0);
	play_expect(
	    state, "$Y program " SUM_B " --out empty && test -e empty && test ! -s empty", 0, NULL);
	play_expect(state, "$Y program " SUM_A " --out a.nc && printf abc | cmp - a.nc", 0, NULL);
	play_expect(state, "$Y program " SUM_B " --out a.nc", 2, "a.nc cannot be made");
	play_expect(state, "printf abc | cmp - a.nc", 0, NULL);
	/* The sum that sha256sum gives. */
	play_run(
	    state, "printf '%%\\r\\n\\0O1\\r\\n%%\\r\\n' | sha256sum | cut -c1-64 | tr -d '\\n'");
	snprintf(request, sizeof(request), "GET /v1/programs/%.64s", play_out);
	fake_bytes(fake(state), request, nul, sizeof(nul) - 1);
	snprintf(request, sizeof(request),
	    "$Y program %.64s >b.nc && printf '%%%%\\r\\n\\0O1\\r\\n%%%%\\r\\n' | cmp - b.nc",
	    play_out);
	play_expect(state, request, 0, NULL);
	/* Other bytes than were asked for are no program. */
	fake_bytes(fake(state), "GET /v1/programs/" SUM_A, "abd", 3);
	play_expect(state, "$Y program " SUM_A " --out c.nc", 4, "is not the program");
	play_expect(state, "test ! -e c.nc", 0, NULL);
	fake_answer(fake(state), "GET /v1/programs/" SUM_A, 404,
	    "{\"error\":\"e\",\"text\":\"not there\"}");
	play_expect(state, "$Y program " SUM_A " --out c.nc", 1, "yoke: not there");
	play_expect(state, "test ! -e c.nc", 0, NULL);
}

/* ESC, BEL, CSI as one character, a line end, a turn of the direction of writing, DEL. */
#define EVIL "\\u001b[2J\\u0007\\u009b2J\\n\\u202e\\u007f"

static void assert_tame(const char *s)
{
	for (const char *at = s; *at; at++) {
		unsigned char c = (unsigned char)*at, next = (unsigned char)at[1];

		if ((c < 0x20 && c != '\n') || c == 0x7f || (c == 0xc2 && next < 0xa0) ||
		    (c == 0xe2 && next == 0x80))
			fail_msg("a character that drives a terminal at: %s", at);
	}
}

static void test_hostile(void **state)
{
	static const char *const lines[] = {"$Y machines", "$Y machines M", "$Y jobs", "$Y job J",
	    "$Y orders", "$Y audit", "$Y follow", "$Y audit verify", "$Y lock M", "$Y send J N",
	    "$Y keys"};
	static const char machine[] =
	    "{\"name\":\"" EVIL "\",\"title\":\"" EVIL "\",\"line\":\"" EVIL
	    "\",\"content\":\"" EVIL "\",\"job\":\"" EVIL "\",\"revision\":\"" EVIL
	    "\",\"locked\":true,\"lock_text\":\"" EVIL "\",\"since\":\"" EVIL "\",\"by\":\"" EVIL
	    "\",\"text\":\"" EVIL "\",\"last_good\":{\"job\":\"" EVIL "\",\"by\":\"" EVIL
	    "\",\"since\":\"" EVIL "\",\"parts\":[{\"channel\":\"" EVIL "\",\"sha256\":\"" EVIL
	    "\"}]},\"progress\":{\"channel\":\"" EVIL "\",\"text\":\"" EVIL
	    "\"},\"orders\":[{\"order\":1,\"state\":\"carrying\",\"act\":\"" EVIL
	    "\",\"job\":\"" EVIL "\",\"text\":\"" EVIL "\",\"by\":\"" EVIL "\",\"since\":\"" EVIL
	    "\"}]}";
	static const char event[] =
	    "{\"seq\":1,\"time\":\"" EVIL "\",\"kind\":\"" EVIL "\",\"who\":\"" EVIL
	    "\",\"machine\":\"" EVIL "\",\"job\":\"" EVIL "\",\"outcome\":\"" EVIL
	    "\",\"text\":\"x" EVIL "\",\"parts\":[{\"channel\":\"" EVIL "\",\"before\":\"" EVIL
	    "\"}]}";
	static const char pair[] =
	    "{\"machine\":\"" EVIL "\",\"job\":\"" EVIL "\",\"revision\":\"" EVIL
	    "\",\"state\":\"" EVIL "\",\"verdict\":\"" EVIL "\",\"since\":\"" EVIL
	    "\",\"by\":\"" EVIL "\",\"text\":\"" EVIL "\",\"report\":{\"caution\":\"" EVIL
	    "\",\"findings\":[{\"file\":\"" EVIL "\",\"text\":\"" EVIL "\",\"name\":\"" EVIL
	    "\",\"weight\":\"" EVIL "\",\"remedy\":\"" EVIL "\",\"also\":{\"file\":\"" EVIL
	    "\"}}]}}";
	static const char *steps[] = {event, NULL};
	char body[8000], line[200];

	snprintf(body, sizeof(body), "{\"machines\":[%s]}", machine);
	fake_answer(fake(state), "GET /v1/machines", 200, body);
	fake_answer(fake(state), "GET /v1/machines/M", 200, machine);
	fake_answer(fake(state), "POST /v1/machines/M/lock", 200, machine);
	snprintf(body, sizeof(body), "{\"jobs\":[%s],\"pairs\":[%s]}", pair, pair);
	fake_answer(fake(state), "GET /v1/jobs", 200, body);
	fake_answer(fake(state), "GET /v1/jobs/J", 200, body);
	snprintf(body, sizeof(body), "{\"orders\":[%s]}", machine);
	fake_answer(fake(state), "GET /v1/orders", 200, body);
	snprintf(body, sizeof(body), "{\"events\":[%s]}", event);
	fake_answer(fake(state), "GET /v1/audit?limit=200", 200, body);
	fake_stream(fake(state), "GET /v1/follow", steps);
	fake_answer(fake(state), "GET /v1/audit/verify", 200,
	    "{\"good\":true,\"text\":\"" EVIL "\",\"head\":\"" EVIL "\"}");
	fake_answer(fake(state), "GET /v1/keys", 200,
	    "{\"keys\":[{\"key\":\"" EVIL "\",\"event\":1,\"time\":\"" EVIL
	    "\"}],\"trail\":{\"error\":\"" EVIL "\"}}");
	fake_answer(fake(state), "POST /v1/machines/N/send", 409,
	    "{\"error\":\"e\",\"text\":\"" EVIL "\"}");
	for (size_t i = 0; i < sizeof(lines) / sizeof(lines[0]); i++) {
		play_run(state, lines[i]);
		assert_tame(play_out);
		assert_tame(play_err);
		if (!strstr(play_out, "<1B>[2J<07>") && !strstr(play_err, "<1B>[2J<07>"))
			fail_msg("%s: the text was not shown: %s%s", lines[i], play_out, play_err);
		snprintf(line, sizeof(line), "LC_ALL=C %s", lines[i]);
		play_run(state, line);
		assert_tame(play_out);
		for (const char *s = play_out; *s; s++)
			assert_true((unsigned char)*s < 0x80);
	}
	/* RFC 4180: TEXTDATA has no control characters. */
	play_expect(state, "$Y audit --csv | tr -d '\\r'", 0, "<1B>[2J");
	assert_tame(play_out);
	/* On a terminal JSON is ASCII only, where JSON itself escapes what is below a blank. */
	play_expect(state, "script -qec '$Y audit --json' typed | tr -d '\\r\\177'", 0, "\\u009B");
	assert_tame(play_out);
	fake_bytes(fake(state), "GET /v1/programs/" SUM_A, "abc", 3);
	play_run(state, "printf '(\\033[2J)\\r\\n\\033c' | sha256sum | cut -c1-64 | tr -d '\\n'");
	snprintf(line, sizeof(line), "GET /v1/programs/%.64s", play_out);
	fake_bytes(fake(state), line, "(\033[2J)\r\n\033c", 10);
	snprintf(
	    line, sizeof(line), "script -qec '$Y program %.64s' typed | tr -d '\\r'", play_out);
	play_expect(state, line, 0, "(<1B>[2J)\n<1B>c");
	assert_tame(play_out);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_machines, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_machine, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_jobs, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_orders, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_status, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_notes, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_wrong_use, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_failures, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_audit, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_verify, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_program, play_setup, play_teardown),
	    cmocka_unit_test_setup_teardown(test_hostile, play_setup, play_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
