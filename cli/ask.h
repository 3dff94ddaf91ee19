/* What the verbs that ask the service share: arguments, a request and its errors, words. */
#ifndef ASK_H
#define ASK_H

#include <jansson.h>
#include <stdbool.h>
#include "args.h"
#include "yoke/text.h"

/*
 * The options that every such verb takes; they begin its list. A verb whose answer is no table
 * refuses --json by itself.
 */
#define ASK_OPTIONS                                                                                \
	{.name = "home", .takes = true}, {.name = "socket", .takes = true},                        \
	{                                                                                          \
		.name = "json"                                                                     \
	}
enum { ASK_HOME, ASK_SOCKET, ASK_JSON, ASK_OWN };

/* The lines of a verb's help about ASK_OPTIONS. */
#define ASK_OPTIONS_HELP                                                                           \
	"  --home DIR       where the service keeps its things (default: YOKE_HOME, then\n"        \
	"                   /var/lib/yoke)\n"                                                      \
	"  --socket PATH    the service's socket, when it is elsewhere\n"

/*
 * As args_read, for a list that begins with ASK_OPTIONS: --home and --socket are told to http.h,
 * and there must be least to most operands. 0, or EXIT_USE and said.
 */
int ask_args(int argc, char **argv, struct args_option *options, size_t n, size_t least,
    size_t most, struct args *out);

/*
 * GET path (body NULL) or POST. path and body may be NULL for want of memory with *status set. The
 * answer's JSON, which the caller owns; NULL when there is none: what went wrong was said on stderr
 * and *status is the exit status to end with.
 */
json_t *ask(const char *path, const json_t *body, int *status);

/* ask with a path that has values: format holds one %s for value, which is percent-encoded. */
json_t *ask_about(const char *format, const char *value, const json_t *body, int *status);

/*
 * A verb about one order, whose name is argv[0]: POST /v1/orders/ORDER/VERB. done: what is said when it
 * was accepted, "order N" in front of it; the machine's name behind it when the answer has one.
 */
int ask_of_order(int argc, char **argv, const char *done);

/* Say an answer that is an error, and return the exit status it stands for. */
int ask_refusal(long http_status, const json_t *answer);

/* format holds one %s, for value percent-encoded. The caller frees; NULL without memory. */
char *ask_path(const char *format, const char *value);

/* Append NAME=VALUE to a query, percent-encoded, behind ? or &. value NULL: nothing. */
void ask_query(struct text *path, const char *name, const char *value);

/* A member of o: a string or "", a number or 0, true or false. o may be NULL. */
const char *ask_string(const json_t *o, const char *key);
json_int_t ask_number(const json_t *o, const char *key);
bool ask_true(const json_t *o, const char *key);

/* Append s, or the string key of o, made visible: no terminal is driven by what the service sends.
 */
void ask_put(struct text *t, const char *s);
void ask_put_string(struct text *t, const json_t *o, const char *key);

/* Append "JOB@REV", as `yoke send` takes it; "-" when o has no job. */
void ask_put_pair(struct text *t, const json_t *o);

/* Append a time of the API in local time to the minute, or with seconds; as it came when it is
 * none. */
void ask_put_time(struct text *t, const char *rfc3339, bool seconds);

/* One JSON value on one line of stdout, at once, written so that no terminal obeys it. */
void ask_json_line(const json_t *o);

/*
 * The body that names a pair, JOB@REV, with those of the n options that are set, under their names. The
 * caller's; NULL, said under the verb's name, when it is none or an option is not UTF-8.
 */
json_t *ask_pair(const char *verb, const char *pair, const struct args_option *options, size_t n);

/* `yoke lock` and the like: POST format about the machine, {note} as body; prints what it holds. */
int ask_note(int argc, char **argv, const char *format, const char *done);

#endif
