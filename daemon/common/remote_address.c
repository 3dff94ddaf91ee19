#include "remote_address.h"

#include <stddef.h>
#include <string.h>
#include <strings.h>

/* Bytes of the host in front of its port; 0 when it is none. */
static size_t host_length(const char *s)
{
	size_t n = strspn(s, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-._");

	if (*s != '[')
		return n;
	n = strspn(s + 1, "0123456789abcdefABCDEF:.");
	return n && s[n + 1] == ']' ? n + 2 : 0;
}

static bool read_port(const char *s, unsigned *port)
{
	*port = 0;
	if (!*s)
		return true;
	if (*s++ != ':' || !*s || strlen(s) > 5)
		return false;
	for (; *s; s++) {
		if (*s < '0' || *s > '9')
			return false;
		*port = *port * 10 + (unsigned)(*s - '0');
	}
	return *port >= 1 && *port <= 65535;
}

const char *remote_address_read(const char *address, struct remote_address *out)
{
	static const char *const scheme[] = {
	    [REMOTE_FTP] = "ftp://", [REMOTE_FTPS] = "ftps://", [REMOTE_SFTP] = "sftp://"};
	const char *host = NULL;
	size_t n;

	*out = (struct remote_address){0};
	for (unsigned i = 0; i < sizeof(scheme) / sizeof(scheme[0]); i++)
		if (!strncasecmp(address, scheme[i], strlen(scheme[i]))) {
			out->scheme = i;
			host = address + strlen(scheme[i]);
		}
	if (!host && !strncasecmp(address, "smb://", 6))
		return "a share of this kind is mounted by the kernel, and its line is of kind "
		       "directory";
	if (!host)
		return "ftp://HOST, ftps://HOST or sftp://HOST is needed, with :PORT when it is not "
		       "the usual one";
	if (strchr(host, '@'))
		return "user and password are settings of their own (user, password)";
	if (strchr(host, '/'))
		return "nothing may stand behind HOST:PORT; the path is a setting of its own (root)";
	n = host_length(host);
	if (n < 1 || n >= sizeof(out->host) || !read_port(host + n, &out->port))
		return "HOST or HOST:PORT is needed behind the scheme, with a port from 1 to 65535";
	for (size_t i = 0; i < n; i++)
		out->host[i] = (char)(host[i] >= 'A' && host[i] <= 'Z' ? host[i] - 'A' + 'a'
		                                                       : host[i]);
	return NULL;
}
