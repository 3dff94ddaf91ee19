/* The settings of the sealed trail, in the section [yoke]: see README, "The trail". */
#ifndef CONF_TRAIL_H
#define CONF_TRAIL_H

#include <stdint.h>
#include "conf_report.h"
#include "yoke/limits.h"

struct conf_trail {
	uint32_t events;  /* a checkpoint after so many entries at the latest; default 100 */
	uint32_t seconds; /* and so long after an entry that none has sealed; default 900 */
	char to[YOKE_PATH_MAX + 1];  /* the second place: file:/PATH, syslog:, http(s)://...; "" for none */
	char key[YOKE_PATH_MAX + 1]; /* where the key lies (secret_place.h); default file:HOME/seal.key */
};

/* Fill in what depends on home, and report what is wrong. path: of yoke.conf. */
void conf_trail_check(
    struct conf_trail *t, const char *home, const char *path, struct conf_report *report);

#endif
