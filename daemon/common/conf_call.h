/* Calls from a machine's own keyboard: the [call] section of machines/NAME.conf. */
#ifndef CONF_CALL_H
#define CONF_CALL_H

#include <stdbool.h>
#include "conf_file.h"
#include "yoke/call.h"
#include "yoke/line.h"
#include "yoke/profile.h"

struct conf_call {
	bool listen; /* between orders the lines are listened to; default no */
	struct call_words words;
};

/*
 * Fill *out from the section [call]; entries of other sections are not looked at. line: of the
 * profile's channels, read before: who listens answers on the same line, so every channel needs a
 * serial line on which the control says that it is set to read (wait_dc1). Errors go to the report.
 */
void conf_call_read(const struct conf_file *file, const struct profile *profile,
    const struct line line[YOKE_CHANNELS_MAX], struct conf_call *out, struct conf_report *report);

#endif
