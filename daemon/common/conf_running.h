/* How a machine tells that it runs: the sections [running] and [running CHANNEL]. */
#ifndef CONF_RUNNING_H
#define CONF_RUNNING_H

#include <stdbool.h>
#include "conf_file.h"
#include "yoke/line.h"
#include "yoke/profile.h"
#include "yoke/running.h"

/* True for "running" and "running CHANNEL". */
bool conf_running_section(const char *section);

/*
 * Fill *out; entries of other sections are not looked at. line: of the profile's channels, read
 * before: a file needs a share, and over a serial line nothing can be replaced unseen, since its
 * operator sets the control to read. Errors go to the report.
 */
void conf_running_read(const struct conf_file *file, const struct profile *profile,
    const struct line line[YOKE_CHANNELS_MAX], struct running *out, struct conf_report *report);

#endif
