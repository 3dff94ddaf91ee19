/*
 * One configuration file as a list of settings, read through inih. inih cuts long lines, joins
 * indented lines and reports the first bad line only; here each of these is an error with its line.
 */
#ifndef CONF_FILE_H
#define CONF_FILE_H

#include <stddef.h>
#include "conf_report.h"

enum {
	CONF_FILE_MAX = 256 * 1024, /* bytes of one file */
	CONF_FILE_ENTRIES = 4096,   /* settings in one file */
};

/* One setting. Strings belong to the file. */
struct conf_entry {
	char *section, *key, *value;
	unsigned line; /* from 1 */
};

struct conf_file {
	char *path;
	struct conf_entry *v;
	size_t n, cap;
};

/*
 * Read path. Every error goes to the report; what could be read is in *out, which the caller frees
 * in either case. 0 when there was no error; -1 with errors. A doubled key is an error, and its
 * first value is kept.
 */
int conf_file_read(const char *path, struct conf_file *out, struct conf_report *report);

/* As conf_file_read, from n bytes in memory; path is the name used in messages. */
int conf_file_parse(const char *path, const char *bytes, size_t n, struct conf_file *out,
    struct conf_report *report);

/* Free and zero. */
void conf_file_free(struct conf_file *f);

#endif
