/* One call to a server, as the files behind remote_session.h share it. */
#ifndef REMOTE_CALL_H
#define REMOTE_CALL_H

#include "curl_lib.h"
#include "remote_address.h"
#include "remote_session.h"
#include "secret.h"

enum { REMOTE_SOCKETS = 8, REMOTE_REPLY = 200 };

struct remote_session {
	unsigned holders;
	const struct line_remote *line;
	struct remote_address address;
	struct folder_order *order;
	const struct curl_lib *lib;
	CURL *curl;                /* NULL: none, or none any more */
	CURLM *multi;              /* with its connections */
	bool moved;                /* a file or list went over this connection */
	bool tls_1_3;              /* the server agrees on nothing older: see perform() */
	bool spoke;                /* a call has gone well */
	bool sending;              /* a file is on its way to the server */
	bool left;                 /* the server ended a connection by itself in the last call */
	bool unset;                /* an option of the last handle was not taken */
	const char *lacks;         /* which, when this libcurl does not know it; NULL */
	int socket[REMOTE_SOCKETS]; /* open ones of curl; -1 */
	char name[300];
	char password[SECRET_MAX + 1];
	char key[YOKE_PATH_MAX + 1]; /* path */
};

/* A long list has a line for each file with all that the server tells of it, in no fixed form. */
enum remote_kind {
	REMOTE_GET,
	REMOTE_SIZE,
	REMOTE_PUT,
	REMOTE_LIST,
	REMOTE_LONG_LIST,
	REMOTE_CHANGE,
};

struct remote_call {
	struct remote_session *session;
	enum remote_kind kind;
	remote_take *take; /* GET, LIST */
	void *ctx;
	const unsigned char *bytes; /* PUT */
	size_t size, at;
	int stop;                   /* what a callback ended it with */
	long code;                  /* of the server's last reply (FTP) */
	char reply[REMOTE_REPLY];   /* that reply, printable */
	char text[CURL_ERROR_SIZE]; /* libcurl's own words */
};

/* A handle with the options of this call on path; NULL without memory, or with lacks set. */
CURL *remote_handle(struct remote_call *c, const char *path);

/* Do what the handle was made for. */
CURLcode remote_drive(struct remote_session *s);

/* Give up connections and handle, without waiting for anybody. */
void remote_drop(struct remote_session *s);

/* What rc means: 0, a negative errno, or FOLDER_SAID with the order's said filled; and refused. */
int remote_judge(struct remote_call *c, CURLcode rc);

#endif
