#include "conf_line_remote.h"

#include <string.h>
#include "remote_address.h"
#include "secret_place.h"

enum { DAY_MS = 24 * 3600 * 1000 };

static const char *const tlss[] = {"explicit", "implicit", NULL};

#define FIELD(name) offsetof(struct line_remote, name), sizeof(((struct line_remote *)0)->name)
#define STRING(name)                                                                               \
	{                                                                                          \
#name, CONF_STRING, FIELD(name), 0, 0, "", NULL                                    \
	}
#define TIME(name, low, high)                                                                      \
	{                                                                                          \
#name, CONF_NUMBER, FIELD(name), low, high, "milliseconds", NULL                   \
	}

const struct conf_key conf_line_remote_keys[CONF_LINE_REMOTE_KEYS] = {
    STRING(address),
    {"tls", CONF_CHOICE, FIELD(tls), 0, 0, "", tlss},
    STRING(root),
    STRING(marker),
    STRING(folder),
    STRING(user),
    STRING(password),
    STRING(key),
    STRING(pin),
    STRING(ca),
    STRING(known_hosts),
    {"verify", CONF_YES_NO, FIELD(verify), 0, 0, "", NULL},
    TIME(open_ms, 2000, 120000),
    TIME(answer_ms, 1000, 10000),
    TIME(stall_ms, 1000, 600000),
    TIME(total_ms, 1000, DAY_MS),
};

void conf_line_remote_defaults(struct line_remote *r)
{
	*r = (struct line_remote){
	    .root = "/",
	    .verify = true,
	    .open_ms = 10000,
	    .answer_ms = 10000,
	    .stall_ms = 15000,
	    .total_ms = 120000,
	};
}

/* A message at the place where a key was set. */
#define ERROR(c, key, ...)                                                                         \
	conf_report_error((c)->report, (c)->file->path, conf_line_where(c, key), __VA_ARGS__)
#define WARNING(c, key, ...)                                                                       \
	conf_report_warning((c)->report, (c)->file->path, conf_line_where(c, key), __VA_ARGS__)

static void check_secret(const struct conf_line_of *c, const char *key, const char *value)
{
	struct secret_place place;

	if (*value && !secret_place_read(value, &place))
		ERROR(c, key,
		    "%s: where it lies is needed, credential:NAME or file:/PATH; never the secret "
		    "itself: what stands here is in plain sight, and has to be changed if it is one",
		    key);
}

static bool is_base64(const char *s, size_t n)
{
	return strlen(s) >= n &&
	       strspn(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/") == n &&
	       (s[n] == '\0' || (s[n] == '=' && s[n + 1] == '\0'));
}

static void check_pin(const struct conf_line_of *c, enum remote_scheme scheme, const char *pin)
{
	const char *front = scheme == REMOTE_SFTP ? "SHA256:" : "sha256//";

	if (!*pin)
		return;
	if (scheme == REMOTE_FTP)
		ERROR(c, "pin", "pin: a server of ftp:// shows no key that could be compared; use "
		                "ftps:// or sftp://");
	else if (strncmp(pin, front, strlen(front)) != 0 || !is_base64(pin + strlen(front), 43))
		ERROR(c, "pin", "pin = '%s': %s and 43 characters of base64 are needed: %s", pin, front,
		    scheme == REMOTE_SFTP
		        ? "what ssh-keygen -l -f shows for the server's host key"
		        : "the SHA-256 of the public key in the server's certificate");
}

static void check_file(
    const struct conf_line_of *c, const char *key, const char *path, bool fits, const char *where)
{
	if (!*path)
		return;
	if (!fits)
		ERROR(c, key, "%s belongs to %s", key, where);
	else if (path[0] != '/')
		ERROR(c, key, "%s = '%s': an absolute path is needed", key, path);
}

/* What a server is known by. */
static void check_trust(
    const struct conf_line_of *c, enum remote_scheme scheme, const struct line_remote *r)
{
	bool known = *r->pin || *r->ca || *r->known_hosts;

	check_pin(c, scheme, r->pin);
	check_file(c, "ca", r->ca, scheme == REMOTE_FTPS, "ftps://");
	check_file(c, "known_hosts", r->known_hosts, scheme == REMOTE_SFTP, "sftp://");
	if (scheme != REMOTE_FTPS && conf_line_where(c, "tls"))
		ERROR(c, "tls", "tls belongs to ftps://");
	if (!r->verify && known)
		ERROR(c, "verify",
		    "verify = no, and pin, ca or known_hosts say what to verify: one or the other");
	else if (!r->verify)
		WARNING(c, "verify",
		    "channel %s: verify = no: whoever answers at this address is taken for the "
		    "server, and gets the password and the programs",
		    c->channel);
	else if (scheme == REMOTE_SFTP && !known)
		ERROR(c, "address",
		    "channel %s: sftp:// needs pin or known_hosts: without them any server would be "
		    "taken for the right one",
		    c->channel);
	if (scheme == REMOTE_FTP && r->verify)
		WARNING(c, "address",
		    "channel %s: ftp:// sends password and programs in clear text, and any server "
		    "is taken for the right one; use ftps:// or sftp:// where the server can",
		    c->channel);
}

static void check_login(
    const struct conf_line_of *c, enum remote_scheme scheme, const struct line_remote *r)
{
	check_secret(c, "password", r->password);
	check_secret(c, "key", r->key);
	if (!*r->user)
		ERROR(c, "address", "channel %s: user is needed, the name to log in with", c->channel);
	if (scheme != REMOTE_SFTP && *r->key)
		ERROR(c, "key", "key belongs to sftp://");
	if (scheme == REMOTE_SFTP ? !*r->password && !*r->key : !*r->password)
		ERROR(c, "address", "channel %s: password%s is needed, as credential:NAME or file:/PATH",
		    c->channel, scheme == REMOTE_SFTP ? " or key" : "");
}

void conf_line_remote_check(const struct conf_line_of *c, const struct line_remote *r)
{
	struct remote_address address;
	const char *wrong = remote_address_read(r->address, &address);

	if (wrong) {
		ERROR(c, "address", "channel %s: address: %s", c->channel, wrong);
		return;
	}
	conf_line_check_root(c, r->root);
	conf_line_check_folder(c, r->folder);
	conf_line_check_marker(c, r->marker);
	check_trust(c, address.scheme, r);
	check_login(c, address.scheme, r);
	if (!*r->marker)
		WARNING(c, "address",
		    "channel %s: no marker; without a marker file another server at this address "
		    "looks like this machine's",
		    c->channel);
}

void conf_line_put_path(const char *path, struct text *out)
{
	while (*path) {
		size_t n = strcspn(path, "/");

		if (n)
			text_printf(out, "/%.*s", (int)n, path);
		path += n + (path[n] == '/');
	}
}

/* What need not be said: RFC 959, RFC 4217, RFC 4253. With TLS from the beginning it is another server at the
 * same address (990, registered for ftps). */
static unsigned usual_port(enum remote_scheme scheme)
{
	return scheme == REMOTE_SFTP ? 22 : 21;
}

void conf_line_remote_place(const struct line_remote *r, struct text *out)
{
	static const char *const scheme[] = {"ftp", "ftps", "sftp"};
	struct remote_address a;

	if (remote_address_read(r->address, &a))
		return;
	text_printf(out, "%s://%s", scheme[a.scheme], a.host);
	if (!a.port && a.scheme == REMOTE_FTPS && r->tls == LINE_TLS_IMPLICIT)
		a.port = 990;
	if (a.port && a.port != usual_port(a.scheme))
		text_printf(out, ":%u", a.port);
	conf_line_put_path(r->root, out);
	conf_line_put_path(r->folder, out);
}
