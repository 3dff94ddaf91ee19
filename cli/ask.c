#include "ask.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "exit.h"
#include "http.h"
#include "machine.h"
#include "order.h"
#include "out.h"

int ask_args(int argc, char **argv, struct args_option *options, size_t n, size_t least,
    size_t most, struct args *out)
{
	if (args_read(argc, argv, options, n, out))
		return EXIT_USE;
	http_use(options[ASK_HOME].value, options[ASK_SOCKET].value);
	if (out->n >= least && out->n <= most)
		return 0;
	if (out->n < least)
		out_error("%s: something is missing: 'yoke %s --help'", argv[0], argv[0]);
	else
		out_error("%s: '%s' is more than it takes: 'yoke %s --help'", argv[0],
		    out->rest[most], argv[0]);
	return EXIT_USE;
}

int ask_refusal(long http_status, const json_t *answer)
{
	if (*ask_string(answer, "text"))
		out_error("%s", ask_string(answer, "text"));
	else
		out_error("the service answered with status %ld", http_status);
	return http_status >= 400 && http_status < 500 ? EXIT_REFUSED : EXIT_SERVICE;
}

json_t *ask(const char *path, const json_t *body, int *status)
{
	struct http_answer a;
	json_t *o = NULL;

	*status = EXIT_SERVICE;
	if (!path) {
		out_error("out of memory");
		return NULL;
	}
	if (http_request(path, body, &a) == 0) {
		if (a.status < 200 || a.status > 299) {
			*status = ask_refusal(a.status, a.json);
		} else if (!json_is_object(a.json)) {
			out_error("the service's answer is no JSON object");
		} else {
			o = json_incref(a.json);
			*status = EXIT_DONE;
		}
	}
	http_answer_free(&a);
	return o;
}

json_t *ask_about(const char *format, const char *value, const json_t *body, int *status)
{
	char *path = ask_path(format, value);
	json_t *o = ask(path, body, status);

	free(path);
	return o;
}

int ask_of_order(int argc, char **argv, const char *done)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct text t = {0};
	struct args args;
	char path[64];
	json_t *none, *o;
	int status = ask_args(argc, argv, options, ASK_OWN, 1, 1, &args);

	if (status)
		return status;
	if (strspn(args.rest[0], "0123456789") != strlen(args.rest[0]) || !*args.rest[0]) {
		out_error("%s: '%s' is no order: they are numbers, and `yoke orders` lists them",
		    argv[0], args.rest[0]);
		return EXIT_USE;
	}
	snprintf(path, sizeof(path), "/v1/orders/%%s/%s", argv[0]);
	none = json_object();
	o = ask_about(path, args.rest[0], none, &status);
	json_decref(none);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	text_printf(&t, "order %s %s", args.rest[0], done);
	ask_put_string(&t, o, "machine");
	text_putc(&t, '\n');
	out_text(&t);
	if (*ask_string(o, "caution"))
		out_prose(ask_string(o, "caution"), 0);
	json_decref(o);
	return status;
}

char *ask_path(const char *format, const char *value)
{
	char *escaped = http_escape(value), *path = NULL;
	struct text t = {0};
	const char *hole = strstr(format, "%s");

	if (escaped && hole) {
		text_add(&t, format, (size_t)(hole - format));
		text_puts(&t, escaped);
		text_puts(&t, hole + 2);
		path = text_take(&t);
	}
	free(escaped);
	return path;
}

void ask_query(struct text *path, const char *name, const char *value)
{
	char *escaped = value ? http_escape(value) : NULL;

	if (!value)
		return;
	if (!escaped)
		path->failed = true;
	else
		text_printf(
		    path, "%c%s=%s", path->s && strchr(path->s, '?') ? '&' : '?', name, escaped);
	free(escaped);
}

const char *ask_string(const json_t *o, const char *key)
{
	const char *s = json_string_value(json_object_get(o, key));

	return s ? s : "";
}

json_int_t ask_number(const json_t *o, const char *key)
{
	return json_integer_value(json_object_get(o, key));
}

bool ask_true(const json_t *o, const char *key)
{
	return json_is_true(json_object_get(o, key));
}

void ask_put(struct text *t, const char *s)
{
	text_visible(t, s, strlen(s));
}

void ask_put_string(struct text *t, const json_t *o, const char *key)
{
	ask_put(t, ask_string(o, key));
}

void ask_put_pair(struct text *t, const json_t *o)
{
	if (!*ask_string(o, "job")) {
		text_putc(t, '-');
		return;
	}
	ask_put_string(t, o, "job");
	if (*ask_string(o, "revision"))
		text_putc(t, '@');
	ask_put_string(t, o, "revision");
}

void ask_put_time(struct text *t, const char *rfc3339, bool seconds)
{
	struct tm tm = {0};
	char local[32];
	time_t when;

	if (!strptime(rfc3339, "%Y-%m-%dT%H:%M:%S", &tm)) {
		ask_put(t, rfc3339);
		return;
	}
	when = timegm(&tm);
	if (!localtime_r(&when, &tm) ||
	    !strftime(local, sizeof(local), seconds ? "%Y-%m-%d %H:%M:%S" : "%Y-%m-%d %H:%M", &tm))
		snprintf(local, sizeof(local), "?");
	text_puts(t, local);
}

void ask_json_line(const json_t *o)
{
	size_t flags = JSON_COMPACT;

	if (out_ascii() || isatty(STDOUT_FILENO))
		flags |= JSON_ENSURE_ASCII;
	json_dumpf(o, stdout, flags);
	putchar('\n');
	fflush(stdout);
}

json_t *ask_pair(const char *verb, const char *pair, const struct args_option *options, size_t n)
{
	json_t *body = order_pair(verb, pair);

	if (!body)
		return NULL;
	if (!*ask_string(body, "revision")) {
		out_error("%s: '%s' names no revision: JOB@REV", verb, pair);
		json_decref(body);
		return NULL;
	}
	for (size_t i = 0; i < n; i++) {
		if (!options[i].set ||
		    !json_object_set_new(body, options[i].name, json_string(options[i].value)))
			continue;
		out_error("%s: --%s is not valid UTF-8", verb, options[i].name);
		json_decref(body);
		return NULL;
	}
	return body;
}

int ask_note(int argc, char **argv, const char *format, const char *done)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "note", .takes = true}};
	struct text t = {0};
	struct args args;
	json_t *body, *m;
	int status = ask_args(argc, argv, options, ASK_OWN + 1, 1, 1, &args);

	if (status)
		return status;
	body = json_object();
	if (options[ASK_OWN].set &&
	    json_object_set_new(body, "note", json_string(options[ASK_OWN].value))) {
		out_error("%s: the note is not valid UTF-8", argv[0]);
		json_decref(body);
		return EXIT_USE;
	}
	m = ask_about(format, args.rest[0], body, &status);
	json_decref(body);
	if (!m)
		return status;
	if (options[ASK_JSON].set) {
		out_json(m);
		return status;
	}
	ask_put_string(&t, m, "name");
	text_printf(&t, ": %s\n", done);
	machine_say(&t, m);
	out_text(&t);
	if (*ask_string(m, "caution"))
		out_prose(ask_string(m, "caution"), 0);
	json_decref(m);
	return status;
}
