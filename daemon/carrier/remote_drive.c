/*
 * A call to a server driven to its end. libcurl's own loop waits a full second when it has nothing to wait
 * for, as between the answer to EPSV and the data connection when that answer came at once; some twenty
 * times in an order. Here it is asked again instead, and waits only for what there is to wait for. It
 * blocks in the same places as in its own loop, which is made of the same functions.
 */
#include "remote_call.h"

/*
 * The longest pause between two looks, whatever is waited for. With TLS libcurl may wait for an answer
 * over the one connection while the handshake goes on over the other: so pauses begin short.
 */
enum { LOOK_MS = 32 };

/* True when there is a descriptor that it waits for; else it may only need to be asked again. */
static bool has_sockets(const struct curl_lib *lib, CURLM *multi)
{
	fd_set in, out, other;
	int most = -1;

	FD_ZERO(&in);
	FD_ZERO(&out);
	FD_ZERO(&other);
	return lib->multi_fdset(multi, &in, &out, &other, &most) == CURLM_OK && most >= 0;
}

/* How long to wait after so many pauses in which nothing came. */
static int pause_ms(unsigned quiet, bool sockets)
{
	if (!quiet && !sockets)
		return 0;
	return quiet < 5 ? 1 << quiet : LOOK_MS;
}

static CURLcode result_of(const struct curl_lib *lib, CURLM *multi)
{
	CURLcode rc = CURLE_BAD_FUNCTION_ARGUMENT;
	struct CURLMsg *m;
	int left;

	while ((m = lib->multi_info_read(multi, &left)))
		if (m->msg == CURLMSG_DONE)
			rc = m->data.result;
	return rc;
}

CURLcode remote_drive(struct remote_session *s)
{
	const struct curl_lib *lib = s->lib;
	int running = 1, ready = 0;
	unsigned quiet = 0;
	CURLMcode rc;
	CURLcode result;

	rc = lib->multi_add_handle(s->multi, s->curl);
	if (rc != CURLM_OK)
		return CURLE_OUT_OF_MEMORY;
	while (rc == CURLM_OK) {
		rc = lib->multi_perform(s->multi, &running);
		if (rc != CURLM_OK || !running)
			break;
		rc = lib->multi_poll(
		    s->multi, NULL, 0, pause_ms(quiet, has_sockets(lib, s->multi)), &ready);
		quiet = ready ? 0 : quiet + 1;
	}
	result = rc == CURLM_OK ? result_of(lib, s->multi) : CURLE_OUT_OF_MEMORY;
	lib->multi_remove_handle(s->multi, s->curl);
	return result;
}
