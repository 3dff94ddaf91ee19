/* The files of one pair, loaded and checked: what `check` and `ladder` begin with. */
#ifndef PAIR_FILES_H
#define PAIR_FILES_H

#include "conf_machine.h"
#include "report_json.h"
#include "yoke/pair.h"

struct pair_files {
	struct conf_machine machine; /* the machine's file, or the defaults with an empty name */
	struct report_json_program loaded[YOKE_CHANNELS_MAX];
	char *text[YOKE_CHANNELS_MAX]; /* of pair_files_read: lent to the programs */
	size_t n;
	struct pair_report *report;
};

/*
 * Read the machine's file (NULL: the default profile) and n programs, and check them. NULL when
 * something cannot be read or the number of files does not suit the machine: that was said on
 * stderr. Free with pair_files_free.
 */
struct pair_files *pair_files_check(const char *verb, const char *machine, char **files, size_t n);
/* The same, and the programs' text stays in memory, for what reads it once more. */
struct pair_files *pair_files_read(const char *verb, const char *machine, char **files, size_t n);
void pair_files_free(struct pair_files *p);

/* The exit status that the report stands for. */
int pair_files_status(const struct pair_files *p);

/*
 * Fill *profile from a machine's file, or with the defaults when path is NULL. 0, or -1 with all
 * errors on stderr.
 */
int pair_files_machine(const char *path, struct conf_machine *machine);

#endif
