/* Settings as a table: name, type, where the value goes, what is allowed. */
#ifndef CONF_VALUE_H
#define CONF_VALUE_H

#include <stddef.h>
#include <stdint.h>
#include "conf_file.h"

enum conf_type {
	CONF_NUMBER, /* uint32_t, low..high */
	CONF_LISTED, /* uint32_t, one of the numbers in choice */
	CONF_CHOICE, /* an enum whose values are the places in choice */
	CONF_YES_NO, /* bool */
	CONF_STRING, /* char[size] */
};

struct conf_key {
	const char *name;
	enum conf_type type;
	size_t offset, size;       /* within the structure that is filled */
	uint32_t low, high;        /* CONF_NUMBER */
	const char *unit;          /* CONF_NUMBER: "milliseconds"; "" for a count */
	const char *const *choice; /* CONF_LISTED, CONF_CHOICE: ends with NULL */
};

/* The key of this name among n, or NULL. */
const struct conf_key *conf_value_key(const struct conf_key *keys, size_t n, const char *name);

/* Set the field of base that key describes. 0, or -1 with an error in the report. */
int conf_value_set(const struct conf_key *key, void *base, const char *path,
    const struct conf_entry *e, struct conf_report *report);

/* Report an unknown key, with the nearest of n known ones and the list of all. */
void conf_value_unknown(const char *path, const struct conf_entry *e, const char *const *known,
    size_t n, struct conf_report *report);

/* As conf_value_unknown, for the entry's section. */
void conf_value_unknown_section(const char *path, const struct conf_entry *e,
    const char *const *known, size_t n, struct conf_report *report);

#endif
