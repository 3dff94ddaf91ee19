/*
 * Goal: no program on a share is replaced while the machine says that it runs, on either channel, by a
 * file or by an MTConnect agent; and none while it does not say. What the agent answers is current.xml,
 * valid by the public schema MTConnectStreams_1.4.xsd.
 */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "desk.h"
#include "share_case.h"

static struct desk d;
static const char *status_line, *was, *is; /* of the agent's answer: a word replaced by another */
static bool silent;

static void refused(const char *because)
{
	rig_run(&r);
	ended(CARRY_ERROR_RUNNING, CARRY_HELD_OLD, CARRY_HELD_OLD);
	if (!strstr(r.outcome.text, because))
		fail_msg("expected '%s' in: %s", because, r.outcome.text);
	holds(OLD_UP, OLD_LO);
	clean();
	for (unsigned i = 0; i < r.steps; i++)
		assert_int_not_equal(r.step[i].step, CARRY_STEP_REPLACE);
}

static void replaced(void)
{
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
}

static void a_file_while_it_runs(void **state)
{
	r.order.running.kind = RUNNING_FILE;
	strcpy(r.order.running.file, "RUN.FLG");
	rig_write(&r, "share/RUN.FLG", "");
	refused("'RUN.FLG' is there on its share");
	assert_int_equal(unlink(rig_path(&r, "share/RUN.FLG")), 0);
	replaced();
}

static void a_file_while_it_stands(void **state)
{
	r.order.running.kind = IDLE_FILE;
	strcpy(r.order.running.file, "IDLE.FLG");
	refused("'IDLE.FLG' is not there on its share");
	rig_write(&r, "share/IDLE.FLG", "");
	replaced();
}

/* A server, or a file system of another kind, may list RUN.FLG as run.flg: taken for no such file, the pair was
 * replaced while the machine ran. Where the file says that it stands, nothing but the very name says so. */
static void a_file_in_other_letters(void **state)
{
	r.order.running.kind = RUNNING_FILE;
	strcpy(r.order.running.file, "RUN.FLG");
	rig_write(&r, "share/run.flg", "");
	refused("'RUN.FLG' is there on its share");
	r.order.running.kind = IDLE_FILE;
	refused("'RUN.FLG' is not there on its share");
	rig_write(&r, "share/RUN.FLG", "");
	replaced();
}

/* An agent: one request, one answer. */
static void answers(struct desk *k)
{
	static char xml[8192], text[8192];
	FILE *f = fopen(TEST_SOURCE_DIR "/carrier/current.xml", "re");
	size_t n = f ? fread(xml, 1, sizeof xml - 1, f) : 0;
	char *at, head[200];

	if (f)
		fclose(f);
	xml[n] = '\0';
	at = strstr(xml, was);
	snprintf(text, sizeof text, "%.*s%s%s", (int)(at - xml), xml, is, at + strlen(was));
	desk_accept(k);
	desk_hear(k, 20, 3000);
	if (silent) {
		desk_hear_for(k, 1500);
		return;
	}
	snprintf(head, sizeof head, "HTTP/1.1 %s\r\nContent-Type: text/xml\r\nContent-Length: %zu\r\n\r\n",
	    status_line, strlen(text));
	desk_say(k, head, strlen(head));
	desk_say(k, text, strlen(text));
	desk_hear_for(k, 300);
}

static void with_agent(const char *status, const char *old, const char *new)
{
	struct running *w = &r.order.running;

	status_line = status;
	was = old;
	is = new;
	desk_open(&d, answers);
	w->kind = RUNNING_AGENT;
	snprintf(w->agent, sizeof w->agent, "http://127.0.0.1:%d", d.port);
	strcpy(w->device, "LATHE1");
	strcpy(w->path[0], "upper");
	strcpy(w->path[1], "p2");
	w->answer_ms = 800;
}

static void an_agent(void **state)
{
	with_agent("200 OK", "READY", "READY");
	refused("path upper is ACTIVE in O4417");
	desk_close(&d);
	with_agent("200 OK", "ACTIVE", "PROGRAM_COMPLETED");
	replaced();
	desk_close(&d);
	assert_non_null(strstr((char *)d.heard, "GET /current HTTP/1.1"));
}

/* The other channel counts too: half a machine that stands may still run. */
static void the_other_channel(void **state)
{
	with_agent("200 OK", "Execution dataItemId=\"e1\" timestamp=\"2031-04-05T06:07:08Z\" "
	                     "sequence=\"81\">ACTIVE</Execution>",
	    "Execution>READY</Execution>");
	strcpy(r.order.running.path[1], "p2");
	replaced();
	desk_close(&d);
	rig_write(&r, "share/path1/4417.NC", OLD_UP);
	rig_write(&r, "share/path2/4417.NC", OLD_LO);
	with_agent("200 OK", "READY", "FEED_HOLD");
	strcpy(r.order.running.path[0], "p2");
	refused("path p2 is FEED_HOLD");
	desk_close(&d);
}

static void no_answer(void **state)
{
	static const char *const none[][3] = {
	    {"200 OK", "LATHE1", "LATHE9"},
	    {"200 OK", "</Streams>", ""},
	    {"404 Not Found", "ACTIVE", "READY"},
	    {"200 OK", "ACTIVE", "UNAVAILABLE"},
	};

	for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
		with_agent(none[i][0], none[i][1], none[i][2]);
		refused("could not be told, and nothing is replaced on a guess");
		desk_close(&d);
	}
	silent = true;
	with_agent("200 OK", "ACTIVE", "READY");
	refused("could not be told");
	desk_close(&d);
	silent = false;
	/* Nobody there at all. */
	refused("could not be told");
}

#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    T(a_file_while_it_runs),
	    T(a_file_while_it_stands),
	    T(a_file_in_other_letters),
	    T(an_agent),
	    T(the_other_channel),
	    T(no_answer),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
