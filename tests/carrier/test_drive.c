/*
 * Goal: a call to a server waits only for what there is to wait for. libcurl is a play here, so that no
 * time has to be measured: what it is asked, and for how long it is to wait, is counted.
 *
 * libcurl's own loop waits a second when it has no socket to wait for. A server near by answers EPSV before
 * it is looked for again; then there is none, the data connection is begun only when libcurl is asked
 * again, and each file and each list took that second.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "remote_call.h"

enum { PAUSES = 100 };

static struct {
	int performs;      /* until it is done */
	bool sockets;      /* there is one to wait for */
	int answers;       /* of the pauses, how many end because something came */
	CURLMcode poll_rc;
	CURLcode result;
	int added, removed, polls, pause[PAUSES];
} play;

static CURLMcode add(CURLM *m, CURL *c)
{
	play.added++;
	return CURLM_OK;
}

static CURLMcode take_off(CURLM *m, CURL *c)
{
	play.removed++;
	return CURLM_OK;
}

static CURLMcode perform(CURLM *m, int *running)
{
	*running = --play.performs > 0;
	return CURLM_OK;
}

static CURLMcode fds(CURLM *m, fd_set *in, fd_set *out, fd_set *other, int *most)
{
	*most = play.sockets ? 5 : -1;
	return CURLM_OK;
}

static CURLMcode wait_for(CURLM *m, struct curl_waitfd *w, unsigned n, int ms, int *ready)
{
	assert_true(play.polls < PAUSES);
	play.pause[play.polls++] = ms;
	*ready = play.answers-- > 0;
	return play.poll_rc;
}

static struct CURLMsg *read_end(CURLM *m, int *left)
{
	static struct CURLMsg end;
	static bool read;

	end.msg = CURLMSG_DONE;
	end.data.result = play.result;
	read = !read;
	return read ? &end : NULL;
}

static CURLcode drive(void)
{
	static const struct curl_lib lib = {.multi_add_handle = add,
	    .multi_remove_handle = take_off,
	    .multi_perform = perform,
	    .multi_fdset = fds,
	    .multi_poll = wait_for,
	    .multi_info_read = read_end};
	struct remote_session s = {.lib = &lib};
	CURLcode rc;

	for (unsigned i = 0; i < REMOTE_SOCKETS; i++)
		s.socket[i] = -1;
	rc = remote_drive(&s);
	assert_int_equal(play.added, 1);
	assert_int_equal(play.removed, 1);
	return rc;
}

static int begin(void **state)
{
	memset(&play, 0, sizeof play);
	return 0;
}

static void no_socket_no_wait(void **state)
{
	play.performs = 2;
	play.result = CURLE_REMOTE_FILE_NOT_FOUND;
	assert_int_equal(drive(), CURLE_REMOTE_FILE_NOT_FOUND);
	assert_int_equal(play.polls, 1);
	assert_int_equal(play.pause[0], 0);
}

/* Nor does it ask again and again as fast as it can, when that does not help. */
static void pauses_grow(void **state)
{
	for (int sockets = 0; sockets < 2; sockets++) {
		begin(state);
		play.performs = 40;
		play.sockets = sockets;
		assert_int_equal(drive(), CURLE_OK);
		assert_int_equal(play.polls, 39);
		for (int i = 1; i < play.polls; i++) {
			assert_true(play.pause[i] >= play.pause[i - 1]);
			assert_in_range(play.pause[i], 1, 50);
		}
		assert_true(play.pause[38] >= 20);
	}
}

static void an_answer_makes_them_short(void **state)
{
	play.performs = 10;
	play.sockets = true;
	play.answers = 9;
	assert_int_equal(drive(), CURLE_OK);
	for (int i = 0; i < play.polls; i++)
		assert_int_equal(play.pause[i], 1);
}

static void a_failing_wait(void **state)
{
	play.performs = 10;
	play.poll_rc = CURLM_OUT_OF_MEMORY;
	assert_int_equal(drive(), CURLE_OUT_OF_MEMORY);
	assert_int_equal(play.polls, 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(no_socket_no_wait, begin),
	    cmocka_unit_test_setup(pauses_grow, begin),
	    cmocka_unit_test_setup(an_answer_makes_them_short, begin),
	    cmocka_unit_test_setup(a_failing_wait, begin),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
