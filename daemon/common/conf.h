/* The service's configuration: HOME/yoke.conf and HOME/machines/NAME.conf. */
#ifndef CONF_H
#define CONF_H

#include <stddef.h>
#include <stdint.h>
#include "conf_badge.h"
#include "conf_duty.h"
#include "conf_machine.h"
#include "conf_owner.h"
#include "conf_report.h"
#include "conf_trail.h"

enum conf_watch {
	CONF_WATCH_EVENTS = 0, /* the kernel tells of changes */
	CONF_WATCH_POLL,       /* the folder is looked through every poll_ms */
};

struct conf {
	char home[YOKE_PATH_MAX + 1];
	char programs[YOKE_PATH_MAX + 1]; /* the watched folder, absolute; default HOME/programs */
	char socket[YOKE_PATH_MAX + 1];   /* the API's socket, absolute; default HOME/yoke.sock */
	enum conf_watch watch;            /* default events */
	uint32_t poll_ms;                 /* default 2000 */
	uint32_t settle_ms;     /* a file is settled when unchanged this long; default 1000 */
	uint32_t incomplete_s;  /* an incomplete file is told as cut off after this; default 60 */
	struct conf_trail trail; /* how it is sealed */
	uint32_t room_warn_mb;  /* the disk of the vault is told to fill up below this; default 500 */
	struct profile profile; /* the shop's: every machine begins with a copy */
	struct conf_badges badges;
	struct conf_duties duties;
	struct conf_owners owners;
	struct conf_machine *machine; /* by name */
	size_t machines;
};

/*
 * Read everything below home. All errors and warnings of all files go to the report. 0 without
 * errors; -1 with errors: *out is filled as far as possible, for a check only. Free with conf_free
 * in either case.
 */
int conf_read(const char *home, struct conf *out, struct conf_report *report);

/* The machine of this name, or NULL. Belongs to the configuration. */
const struct conf_machine *conf_find(const struct conf *c, const char *name);

/* Free and zero. */
void conf_free(struct conf *c);

#endif
