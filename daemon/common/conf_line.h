/* The [line] sections of a machine's configuration: how each channel's program gets into the
 * control. */
#ifndef CONF_LINE_H
#define CONF_LINE_H

#include <stdbool.h>
#include "conf_file.h"
#include "yoke/line.h"
#include "yoke/profile.h"

/*
 * Fill one line per channel of the profile: first [line], then [line CHANNEL] over it. Without
 * [line] every line is LINE_NONE. Entries of other sections are not looked at. Errors and warnings,
 * also those across keys (a serial line without address, a relative root, one name in one folder
 * for two channels), go to the report.
 *
 * Defaults, where no source is named common practice: 9600 baud, framing 7e2, code iso (ISO 840),
 * eia as wire/eia.h has it, eob lf, wait_dc1 yes, dc2_dc4 no, leader and trailer 0, char_pause and
 * block_pause 0 ms, reserve 64 characters, open_ms 10000, first_ms 0 (for ever), stall_ms 30000,
 * total_ms 0 (computed), read_back none, read_back_ms 600000, silence_ms 5000; directory: total_ms
 * 120000; shares and stick: eob as-is, upper_case no, short_names no; remote: conf_line_remote.h. name:
 * "O{number}" on a serial line, else "{job}_{channel}.NC".
 */
void conf_line_read(const struct conf_file *file, const struct profile *profile,
    struct line line[YOKE_CHANNELS_MAX], struct conf_report *report);

/* True for "line" and "line CHANNEL". */
bool conf_line_section(const char *section);

/*
 * What stands for one place: the address, or root and folder with a / between, or server and folder.
 * "" for LINE_NONE and LINE_STICK.
 * Appended to out; two lines with equal places would write over one another.
 */
void conf_line_place(const struct line *l, struct text *out);

/* True when both have a place, and the same. */
bool conf_line_same_place(const struct line *a, const struct line *b);

/* The setting because of which whoever answers is taken for the server of this line; NULL when there
 * is none. */
const char *conf_line_unverified(const struct line *l);

#endif
