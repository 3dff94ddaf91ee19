/* One machine whose share is reached through the scripted FTP server: what share_case.h sets up, over
 * a line of kind remote. */
#ifndef REMOTE_CASE_H
#define REMOTE_CASE_H

#include "ftp_server.h"
#include "share_case.h"

#define SESAME "sesame-6f1d" /* the password: nothing else looks like it */

int remote_set_up(void **state);
int remote_tear_down(void **state);

/* The lines of both items again, after a test has changed them. */
void remote_lines(void);

/* The script: act on the n-th use of a verb whose argument ends with this; do everything else. */
void script(const char *verb, const char *end, unsigned n, enum ftp_act act);

/* The same, and the server is down from then on. */
void script_down(const char *verb, const char *end, unsigned n, enum ftp_act act);

/* Look at the machine as the service does after an order that was cut short: all is known. */
void inspect(void);

/* The outcome's sentence has this; and nothing that anybody can see has the password. */
void says(const char *words);

#endif
