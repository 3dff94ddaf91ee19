/*
 * libcurl as it is used here; why is in the comments, and what was found with real servers in
 * tests/peers.
 */
#include <errno.h>
#include <limits.h>
#include <linux/sockios.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <unistd.h>
#include "parent.h"
#include "remote_call.h"
#include "yoke/text.h"

/* An option that libcurl does not take ends the call: without a pin, say, any server would be the right one. */
#define SET(s, option, value) took(s, (s)->lib->setopt((s)->curl, option, value), #option)

static void took(struct remote_session *s, CURLcode rc, const char *option)
{
	if (rc != CURLE_OK && rc != CURLE_OUT_OF_MEMORY && !s->lacks)
		s->lacks = option;
	s->unset |= rc != CURLE_OK;
}

enum {
	FAREWELL_MS = 2000, /* for the other side to end a connection too */
	UNDERWAY = 128 * 1024, /* what lies in our system, sent and not yet taken by the other side */
	LAST = 256, /* bytes of a program that go when most of the others are there */
};

/* Sockets are known, so that a connection can be cut before libcurl would wait for its farewell. */
static curl_socket_t open_socket(void *ctx, curlsocktype purpose, struct curl_sockaddr *a)
{
	struct remote_session *s = ctx;
	int fd = socket(a->family, a->socktype | SOCK_CLOEXEC, a->protocol), most = UNDERWAY;

	/* Else all of a program is "sent" at once, and a slow network seems to be a server that does not
	 * answer to the last byte. Much less, and each part would wait for a late acknowledgement. */
	if (fd >= 0)
		setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &most, sizeof most);
	for (unsigned i = 0; fd >= 0 && i < REMOTE_SOCKETS; i++)
		if (s->socket[i] < 0) {
			s->socket[i] = fd;
			break;
		}
	return fd < 0 ? CURL_SOCKET_BAD : fd;
}

/*
 * A socket that is closed while something in it was not read throws away what the other side has not read
 * yet. After a TLS 1.3 handshake there is something: session tickets, which libcurl leaves unread when it
 * sends a file; the end of the file was lost then. So nothing more is sent, and what comes is read until the
 * other side has ended too.
 */
static void end_politely(curl_socket_t fd)
{
	struct pollfd p = {.fd = fd, .events = POLLIN};
	uint64_t until = parent_now() + FAREWELL_MS, now;
	char unread[4096];

	if (shutdown(fd, SHUT_WR))
		return;
	while ((now = parent_now()) < until && poll(&p, 1, (int)(until - now)) > 0 &&
	       recv(fd, unread, sizeof unread, MSG_DONTWAIT) > 0)
		;
}

static int close_socket(void *ctx, curl_socket_t fd)
{
	struct remote_session *s = ctx;
	struct pollfd p = {.fd = fd, .events = POLLRDHUP};

	s->left |= poll(&p, 1, 0) > 0;
	if (s->sending)
		end_politely(fd);
	for (unsigned i = 0; i < REMOTE_SOCKETS; i++)
		if (s->socket[i] == fd)
			s->socket[i] = -1;
	return close(fd);
}

void remote_drop(struct remote_session *s)
{
	/* A farewell is still sent; nobody waits for its answer. */
	for (unsigned i = 0; i < REMOTE_SOCKETS; i++)
		if (s->socket[i] >= 0)
			shutdown(s->socket[i], SHUT_RD);
	if (s->curl)
		s->lib->cleanup(s->curl);
	if (s->multi)
		s->lib->multi_cleanup(s->multi);
	s->curl = NULL;
	s->multi = NULL;
	s->moved = false;
}

static size_t take(char *bytes, size_t one, size_t n, void *ctx)
{
	struct remote_call *c = ctx;

	if (!c->take)
		return n;
	c->stop = c->take(c->ctx, bytes, n);
	return c->stop ? 0 : n;
}

/* Bytes that the other sides have not got yet. */
static int underway(const struct remote_session *s)
{
	int sum = 0, n;

	for (unsigned i = 0; i < REMOTE_SOCKETS; i++)
		if (s->socket[i] >= 0 && !ioctl(s->socket[i], SIOCOUTQ, &n))
			sum += n;
	return sum;
}

/*
 * libcurl tries once to say that a TLS connection ends, and when there is no room for that the server takes
 * the file for one that was cut off. So there must be room when the last bytes go. When nothing moves for
 * too long they go all the same, and libcurl finds that nothing moves.
 */
static void make_room(struct remote_call *c)
{
	const struct folder_tick *t = &c->session->order->tick;
	uint64_t since = parent_now();
	int now, before = INT_MAX;

	while (!c->stop && (now = underway(c->session)) > UNDERWAY / 2) {
		if (now != before)
			since = parent_now();
		if (parent_now() - since >= c->session->line->stall_ms)
			return;
		before = now;
		poll(NULL, 0, 2);
		c->stop = t->call(t->ctx, c->at);
	}
}

static size_t give(char *to, size_t one, size_t room, void *ctx)
{
	struct remote_call *c = ctx;
	size_t n = c->size - c->at;

	if (n > LAST)
		n -= LAST;
	else if (c->session->address.scheme != REMOTE_SFTP)
		make_room(c);
	if (c->stop)
		return CURL_READFUNC_ABORT;
	if (n > one * room)
		n = one * room;
	if (n)
		memcpy(to, c->bytes + c->at, n);
	c->at += n;
	return n;
}

/* The server's replies, of which the last one with a code counts. Some repeat what they were told, and a
 * password stands in no message. */
static size_t reply(char *bytes, size_t one, size_t n, void *ctx)
{
	struct remote_call *c = ctx;
	const char *secret = c->session->password;
	size_t k = 0, length = strlen(secret);

	if (n < 4 || bytes[0] < '1' || bytes[0] > '5')
		return n;
	for (size_t i = 0; i < n && k + 3 < REMOTE_REPLY && bytes[i] != '\r' && bytes[i] != '\n'; i++) {
		if (length && n - i >= length && !memcmp(bytes + i, secret, length)) {
			memcpy(c->reply + k, "***", 3);
			i += length - 1;
			k += 3;
		} else {
			c->reply[k++] = (char)(bytes[i] < ' ' || bytes[i] > '~' ? '?' : bytes[i]);
		}
	}
	c->reply[k] = '\0';
	return n;
}

/* What has come is acknowledged now. sshd holds back a short answer until the one before it is
 * acknowledged, and the kernel would wait 40 ms with that; many times in an order. */
static void acknowledge(const struct remote_session *s)
{
	static const int yes = 1;

	for (unsigned i = 0; i < REMOTE_SOCKETS; i++)
		if (s->socket[i] >= 0)
			setsockopt(s->socket[i], IPPROTO_TCP, TCP_QUICKACK, &yes, sizeof yes);
}

/* libcurl calls it before each wait, also where it blocks. */
static int tick(void *ctx, curl_off_t a, curl_off_t down, curl_off_t b, curl_off_t up)
{
	struct remote_call *c = ctx;
	const struct folder_tick *t = &c->session->order->tick;

	acknowledge(c->session);
	if (!c->stop)
		c->stop = t->call(t->ctx, (uint64_t)(c->kind == REMOTE_PUT ? up : down));
	return c->stop != 0;
}

/* scheme://host:port/path. An FTP path that begins with / is absolute when that / is escaped. */
static char *url_of(const struct remote_session *s, const char *path)
{
	static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
	                            "-._~/";
	bool implicit = s->address.scheme == REMOTE_FTPS && s->line->tls == LINE_TLS_IMPLICIT;
	struct text t = {0};

	text_printf(&t, "%s://%s",
	    s->address.scheme == REMOTE_SFTP ? "sftp"
	    : implicit                       ? "ftps"
	                                     : "ftp",
	    s->address.host);
	if (s->address.port)
		text_printf(&t, ":%u", s->address.port);
	if (s->address.scheme != REMOTE_SFTP)
		text_puts(&t, *path ? "/%2F" : "/");
	for (path += s->address.scheme != REMOTE_SFTP && *path; *path; path++)
		if (strchr(plain, *path))
			text_putc(&t, *path);
		else
			text_printf(&t, "%%%02X", (unsigned char)*path);
	return text_take(&t);
}

static void set_tls(struct remote_session *s)
{
	const struct line_remote *r = s->line;
	bool by_ca = r->verify && (*r->ca || !*r->pin);

	if (s->address.scheme != REMOTE_FTPS)
		return;
	SET(s, CURLOPT_USE_SSL, (long)CURLUSESSL_ALL);
	SET(s, CURLOPT_FTPSSLAUTH, (long)CURLFTPAUTH_TLS);
	SET(s, CURLOPT_SSLVERSION,
	    (long)(CURL_SSLVERSION_TLSv1_2 | (s->tls_1_3 ? 0 : CURL_SSLVERSION_MAX_TLSv1_2)));
	SET(s, CURLOPT_SSL_VERIFYPEER, by_ca ? 1L : 0L);
	SET(s, CURLOPT_SSL_VERIFYHOST, by_ca ? 2L : 0L);
	if (*r->ca) {
		SET(s, CURLOPT_CAINFO, r->ca);
		SET(s, CURLOPT_CAPATH, NULL);
	}
	if (r->verify && *r->pin)
		SET(s, CURLOPT_PINNEDPUBLICKEY, r->pin);
}

static void set_ssh(struct remote_session *s)
{
	const struct line_remote *r = s->line;
	long how = *s->key ? CURLSSH_AUTH_PUBLICKEY : 0;

	if (s->address.scheme != REMOTE_SFTP)
		return;
	if (*s->password)
		how |= CURLSSH_AUTH_PASSWORD | CURLSSH_AUTH_KEYBOARD;
	SET(s, CURLOPT_SSH_AUTH_TYPES, how);
	if (*s->key)
		SET(s, CURLOPT_SSH_PRIVATE_KEYFILE, s->key);
	/* libcurl takes any host key when neither is set; the configuration does not allow that
	 * without verify = no. */
	if (r->verify && *r->pin)
		SET(s, CURLOPT_SSH_HOST_PUBLIC_KEY_SHA256, r->pin + strlen("SHA256:"));
	if (r->verify && *r->known_hosts)
		SET(s, CURLOPT_SSH_KNOWNHOSTS, r->known_hosts);
}

static void set_times(struct remote_call *c)
{
	struct remote_session *s = c->session;
	const struct line_remote *r = s->line;
	long answer_s = (long)(r->answer_ms + 999) / 1000, stall_s = (long)(r->stall_ms + 999) / 1000;
	bool moves = c->kind == REMOTE_GET || c->kind == REMOTE_PUT;

	SET(s, CURLOPT_CONNECTTIMEOUT_MS, (long)r->open_ms);
	/* A slow server may still be reading what lies in its system after we have sent the last byte. */
	SET(s, CURLOPT_SERVER_RESPONSE_TIMEOUT,
	    c->kind == REMOTE_PUT && stall_s > answer_s ? stall_s : answer_s);
	SET(s, CURLOPT_LOW_SPEED_LIMIT, 1L);
	SET(s, CURLOPT_LOW_SPEED_TIME, stall_s);
	/* Over SSH nothing but this bounds the answer to a command. */
	SET(s, CURLOPT_TIMEOUT_MS,
	    moves ? (long)r->total_ms : (long)r->open_ms + 2 * (long)r->answer_ms);
}

static void set_common(struct remote_call *c)
{
	struct remote_session *s = c->session;

	SET(s, CURLOPT_PROTOCOLS_STR, "ftp,ftps,sftp");
	SET(s, CURLOPT_PROXY, "");
	SET(s, CURLOPT_NOSIGNAL, 1L);
	s->lib->setopt(s->curl, CURLOPT_QUICK_EXIT, 1L); /* older ones only end more slowly */
	SET(s, CURLOPT_PATH_AS_IS, 1L);
	SET(s, CURLOPT_USERNAME, s->line->user);
	SET(s, CURLOPT_PASSWORD, s->password);
	SET(s, CURLOPT_ERRORBUFFER, c->text);
	SET(s, CURLOPT_OPENSOCKETFUNCTION, open_socket);
	SET(s, CURLOPT_OPENSOCKETDATA, s);
	SET(s, CURLOPT_CLOSESOCKETFUNCTION, close_socket);
	SET(s, CURLOPT_CLOSESOCKETDATA, s);
	SET(s, CURLOPT_NOPROGRESS, 0L);
	SET(s, CURLOPT_XFERINFOFUNCTION, tick);
	SET(s, CURLOPT_XFERINFODATA, c);
	SET(s, CURLOPT_HEADERFUNCTION, reply);
	SET(s, CURLOPT_HEADERDATA, c);
	SET(s, CURLOPT_WRITEFUNCTION, take);
	SET(s, CURLOPT_WRITEDATA, c);
	/* Bytes as they are, always: TYPE I. */
	SET(s, CURLOPT_TRANSFERTEXT, 0L);
	SET(s, CURLOPT_CRLF, 0L);
	SET(s, CURLOPT_FTP_FILEMETHOD, (long)CURLFTPMETHOD_SINGLECWD);
	SET(s, CURLOPT_FTP_CREATE_MISSING_DIRS, 0L);
}

static void set_kind(struct remote_call *c)
{
	struct remote_session *s = c->session;

	switch (c->kind) {
	case REMOTE_GET:
		/* Else what comes beyond the size that was told would be cut off without a word. */
		SET(s, CURLOPT_IGNORE_CONTENT_LENGTH, 1L);
		break;
	case REMOTE_CHANGE:
		/* Its paths are absolute: it needs no folder, and leaves the one that was entered. */
		SET(s, CURLOPT_FTP_FILEMETHOD, (long)CURLFTPMETHOD_NOCWD);
		SET(s, CURLOPT_NOBODY, 1L);
		break;
	case REMOTE_SIZE:
		SET(s, CURLOPT_NOBODY, 1L);
		break;
	case REMOTE_PUT:
		SET(s, CURLOPT_UPLOAD, 1L);
		SET(s, CURLOPT_INFILESIZE_LARGE, (curl_off_t)c->size);
		SET(s, CURLOPT_READFUNCTION, give);
		SET(s, CURLOPT_READDATA, c);
		break;
	case REMOTE_LIST:
		SET(s, CURLOPT_DIRLISTONLY, 1L);
		break;
	case REMOTE_LONG_LIST:
		break;
	}
}

CURL *remote_handle(struct remote_call *c, const char *path)
{
	struct remote_session *s = c->session;
	char *url = url_of(s, path);

	if (!s->multi)
		s->multi = s->lib->multi_init();
	if (!s->curl)
		s->curl = s->lib->init();
	if (!url || !s->curl || !s->multi) {
		free(url);
		return NULL;
	}
	s->lib->reset(s->curl);
	s->unset = false;
	s->lacks = NULL;
	set_common(c);
	set_times(c);
	set_tls(s);
	set_ssh(s);
	set_kind(c);
	SET(s, CURLOPT_URL, url); /* copied */
	free(url);
	return s->unset ? NULL : s->curl;
}
