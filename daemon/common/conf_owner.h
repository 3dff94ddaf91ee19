/* The [owners] section of yoke.conf: accounts behind which a file server hides who wrote a file. */
#ifndef CONF_OWNER_H
#define CONF_OWNER_H

#include <sys/types.h>
#include "conf_file.h"

enum { CONF_OWNERS_MAX = 64 };

struct conf_owners {
	struct conf_owner {
		uid_t uid;
		char account[40]; /* as it is written in the file: a name or a number */
		char server[40];  /* what people call the file server */
	} owner[CONF_OWNERS_MAX];
	size_t n;
};

/* Take one entry: ACCOUNT = what people call the file server. Errors go to the report. */
void conf_owner_add(struct conf_owners *all, const char *path, const struct conf_entry *e,
    struct conf_report *report);

/* The file server's account with this number, or NULL: it may be a person's. */
const struct conf_owner *conf_owner_find(const struct conf_owners *all, uid_t uid);

#endif
