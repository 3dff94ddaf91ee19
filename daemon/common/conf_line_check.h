/* What must hold across the keys of a machine's lines. */
#ifndef CONF_LINE_CHECK_H
#define CONF_LINE_CHECK_H

#include "conf_file.h"
#include "yoke/line.h"
#include "yoke/profile.h"

/*
 * Check the lines of the profile's channels: addresses, roots, folders, name patterns, and that no
 * two channels of a directory line write the same file. file is used for the place in messages.
 */
void conf_line_check(const struct conf_file *file, const struct profile *profile,
    const struct line *line, struct conf_report *report);

#endif
