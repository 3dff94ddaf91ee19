/*
 * How a machine's file names a server that has its share: ftp://HOST, ftps://HOST or sftp://HOST, with
 * :PORT behind when it is not the usual one. HOST is a name, an IPv4 address, or an IPv6 address in
 * brackets. User, password and path have settings of their own.
 */
#ifndef REMOTE_ADDRESS_H
#define REMOTE_ADDRESS_H

#include <stdbool.h>

enum remote_scheme {
	REMOTE_FTP = 0, /* in clear text (RFC 959) */
	REMOTE_FTPS,    /* with TLS (RFC 4217, or implicit) */
	REMOTE_SFTP,    /* over SSH */
};

struct remote_address {
	enum remote_scheme scheme;
	char host[256]; /* in small letters, with its brackets */
	unsigned port;  /* 0: the usual one */
};

/* Read an address. NULL with *out filled, or what is wrong with it and what to write instead; never
 * any of the address itself, which may hold a password. */
const char *remote_address_read(const char *address, struct remote_address *out);

#endif
