/* The [badges] section of yoke.conf: who calls from a machine's keyboard. */
#ifndef CONF_BADGE_H
#define CONF_BADGE_H

#include <stddef.h>
#include "conf_file.h"

enum { CONF_BADGES_MAX = 256 };

/*
 * A badge names a person in a call. It is no password: whoever reads a call at the control can write
 * the same. It tells who says that he called.
 */
struct conf_badge {
	char number[32]; /* as it is written in a call, without blanks */
	char name[64];   /* the person's login, or what the shop calls him */
};

struct conf_badges {
	struct conf_badge badge[CONF_BADGES_MAX];
	size_t n;
};

/* Add the badge of one entry: NUMBER = NAME. Errors go to the report. */
void conf_badge_add(struct conf_badges *all, const char *path, const struct conf_entry *e,
    struct conf_report *report);

/* The person's name, or NULL. Upper and lower case are the same. */
const char *conf_badge_name(const struct conf_badges *all, const char *number);

#endif
