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
#include <stdlib.h>
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

static CURLoption unknown;

static CURLcode set(CURL *c, CURLoption option, ...)
{
	return option == unknown ? CURLE_UNKNOWN_OPTION : CURLE_OK;
}

static CURL *new_handle(void)
{
	return malloc(1);
}

static void end_handle(CURL *c)
{
	free(c);
}

static void reset(CURL *c)
{
}

static CURLM *new_multi(void)
{
	return malloc(1);
}

static CURLMcode end_multi(CURLM *m)
{
	free(m);
	return CURLM_OK;
}

static CURLcode tell(CURL *c, CURLINFO info, ...)
{
	return CURLE_OK;
}

static void free_list(struct curl_slist *list)
{
}

static int go_on(void *ctx, uint64_t done)
{
	return 0;
}

static int taken(void *ctx, const void *bytes, size_t n)
{
	return 0;
}

/* A server is asked with this option unknown to libcurl; what comes of it. */
static int ask_without(CURLoption option, enum remote_scheme scheme, struct folder_order *order)
{
	static const struct curl_lib lib = {.init = new_handle,
	    .setopt = set,
	    .getinfo = tell,
	    .reset = reset,
	    .cleanup = end_handle,
	    .slist_free = free_list,
	    .multi_init = new_multi,
	    .multi_cleanup = end_multi,
	    .multi_add_handle = add,
	    .multi_remove_handle = take_off,
	    .multi_perform = perform,
	    .multi_fdset = fds,
	    .multi_poll = wait_for,
	    .multi_info_read = read_end};
	static const struct line_remote line = {.user = "cnc",
	    .verify = true,
	    .pin = "SHA256:AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA",
	    .known_hosts = "/etc/yoke/hosts"};
	struct remote_session s = {.holders = 2, .lib = &lib, .line = &line, .order = order};
	int rc;

	for (unsigned i = 0; i < REMOTE_SOCKETS; i++)
		s.socket[i] = -1;
	s.address.scheme = scheme;
	strcpy(s.address.host, "192.0.2.9");
	*order = (struct folder_order){.tick = {go_on, NULL}};
	unknown = option;
	rc = remote_session_list(&s, "/nc/", taken, NULL);
	remote_drop(&s);
	return rc;
}

/*
 * A libcurl that is older than an option, or was built with other libraries, says so when the option is set,
 * and goes on without it when nobody listens: with a pin that it does not know any server was the right
 * one. (A libcurl with libssh in place of libssh2 knows no pin of SHA-256 type.)
 */
static void what_libcurl_lacks(void **state)
{
	static const struct {
		CURLoption option;
		enum remote_scheme scheme;
	} need[] = {{CURLOPT_SSH_HOST_PUBLIC_KEY_SHA256, REMOTE_SFTP},
	    {CURLOPT_SSH_KNOWNHOSTS, REMOTE_SFTP}, {CURLOPT_SSH_AUTH_TYPES, REMOTE_SFTP},
	    {CURLOPT_PINNEDPUBLICKEY, REMOTE_FTPS}, {CURLOPT_SSL_VERIFYPEER, REMOTE_FTPS},
	    {CURLOPT_USE_SSL, REMOTE_FTPS}, {CURLOPT_SSLVERSION, REMOTE_FTPS},
	    {CURLOPT_PROTOCOLS_STR, REMOTE_FTP}, {CURLOPT_TIMEOUT_MS, REMOTE_FTP}};
	struct folder_order order;

	for (size_t i = 0; i < sizeof need / sizeof *need; i++) {
		begin(state);
		assert_int_equal(
		    ask_without(need[i].option, need[i].scheme, &order), FOLDER_SAID);
		assert_int_equal(order.said.error, CARRY_ERROR_ORDER);
		assert_non_null(strstr(order.said.text, "this libcurl lacks CURLOPT_"));
		assert_int_equal(play.added, 0);
	}
	begin(state);
	assert_int_equal(ask_without(0, REMOTE_SFTP, &order), 0);
	assert_int_equal(play.added, 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(no_socket_no_wait, begin),
	    cmocka_unit_test_setup(pauses_grow, begin),
	    cmocka_unit_test_setup(an_answer_makes_them_short, begin),
	    cmocka_unit_test_setup(a_failing_wait, begin),
	    cmocka_unit_test_setup(what_libcurl_lacks, begin),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
