#include <string.h>
#include "ask.h"
#include "difference.h"
#include "lineage.h"
#include "out.h"
#include "settings.h"
#include "verbs.h"
#include "yoke/limits.h"

const char verb_history_help[] =
    "yoke history JOB [--machine FILE] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Show the line of a job's revisions: when each came and who dropped it, what differs in each\n"
    "channel from the program that it comes from, by what it means at the machine, whether the pair was\n"
    "released, and on which machines it was proven, when and by whom. What a machine's own folder\n"
    "has is a line of its own.\n"
    "\n"
    "  --machine FILE   a machine's configuration, for which M codes are wait codes; without, the\n"
    "                   shop's, or that of the machine whose folder it is\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke history J4417\n";

/* One channel's programs up to a revision, of which each is compared with the one before. */
struct comparing {
	struct profile *profile;
	const char *revision, *before;
	int status;
};

static int compare(void *ctx, const struct lineage_step *step)
{
	struct comparing *c = ctx;
	bool own = !strcmp(step->revision, c->revision);
	json_t *o = own && *c->before
	                ? difference(c->profile, c->before, step->sha256, &c->status)
	                : NULL;

	if (own && *c->before && !o)
		return -1;
	if (o && json_object_set_new(step->arrival, "change", o))
		return -1;
	if (own && !*c->before)
		json_object_set_new(step->arrival, "first", json_true());
	c->before = step->sha256;
	return 0;
}

/* Into each arrival what it changed. The exit status. */
static int compare_line(const json_t *line, struct profile *profile)
{
	const char *channel[YOKE_CHANNELS_MAX];
	size_t n = lineage_channels(line, channel, YOKE_CHANNELS_MAX), k;
	const json_t *r;

	json_array_foreach(json_object_get(line, "revisions"), k, r)
	{
		for (size_t i = 0; i < n; i++) {
			struct comparing c = {profile, ask_string(r, "revision"), "", 2};

			if (lineage_walk(line, channel[i], c.revision, compare, &c))
				return c.status;
		}
	}
	return 0;
}

static void put_when(struct text *t, const json_t *o)
{
	ask_put_time(t, ask_string(o, "since"), true);
	text_puts(t, " by ");
	ask_put_string(t, o, "by");
}

static bool is_last(const json_t *arrivals, size_t at)
{
	const json_t *a = json_array_get(arrivals, at);

	for (size_t i = at + 1; i < json_array_size(arrivals); i++)
		if (!strcmp(ask_string(json_array_get(arrivals, i), "channel"),
		        ask_string(a, "channel")))
			return false;
	return true;
}

static void put_arrivals(struct text *t, const json_t *arrivals)
{
	const json_t *a, *change;
	size_t i;

	json_array_foreach(arrivals, i, a)
	{
		change = json_object_get(a, "change");
		text_puts(t, "  ");
		ask_put_string(t, a, "channel");
		text_puts(t, ": ");
		put_when(t, a);
		text_puts(t, is_last(arrivals, i) ? ": " : " (replaced since): ");
		if (change)
			difference_put(t, change);
		else
			text_puts(t, ask_true(a, "first") ? "the first" : "the same program again");
		text_putc(t, '\n');
	}
}

/* When and by whom, with what was said, to the end of the line. */
static void put_said(struct text *t, const json_t *o)
{
	put_when(t, o);
	if (*ask_string(o, "text")) {
		text_puts(t, ": ");
		ask_put_string(t, o, "text");
	}
	text_putc(t, '\n');
}

static void put_words(struct text *t, const json_t *words, const char *what)
{
	const json_t *o;
	size_t i;

	json_array_foreach(words, i, o)
	{
		text_printf(t, "  %s", what);
		ask_put_string(t, o, "machine");
		text_puts(t, *ask_string(o, "from") ? ", where revision " : "");
		ask_put_string(t, o, "from");
		text_puts(t, *ask_string(o, "from") ? " was changed" : "");
		text_puts(t, ": ");
		put_said(t, o);
	}
}

static void put_accepted(struct text *t, const json_t *accepted)
{
	const json_t *o;
	size_t i;

	json_array_foreach(accepted, i, o)
	{
		text_puts(t, "  accepted, ");
		ask_put_string(t, o, "rule");
		text_puts(t, ": ");
		put_said(t, o);
	}
}

static void put_line(struct text *t, const char *job, const json_t *line)
{
	const json_t *r;
	size_t i;

	ask_put(t, job);
	if (*ask_string(line, "machine")) {
		text_puts(t, ", for machine ");
		ask_put_string(t, line, "machine");
	}
	text_puts(t, ":\n");
	json_array_foreach(json_object_get(line, "revisions"), i, r)
	{
		ask_put(t, job);
		text_putc(t, '@');
		ask_put_string(t, r, "revision");
		text_puts(t, ": ");
		ask_put(t, *ask_string(r, "state") ? ask_string(r, "state") : "not judged");
		if (*ask_string(r, "verdict")) {
			text_puts(t, ", wait codes: ");
			ask_put_string(t, r, "verdict");
		}
		if (*ask_string(r, "text")) {
			text_puts(t, ": ");
			ask_put_string(t, r, "text");
		}
		text_putc(t, '\n');
		put_arrivals(t, json_object_get(r, "arrivals"));
		put_accepted(t, json_object_get(r, "accepted"));
		put_words(t, json_object_get(r, "adopted"), "adopted from ");
		put_words(t, json_object_get(r, "proven"), "proven on ");
	}
}

int verb_history(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "machine", .takes = true}};
	struct profile profile;
	struct text t = {0};
	struct args args;
	const json_t *line;
	json_t *o;
	size_t i;
	int status = ask_args(argc, argv, options, ASK_OWN + 1, 1, 1, &args);

	if (status)
		return status;
	o = ask_about("/v1/jobs/%s/history", args.rest[0], NULL, &status);
	json_array_foreach(json_object_get(o, "lines"), i, line)
	{
		if (status == 0 && settings_profile(options[ASK_HOME].value, options[ASK_OWN].value,
		                       ask_string(line, "machine"), &profile) < 0)
			status = 2;
		if (status == 0)
			status = compare_line(line, &profile);
	}
	if (status || options[ASK_JSON].set) {
		if (o && !status)
			out_json(o);
		else
			json_decref(o);
		return status;
	}
	json_array_foreach(json_object_get(o, "lines"), i, line)
	{
		text_puts(&t, i ? "\n" : "");
		put_line(&t, args.rest[0], line);
	}
	out_lines(&t);
	json_decref(o);
	return status;
}
