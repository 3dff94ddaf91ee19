/* One machine: machines/NAME.conf. */
#ifndef CONF_MACHINE_H
#define CONF_MACHINE_H

#include "conf_call.h"
#include "conf_report.h"
#include "yoke/carry.h"
#include "yoke/line.h"
#include "yoke/profile.h"
#include "yoke/running.h"

enum conf_release {
	CONF_RELEASE_WAIT = 0, /* a released pair waits until somebody sends it */
	CONF_RELEASE_CARRY,    /* a released pair is carried by the service */
};

struct conf_machine {
	char name[YOKE_NAME_MAX + 1];        /* the file's name without .conf */
	char title[128];                     /* what people call it; the name when not set */
	enum conf_release on_release;        /* default wait */
	uint32_t retry_s; /* how long a person's order to a share is tried again; default 600 */
	uint32_t look_s; /* between two looks at a share; default 0: none */
	struct profile profile;              /* the shop's, with this machine's settings over it */
	struct line line[YOKE_CHANNELS_MAX]; /* by the profile's channel index */
	struct conf_call call;
	struct running running;
};

/*
 * Read a machine's file over the shop's profile (profile_defaults where there is no shop). Every
 * error and warning goes to the report. 0 without errors; -1 with errors: *out is filled as far as
 * possible and must not be used to carry anything. Nothing to free.
 */
int conf_machine_read(const char *path, const struct profile *shop, struct conf_machine *out,
    struct conf_report *report);

/* The channels of a machine and their words on its serial lines, into an order. */
void conf_machine_words(const struct conf_machine *m, struct carry_order *order);

/*
 * True when s may name a machine: 1 to YOKE_NAME_MAX letters, digits, - and _. It becomes a folder
 * and file name.
 */
bool conf_machine_name_ok(const char *s);

#endif
