/* The files of one pair, loaded and checked: what `check` and `ladder` begin with. */
#ifndef PAIR_FILES_H
#define PAIR_FILES_H

#include "conf_machine.h"
#include "report_json.h"
#include "yoke/pair.h"

enum { PAIR_FILES_SISTERS_MAX = 16 }; /* as many as a program can have */

struct pair_files {
	struct conf_machine machine; /* the machine's file, or the defaults with an empty name */
	struct report_json_program loaded[YOKE_CHANNELS_MAX];
	size_t n; /* programs */
	struct program *sister[PAIR_FILES_SISTERS_MAX];
	size_t sisters;
	struct pair_files_text {
		void *bytes; /* mapped, lent to a program; NULL without */
		size_t n;
	} text[YOKE_CHANNELS_MAX], sister_text[PAIR_FILES_SISTERS_MAX];
	struct pair_report *report;
};

/* What a verb was asked for. */
struct pair_files_ask {
	const char *verb;
	const char *machine;     /* --machine; NULL: the default profile */
	const char *const *with; /* --with, at most PAIR_FILES_SISTERS_MAX: files of subprograms */
	size_t withs;
	char **files; /* the programs */
	size_t n;
	bool text; /* the verb reads the texts again: they are lent to the programs */
};

/*
 * Read the machine's file, the files of subprograms, and the programs' files, one for each channel
 * or one that holds them all (where the profile has a separator), and check the programs. NULL when
 * something cannot be read or the number of files does not suit the machine: that was said on
 * stderr. Free with pair_files_free.
 */
struct pair_files *pair_files_read(const struct pair_files_ask *ask);

/* The same without files of subprograms. */
struct pair_files *pair_files_check(const char *verb, const char *machine, char **files, size_t n);
void pair_files_free(struct pair_files *p);

/* The exit status that the report stands for. */
int pair_files_status(const struct pair_files *p);

/*
 * Fill *profile from a machine's file, or with the defaults when path is NULL. 0, or -1 with all
 * errors on stderr.
 */
int pair_files_machine(const char *path, struct conf_machine *machine);

#endif
