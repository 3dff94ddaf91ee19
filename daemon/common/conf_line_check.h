/* What must hold across the keys of a machine's lines. */
#ifndef CONF_LINE_CHECK_H
#define CONF_LINE_CHECK_H

#include "conf_file.h"
#include "yoke/line.h"
#include "yoke/profile.h"

/*
 * Check the lines of the profile's channels: addresses, roots, folders, name patterns, and that no
 * two channels of a share write the same file. file is used for the place in messages.
 */
void conf_line_check(const struct conf_file *file, const struct profile *profile,
    const struct line *line, struct conf_report *report);

/* The channel whose line is being checked. */
struct conf_line_of {
	const struct conf_file *file;
	const char *channel;
	struct conf_report *report;
};

/* The line where this channel's value was set: [line CHANNEL], else [line]; 0: nowhere. */
unsigned conf_line_where(const struct conf_line_of *c, const char *key);

/* A share's root, this channel's folder below it, and the name of its marker. */
void conf_line_check_root(const struct conf_line_of *c, const char *root);
void conf_line_check_folder(const struct conf_line_of *c, const char *folder);
void conf_line_check_marker(const struct conf_line_of *c, const char *marker);

#endif
