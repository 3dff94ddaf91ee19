/* The sections of a configuration that describe how programs look and what the machine takes. */
#ifndef CONF_PROFILE_H
#define CONF_PROFILE_H

#include <stdbool.h>
#include "conf_file.h"
#include "yoke/profile.h"

/* Sections that a file may have beside these, for spelling help in its messages. */
struct conf_sections {
	const char *const *name;
	size_t n;
};

/* True for [programs] [wait] [values] [codes] [limits] [weights] and [channel NAME]. */
bool conf_profile_section(const char *section);

/* Hand all entries of these sections to the profile; what it does not take is reported, with
 * spelling help. */
void conf_profile_read(
    const struct conf_file *file, struct profile *profile, struct conf_report *report);

/* Report an unknown section: the file's own ones and the profile's are offered. */
void conf_profile_unknown_section(const char *path, const struct conf_entry *e,
    const struct conf_sections *own, struct conf_report *report);

#endif
