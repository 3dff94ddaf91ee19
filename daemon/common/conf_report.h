/* Everything that is wrong with a configuration, gathered, so that all of it can be put right at
 * once. */
#ifndef CONF_REPORT_H
#define CONF_REPORT_H

#include <stddef.h>
#include "yoke/text.h"

/* Zero-initialise. text holds one line per message: "FILE:LINE: error: what, why, what is allowed".
 */
struct conf_report {
	struct text text;
	size_t errors;   /* the configuration must not be used */
	size_t warnings; /* it may be used */
};

/* Add a message. line from 1; 0: the file as a whole. The file's name and the arguments are made
 * visible. */
void conf_report_error(struct conf_report *r, const char *file, unsigned line, const char *format,
    ...) __attribute__((format(printf, 4, 5)));
void conf_report_warning(struct conf_report *r, const char *file, unsigned line, const char *format,
    ...) __attribute__((format(printf, 4, 5)));

/* Free and zero. */
void conf_report_free(struct conf_report *r);

#endif
