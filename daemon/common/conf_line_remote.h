/* The keys of a line of kind remote, and what must hold across them. */
#ifndef CONF_LINE_REMOTE_H
#define CONF_LINE_REMOTE_H

#include "conf_line_check.h"
#include "conf_value.h"
#include "yoke/text.h"

enum { CONF_LINE_REMOTE_KEYS = 16 };
extern const struct conf_key conf_line_remote_keys[CONF_LINE_REMOTE_KEYS];

/*
 * tls explicit, root /, verify yes, open_ms 10000, answer_ms 10000, stall_ms 15000, total_ms 120000;
 * times are common practice.
 */
void conf_line_remote_defaults(struct line_remote *r);

/* Check the keys across each other. Nothing that may be a secret is ever told. */
void conf_line_remote_check(const struct conf_line_of *c, const struct line_remote *r);

/* A path with one / in front of each part, and none behind, appended to out: two that are spelled otherwise
 * are one then. */
void conf_line_put_path(const char *path, struct text *out);

/* Server, with its port where that is not the usual one, and folder, for conf_line_place(). */
void conf_line_remote_place(const struct line_remote *r, struct text *out);

#endif
