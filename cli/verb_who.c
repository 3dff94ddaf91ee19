#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "lineage.h"
#include "out.h"
#include "settings.h"
#include "stored.h"
#include "verbs.h"
#include "yoke/limits.h"
#include "yoke/origin.h"

const char verb_who_help[] =
    "yoke who MACHINE|JOB[@REV] BLOCK [--channel NAME] [--machine FILE] [--json] [--home DIR]\n"
    "         [--socket PATH]\n"
    "\n"
    "Say in which revision a block was last changed, when, and who dropped it, for every block of\n"
    "every channel that BLOCK means: its sequence number (N120), or its words as they stand there.\n"
    "A block that was moved, got another sequence number, or differs in comments and layout alone\n"
    "keeps its origin. With a machine: what it holds now, also what was changed there. A machine's\n"
    "name goes before a job's.\n"
    "\n"
    "  --channel NAME   this channel only\n"
    "  --machine FILE   a machine's configuration, for how its programs are read\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 told, 1 there is no such block, machine or job, 2 wrong use, 4 the service\n"
    "cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke who LATHE-1 N120\n"
    "  yoke who J4417@C 'G1 Z-18. F0.2' --channel upper\n";

enum { CHANNEL = ASK_OWN, MACHINE, OPTIONS };

/* Whose programs are asked about. */
struct asked {
	char *job, *revision;  /* revision NULL: the newest */
	const char *machine;   /* "" when a job was named */
	json_t *held, *history;
	const char *block, *channel;
	struct profile profile;
	json_t *places;
};

/* One version of the channel. */
struct version {
	const char *revision, *sha256, *path, *by, *since;
	bool drift; /* changed at the machine */
};

struct walked {
	struct asked *q;
	const char *channel;
	struct change_origin *origin;
	struct version *v;
	size_t n, cap;
	struct stored bytes; /* of the last one */
	int status;
};

static int add_version(struct walked *w, const struct version *v)
{
	struct stored bytes;

	if (w->n == w->cap) {
		size_t cap = w->cap ? w->cap * 2 : 16;
		struct version *all = reallocarray(w->v, cap, sizeof(*all));

		if (!all)
			return -1;
		w->v = all;
		w->cap = cap;
	}
	w->status = stored_get(v->sha256, &bytes);
	if (w->status != EXIT_DONE || change_origin_add(w->origin, bytes.bytes, bytes.n) < 0) {
		stored_free(&bytes);
		return -1;
	}
	stored_free(&w->bytes);
	w->bytes = bytes;
	w->v[w->n++] = *v;
	return 0;
}

static int take_step(void *ctx, const struct lineage_step *s)
{
	struct version v = {s->revision, s->sha256, s->path, s->by, s->since, false};

	return add_version(ctx, &v);
}

static const json_t *part_of(const json_t *parts, const char *channel)
{
	const json_t *part;
	size_t i;

	json_array_foreach(parts, i, part)
	{
		if (!strcmp(ask_string(part, "channel"), channel))
			return part;
	}
	return NULL;
}

/* What a machine holds now, when that is no program of the line: it was changed there. */
static int add_held(struct walked *w)
{
	const json_t *m = w->q->held, *now = json_object_get(m, "now");
	const json_t *part = part_of(json_object_get(ask_true(m, "drift") ? now : m, "parts"), w->channel);
	struct version v = {ask_string(m, "revision"), ask_string(part, "sha256"), ask_string(m, "name"),
	    ask_string(now, "by"), ask_string(now, "since"), true};

	if (!*v.sha256 || (w->n && !strcmp(w->v[w->n - 1].sha256, v.sha256)))
		return 0;
	if (!ask_true(m, "drift"))
		v.by = v.since = "";
	return add_version(w, &v);
}

static const char *line_end(const char *at, const char *end)
{
	while (at < end && *at != '\r' && *at != '\n')
		at++;
	return at;
}

/* Behind a line end: LF, CR LF, CR CR LF and a lone CR are one each, as the reader counts. */
static const char *behind(const char *at, const char *end)
{
	if (end - at > 2 && at[0] == '\r' && at[1] == '\r' && at[2] == '\n')
		return at + 3;
	if (end - at > 1 && at[0] == '\r' && at[1] == '\n')
		return at + 2;
	return at < end ? at + 1 : end;
}

/* The text of a line of an earlier version, nothing when it cannot be had. */
static void put_line_of(struct text *t, const char *sha256, uint64_t line)
{
	struct stored s;
	const char *at, *end;

	if (stored_get(sha256, &s) != EXIT_DONE)
		return;
	at = s.bytes;
	end = at + s.n;
	for (; line > 1; line--)
		at = behind(line_end(at, end), end);
	text_visible(t, at, (size_t)(line_end(at, end) - at));
	stored_free(&s);
}

static json_t *visible(const char *s, size_t n)
{
	struct text t = {0};
	json_t *o;

	text_visible(&t, s, n);
	o = json_string(t.s ? t.s : "");
	text_free(&t);
	return o;
}

static int take_place(void *ctx, const struct change_origin_place *p)
{
	struct walked *w = ctx;
	const struct version *v = &w->v[p->version], *last = &w->v[w->n - 1];
	struct text before = {0};
	json_t *o;

	if (p->before_line && p->version > 0)
		put_line_of(&before, w->v[p->version - 1].sha256, p->before_line);
	o = json_pack("{s:s, s:s, s:s, s:I, s:o, s:s, s:s, s:s, s:b, s:b, s:s, s:I, s:s}", "channel",
	    w->channel, "file", last->path, "sha256", last->sha256, "line", (json_int_t)p->line,
	    "text", visible(p->text, p->n), "revision", v->revision, "by", v->by, "since", v->since,
	    "first", p->version == 0, "at_machine", v->drift, "origin_sha256", v->sha256,
	    "origin_line", (json_int_t)p->version_line, "before", before.s ? before.s : "");
	text_free(&before);
	return json_array_append_new(w->q->places, o);
}

/* One channel of the line. EXIT_DONE, or said. */
static int walk(struct asked *q, const json_t *line, const char *channel)
{
	struct walked w = {.q = q, .channel = channel, .bytes = {.bytes = ""}, .status = EXIT_USE};

	w.origin = change_origin_new(&q->profile);
	if (!w.origin || lineage_walk(line, channel, q->revision, take_step, &w) ||
	    (q->held && add_held(&w)))
		goto out;
	if (w.n && change_origin_find(w.origin, q->block, take_place, &w) < 0)
		goto out;
	w.status = EXIT_DONE;
out:
	if (w.status == EXIT_USE)
		out_error("who: out of memory");
	change_origin_free(w.origin);
	stored_free(&w.bytes);
	free(w.v);
	return w.status;
}

/* The machine of this name. 1, 0 there is none, -1 said and *status. */
static int ask_machine(struct asked *q, const char *name, int *status)
{
	char *path = ask_path("/v1/machines/%s", name);
	struct http_answer a;
	int result = -1;

	*status = EXIT_SERVICE;
	if (!path) {
		out_error("out of memory");
		return -1;
	}
	if (http_request(path, NULL, &a) == 0) {
		result = a.status == 404 ? 0 : a.status == 200 && json_is_object(a.json) ? 1 : -1;
		if (result < 0)
			*status = ask_refusal(a.status, a.json);
		if (result > 0)
			q->held = json_incref(a.json);
	}
	http_answer_free(&a);
	free(path);
	return result;
}

/* What is meant: a machine, or else a job. The exit status. */
static int find_asked(struct asked *q, const char *name)
{
	const char *at = strrchr(name, '@');
	int status, is = at ? 0 : ask_machine(q, name, &status);

	if (is < 0)
		return status;
	q->machine = "";
	if (is == 0) {
		q->job = at ? strndup(name, (size_t)(at - name)) : strdup(name);
		q->revision = at ? strdup(at + 1) : NULL;
	} else if (strcmp(ask_string(q->held, "content"), "loaded") == 0) {
		q->machine = ask_string(q->held, "name");
		q->job = strdup(ask_string(q->held, "job"));
		q->revision = strdup(ask_string(q->held, "revision"));
	} else {
		out_error("who: machine %s holds no pair for certain (%s): name a job", name,
		    ask_string(q->held, "content"));
		return EXIT_REFUSED;
	}
	q->history = q->job ? ask_about("/v1/jobs/%s/history", q->job, NULL, &status) : NULL;
	return q->history ? EXIT_DONE : q->job ? status : EXIT_USE;
}

static int walk_line(struct asked *q, const json_t *line, const struct args_option *options)
{
	const char *channel[YOKE_CHANNELS_MAX];
	size_t n = lineage_channels(line, channel, YOKE_CHANNELS_MAX);
	int status = EXIT_DONE;

	if (settings_profile(options[ASK_HOME].value, options[MACHINE].value,
	        *q->machine ? q->machine : ask_string(line, "machine"), &q->profile) < 0)
		return EXIT_USE;
	for (size_t i = 0; i < n && status == EXIT_DONE; i++)
		if (!q->channel || !strcmp(q->channel, channel[i]))
			status = walk(q, line, channel[i]);
	return status;
}

static int walk_all(struct asked *q, const struct args_option *options)
{
	const json_t *line;
	int status = EXIT_DONE;
	size_t i;

	if (*q->machine) {
		line = lineage_of(q->history, q->machine, q->revision);
		return line ? walk_line(q, line, options) : EXIT_DONE;
	}
	json_array_foreach(json_object_get(q->history, "lines"), i, line)
	{
		if (status == EXIT_DONE)
			status = walk_line(q, line, options);
	}
	return status;
}

static void put_place(struct text *t, const json_t *p)
{
	ask_put_string(t, p, "channel");
	text_putc(t, ' ');
	ask_put(t, *ask_string(p, "file") ? ask_string(p, "file") : ask_string(p, "sha256"));
	text_printf(t, ":%lld: ", (long long)ask_number(p, "line"));
	ask_put_string(t, p, "text");
	text_puts(t, ask_true(p, "at_machine") ? "\n  changed at the machine since revision "
	             : ask_true(p, "first")    ? "\n  there from the first, revision "
	                                       : "\n  last changed in revision ");
	ask_put_string(t, p, "revision");
	if (*ask_string(p, "since")) {
		text_puts(t, ", ");
		ask_put_time(t, ask_string(p, "since"), true);
		text_puts(t, " by ");
		ask_put_string(t, p, "by");
	}
	text_putc(t, '\n');
	if (*ask_string(p, "before")) {
		text_puts(t, "  before: ");
		ask_put_string(t, p, "before");
		text_putc(t, '\n');
	}
}

static int tell(struct asked *q, bool json)
{
	struct text t = {0};
	const json_t *p;
	size_t i, n = json_array_size(q->places);

	if (json) {
		out_json(json_pack("{s:o, s:o, s:O}", "job", visible(q->job, strlen(q->job)), "block",
		    visible(q->block, strlen(q->block)), "places", q->places));
		return n ? EXIT_DONE : EXIT_REFUSED;
	}
	if (!n)
		out_error("who: no block of job %s%s%s%s%s is '%s': name its sequence number, N120, or "
		          "all its words",
		    q->job, q->revision ? "@" : "", q->revision ? q->revision : "",
		    q->channel ? ", channel " : "", q->channel ? q->channel : "", q->block);
	json_array_foreach(q->places, i, p) put_place(&t, p);
	out_text(&t);
	return n ? EXIT_DONE : EXIT_REFUSED;
}

int verb_who(int argc, char **argv)
{
	struct args_option options[OPTIONS] = {ASK_OPTIONS,
	    [CHANNEL] = {.name = "channel", .takes = true},
	    [MACHINE] = {.name = "machine", .takes = true}};
	struct asked q = {0};
	struct args args;
	int status = ask_args(argc, argv, options, OPTIONS, 2, 2, &args);

	if (status)
		return status;
	q.block = args.rest[1];
	q.channel = options[CHANNEL].value;
	q.places = json_array();
	status = find_asked(&q, args.rest[0]);
	if (status == EXIT_DONE)
		status = walk_all(&q, options);
	if (status == EXIT_DONE)
		status = tell(&q, options[ASK_JSON].set);
	json_decref(q.places);
	json_decref(q.held);
	json_decref(q.history);
	free(q.job);
	free(q.revision);
	return status;
}
