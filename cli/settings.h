/* The shop's settings, as the service reads them: how the programs of a machine are read. */
#ifndef SETTINGS_H
#define SETTINGS_H

#include "yoke/profile.h"

/*
 * Fill *profile: from file (--machine FILE) when it is given, over the defaults; else from the
 * configuration in home, or in YOKE_HOME, or in /var/lib/yoke: that of the machine of this name, or the
 * shop's where machine is NULL, "" or not there. A configuration that cannot be read is said on stderr,
 * once, and the defaults stand for it. 0; 1 the defaults stand for it; -1 when file cannot be read: that
 * was said.
 */
int settings_profile(
    const char *home, const char *file, const char *machine, struct profile *profile);

#endif
