/*
 * A small FTP server (RFC 959, with EPSV and SIZE of RFC 2428 and 3659) in threads of the test, whose
 * answers a script decides. It serves this computer's own paths, so that a test sees what a machine
 * would. Written for tests: one user, no protection of any kind.
 */
#ifndef FTP_SERVER_H
#define FTP_SERVER_H

#include <stdbool.h>
#include <stddef.h>

enum { FTP_LOG = 1024, FTP_LINE = 600 };

enum ftp_act {
	FTP_DO = 0,
	FTP_REFUSE,       /* 550, nothing is done */
	FTP_FULL,         /* 552, nothing is done */
	FTP_BUSY,         /* 421 and the end of the connection */
	FTP_CLOSE_BEFORE, /* the connection ends; nothing is done */
	FTP_CLOSE_AFTER,  /* it is done, and the connection ends without an answer */
	FTP_LATE,         /* nothing until ftp_wake(), then it is done */
	FTP_SLOW,         /* done after slow_ms */
	FTP_LIE,          /* SIZE: one byte more than there is */
};

struct ftp_server {
	/* The script: what to do with a command; n counts commands from 1 since ftp_forget(). Called in a
	 * thread of the server, one at a time. NULL: FTP_DO. */
	enum ftp_act (*on_command)(const char *verb, const char *argument, unsigned n);
	bool down;          /* who comes is turned away, who is there is left alone */
	bool no_replace;    /* RNTO onto a file that is there: 553 */
	bool tells_password; /* says again what it was told, as servers do with a command that they take for none */
	bool no_empty_list; /* NLST of a folder without files: 550, as some servers say it */
	unsigned slow_ms;
	const char *alias, *alias_of; /* under the one name the server gives the file of the other */
	const char *password;
	const char *list_once;    /* in front of each list */
	const char *list_garbage; /* instead of each list, without end */

	/* What was seen. */
	char log[FTP_LOG][FTP_LINE]; /* each command with its argument; PASS without */
	unsigned commands;
	unsigned not_binary; /* transfers that were not TYPE I */
	unsigned logins;
	int port;
};

extern struct ftp_server ftp;

/* Start it once; further calls do nothing. */
void ftp_start(void);

/* Forget script and log. */
void ftp_forget(void);

/* Let those go on who wait for FTP_LATE, and wait until they have done what they were asked. */
void ftp_wake(void);

/* How often a verb was seen. */
unsigned ftp_count(const char *verb);

#endif
