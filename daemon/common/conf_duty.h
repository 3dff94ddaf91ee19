/* The [duties] section of yoke.conf: which groups may do what. */
#ifndef CONF_DUTY_H
#define CONF_DUTY_H

#include <stdbool.h>
#include <sys/types.h>
#include "conf_file.h"
#include "yoke/duty.h"
#include "yoke/limits.h"

enum { CONF_DUTY_GROUPS = 16 };

/* Who has one duty. */
struct conf_duty {
	bool given; /* otherwise everybody who may open the socket has it */
	bool all;   /* given as "all" */
	struct conf_duty_group {
		gid_t gid;
		char name[YOKE_NAME_MAX + 1]; /* as it is written in the file */
	} group[CONF_DUTY_GROUPS];
	size_t n; /* given with none: only root and the service's own user */
};

struct conf_duties {
	struct conf_duty duty[DUTY_COUNT];
};

/* Take one entry: DUTY = GROUP, GROUP... | all | nothing. Errors go to the report, an unknown group
 * among them. */
void conf_duty_add(struct conf_duties *all, const char *path, const struct conf_entry *e,
    struct conf_report *report);

/*
 * Whether somebody with these groups has the duty; then *by is the group that gives it, when one does.
 * release-again that is not given is had by those who have release.
 */
bool conf_duty_has(const struct conf_duties *all, enum duty duty, const gid_t *gid, size_t n,
    gid_t *by);

/* Whether it is given at all, and to whom in words: "the groups setters, foremen". */
bool conf_duty_given(const struct conf_duties *all, enum duty duty);
void conf_duty_words(const struct conf_duties *all, enum duty duty, struct text *out);

const char *conf_duty_name(enum duty duty);

#endif
