/*
 * What the end of a call means, in our words. libcurl's codes for each fault were taken from real
 * servers; tests/peers holds them to it.
 */
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include "remote_call.h"

static int say(struct remote_call *c, enum carry_error error, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static int say(struct remote_call *c, enum carry_error error, const char *format, ...)
{
	struct fault *f = &c->session->order->said;
	char text[CARRY_TEXT_MAX + 1];
	va_list ap;

	va_start(ap, format);
	vsnprintf(text, sizeof text, format, ap);
	va_end(ap);
	*f = (struct fault){0};
	fault_set(f, error, 0, "%s: %s", c->session->name, text);
	return FOLDER_SAID;
}

/* The server's reply, or else libcurl's words. */
static const char *words(const struct remote_call *c)
{
	return *c->reply && c->code >= 400 ? c->reply : *c->text ? c->text : "no reason was told";
}

/* FTP: 421 ends the connection with or without the command done, 426 tells of a cut transfer. */
static bool is_no(const struct remote_call *c)
{
	/* What OpenSSH and others answer (draft-ietf-secsh-filexfer-02, 7), in libcurl's words. Another
	 * text means that no answer came. */
	static const char *const no[] = {"Operation failed", "Permission denied", "No such file",
	    "File already exists", "Write-protected", "Unknown principle", "Invalid filename",
	    "not supported"};

	if (c->session->address.scheme != REMOTE_SFTP)
		return c->code >= 400 && c->code < 600 && c->code != 421 && c->code != 426;
	for (size_t i = 0; i < sizeof no / sizeof *no; i++)
		if (strstr(c->text, no[i]))
			return true;
	return false;
}

static int no_login(struct remote_call *c)
{
	const struct remote_session *s = c->session;

	return say(c, CARRY_ERROR_LOGIN,
	    "the login of user '%s' is refused (%s): look at user and %s in the machine's settings%s",
	    s->line->user, words(c), *s->key ? "key" : "password",
	    *s->key ? "; a key of RSA type needs a server that allows SHA-1 signatures: better use "
	              "one of ECDSA or Ed25519 type"
	            : "");
}

static int no_trust(struct remote_call *c)
{
	if (c->session->address.scheme == REMOTE_SFTP)
		return say(c, CARRY_ERROR_IDENTITY,
		    "its host key is not the expected one (%s): it is another server, or its key was "
		    "changed, or pin is of another type of key than the one it shows; ask whoever looks "
		    "after it before you change pin or known_hosts",
		    *c->text ? c->text : "known_hosts has none for it, or another");
	return say(c, CARRY_ERROR_IDENTITY,
	    "its certificate is not accepted (%s): it is another server, or its certificate was "
	    "changed or ran out; ask whoever looks after it before you change pin or ca",
	    c->text);
}

/* The folder of a path, or the path itself, could not be entered. */
static int no_folder(struct remote_call *c)
{
	return say(c, CARRY_ERROR_OFFLINE,
	    "the folder is not there, or this user may not enter it (%s); it is never made: look at "
	    "root and folder in the machine's settings",
	    words(c));
}

static int refused(struct remote_call *c)
{
	if (c->code == 452 || c->code == 552)
		return say(c, CARRY_ERROR_SPACE, "its disk is full (%s)", c->reply);
	return say(c, CARRY_ERROR_REFUSED, "it refuses (%s)", words(c));
}

/* libcurl does not always know a plain no as such: over TLS it takes the end of the data connection of a
 * refused upload for a failed EPSV. */
static int lost(struct remote_call *c)
{
	bool no = c->session->address.scheme == REMOTE_SFTP || c->code >= 500 || c->code == 452;

	if (no && is_no(c))
		return refused(c);
	return say(c, CARRY_ERROR_IO, "the connection was lost%s (%s)",
	    c->kind == REMOTE_PUT ? ", or its disk is full" : "", words(c));
}

/* A command that was to change something. */
static int no_change(struct remote_call *c)
{
	if (!is_no(c))
		return say(c, CARRY_ERROR_IO,
		    "the connection was lost before it said whether it was done (%s)", words(c));
	c->session->order->refused = true;
	return refused(c);
}

static int no_read(struct remote_call *c)
{
	if ((c->kind == REMOTE_LIST || c->kind == REMOTE_LONG_LIST) && c->session->address.scheme != REMOTE_SFTP)
		return refused(c);
	return -ENOENT;
}

int remote_judge(struct remote_call *c, CURLcode rc)
{
	bool sftp = c->session->address.scheme == REMOTE_SFTP;

	c->session->order->refused = false;
	if (rc == CURLE_OK)
		return 0;
	if ((rc == CURLE_ABORTED_BY_CALLBACK || rc == CURLE_WRITE_ERROR) && c->stop)
		return c->stop;
	if (!sftp && c->code == 421)
		return say(c, CARRY_ERROR_BUSY, "it takes nobody more just now (%s)", c->reply);
	switch (rc) {
	case CURLE_QUOTE_ERROR:
		return no_change(c);
	case CURLE_REMOTE_FILE_NOT_FOUND:
		return no_read(c);
	case CURLE_FTP_WEIRD_PASV_REPLY:
		/* With TLS: the server refuses a file and resets the data connection, which libcurl takes
		 * for a failed EPSV; the refusal then stands where the answer to PASV is expected. */
		return c->kind == REMOTE_GET && c->code == 550 ? -ENOENT : lost(c);
	case CURLE_FTP_COULDNT_RETR_FILE:
	case CURLE_UPLOAD_FAILED:
		return refused(c);
	case CURLE_REMOTE_ACCESS_DENIED:
		return sftp ? refused(c) : no_folder(c);
	case CURLE_LOGIN_DENIED:
		return no_login(c);
	case CURLE_PEER_FAILED_VERIFICATION:
	case CURLE_SSL_PINNEDPUBKEYNOTMATCH:
		return no_trust(c);
	case CURLE_SSL_CACERT_BADFILE:
		return say(c, CARRY_ERROR_IDENTITY, "the file ca cannot be used (%s)", c->text);
	case CURLE_USE_SSL_FAILED:
		return say(c, CARRY_ERROR_IDENTITY,
		    "it does no TLS (%s), and nothing is sent in clear text", words(c));
	case CURLE_SSL_CONNECT_ERROR:
		return say(c, CARRY_ERROR_REFUSED,
		    "no TLS was agreed (%s); at least TLS 1.2 is needed, and 'tls' says when it begins",
		    c->text);
	case CURLE_COULDNT_RESOLVE_HOST:
		return say(c, CARRY_ERROR_OFFLINE, "its name cannot be resolved (%s)", c->text);
	case CURLE_COULDNT_CONNECT:
		return say(c, CARRY_ERROR_OFFLINE, "it does not answer (%s): is it on, and the cable in?",
		    c->text);
	case CURLE_OPERATION_TIMEDOUT:
		return say(c, CARRY_ERROR_NO_ANSWER,
		    "it did not answer in time (%s); open_ms, answer_ms and stall_ms are in the "
		    "machine's settings",
		    c->text);
	case CURLE_FAILED_INIT: /* whatever fails beside the login; -5: libssh2's number for no common keys */
		if (!strstr(c->text, ": -5, "))
			return lost(c);
		return say(c, CARRY_ERROR_IDENTITY,
		    "no keys were agreed with it (%s); a server that has host keys of RSA type alone "
		    "must allow SHA-1: better give it one of ECDSA or Ed25519 type",
		    c->text);
	case CURLE_NOT_BUILT_IN:
		return say(c, CARRY_ERROR_ORDER,
		    "this libcurl lacks %s, without which nothing is sent: 7.85 or newer is needed, "
		    "built with OpenSSL and libssh2",
		    c->session->lacks ? c->session->lacks : "something");
	case CURLE_UNSUPPORTED_PROTOCOL:
		return say(c, CARRY_ERROR_ORDER, "libcurl was built without this protocol");
	case CURLE_URL_MALFORMAT:
		return say(c, CARRY_ERROR_ORDER, "user or address cannot be used (%s)", c->text);
	case CURLE_OUT_OF_MEMORY:
		return -ENOMEM;
	default:
		return lost(c);
	}
}
