#include <string.h>
#include "ask.h"
#include "out.h"
#include "verbs.h"

const char verb_job_help[] =
    "yoke job JOB [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Show each revision of a job with its programs and everything that the check had to say, one\n"
    "finding a line: file:line:column: weight: text [name].\n"
    "\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke job J4417\n";

static void put_place(struct text *t, const json_t *o)
{
	ask_put(t, *ask_string(o, "file") ? ask_string(o, "file") : "pair");
	if (ask_number(o, "line") > 0)
		text_printf(t, ":%lld", (long long)ask_number(o, "line"));
	if (ask_number(o, "line") > 0 && ask_number(o, "col") > 0)
		text_printf(t, ":%lld", (long long)ask_number(o, "col"));
	text_puts(t, ": ");
}

static void put_finding(struct text *t, const json_t *f)
{
	const json_t *also = json_object_get(f, "also");

	put_place(t, f);
	ask_put_string(t, f, "weight");
	text_puts(t, ": ");
	ask_put_string(t, f, "text");
	text_puts(t, " [");
	ask_put_string(t, f, "name");
	text_puts(t, "]\n");
	if (json_is_object(also)) {
		text_puts(t, "    ");
		put_place(t, also);
		text_puts(t, "the other place\n");
	}
	if (*ask_string(f, "remedy")) {
		text_puts(t, "    ");
		ask_put_string(t, f, "remedy");
		text_putc(t, '\n');
	}
}

static void put_head(struct text *t, const json_t *pair)
{
	ask_put_pair(t, pair);
	text_puts(t, ": ");
	ask_put_string(t, pair, "state");
	if (*ask_string(pair, "machine")) {
		text_puts(t, ", for machine ");
		ask_put_string(t, pair, "machine");
	}
	text_puts(t, *ask_string(pair, "verdict") ? ", wait codes: " : "");
	ask_put_string(t, pair, "verdict");
	text_puts(t, ", since ");
	ask_put_time(t, ask_string(pair, "since"), true);
	text_puts(t, " by ");
	ask_put_string(t, pair, "by");
	text_putc(t, '\n');
}

/* The words of the API for the two that are no rule. */
static void put_accepted(struct text *t, const json_t *o)
{
	const char *rule = ask_string(o, "rule");

	text_puts(t, "  accepted ");
	if (strcmp(rule, "second-person") == 0) {
		text_puts(t, "as the second person");
	} else if (strcmp(rule, "for-release") == 0) {
		text_puts(t, "for release");
	} else {
		text_puts(t, "despite ");
		ask_put(t, rule);
	}
	text_puts(t, " by ");
	ask_put_string(t, o, "by");
	text_puts(t, ", ");
	ask_put_time(t, ask_string(o, "since"), true);
	text_puts(t, *ask_string(o, "text") ? ": " : "");
	ask_put_string(t, o, "text");
	text_putc(t, '\n');
}

static void put_pair(struct text *t, const json_t *pair)
{
	const json_t *report = json_object_get(pair, "report"), *o;
	size_t i;

	put_head(t, pair);
	json_array_foreach(json_object_get(pair, "parts"), i, o)
	{
		text_puts(t, "  ");
		ask_put_string(t, o, "channel");
		text_putc(t, ' ');
		ask_put(t, *ask_string(o, "sha256") ? ask_string(o, "sha256") : "missing");
		text_putc(t, '\n');
	}
	json_array_foreach(json_object_get(pair, "accepted"), i, o) put_accepted(t, o);
	if (*ask_string(pair, "text") && strcmp(ask_string(pair, "state"), "withdrawn") == 0) {
		text_puts(t, "  withdrawn: ");
		ask_put_string(t, pair, "text");
		text_putc(t, '\n');
	} else if (*ask_string(pair, "text") && !json_array_size(json_object_get(report, "findings"))) {
		text_puts(t, "  ");
		ask_put_string(t, pair, "text");
		text_putc(t, '\n');
	}
	json_array_foreach(json_object_get(report, "findings"), i, o) put_finding(t, o);
}

int verb_job(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct text t = {0};
	struct args args;
	const json_t *pair;
	json_t *o;
	size_t i;
	int status = ask_args(argc, argv, options, ASK_OWN, 1, 1, &args);

	if (status)
		return status;
	o = ask_about("/v1/jobs/%s", args.rest[0], NULL, &status);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	json_array_foreach(json_object_get(o, "pairs"), i, pair)
	{
		text_puts(&t, i ? "\n" : "");
		put_pair(&t, pair);
		out_text(&t);
		ask_put_string(&t, json_object_get(pair, "report"), "caution");
		if (t.n)
			out_prose(t.s, 0);
		text_free(&t);
	}
	json_decref(o);
	return status;
}
