#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "order.h"
#include "out.h"
#include "restore_show.h"
#include "settings.h"
#include "stored_pair.h"
#include "verbs.h"
#include "yoke/restart.h"

const char verb_restore_help[] =
    "yoke restore MACHINE [--pair JOB@REV] [--yes | --show] [--sheet] [--near CHANNEL:N430]...\n"
    "             [--machine FILE] [--no-wait] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Carry the machine's last good pair back: the newest one that was marked with `yoke prove`.\n"
    "Before, it shows what the machine is believed to hold, what changes there by meaning, and\n"
    "which tools and work offsets the pair needs; then it asks. What arrived is read back where\n"
    "the machine's line can. Ctrl-C cancels and says what the machine holds then.\n"
    "\n"
    "A restored pair is proved out like a new one: single block, rapid override low, guard "
    "closed,\n"
    "hand at feed hold. Check work offsets and tool offsets of both channels: they may have been\n"
    "changed since. Follow the machine builder's manual, the shop's rules and local regulations;\n"
    "trained and authorised persons only.\n"
    "\n"
    "  --pair JOB@REV   another released pair instead of the last good one\n"
    "  --yes            do not ask, for scripts; nothing is shown before\n"
    "  --show           show, and do nothing\n"
    "  --sheet          then show where both channels can be picked up together (yoke restart)\n"
    "  --near CHANNEL:N430   the places nearest to that block, once for each channel; as --sheet\n"
    "  --machine FILE   a machine's configuration, for how its programs are read\n"
    "  --no-wait        return once the order is queued\n"
    "  --json           JSON lines: the order, its progress, its end, the machine; needs --yes\n"
    ASK_OPTIONS_HELP "\n"
    "Exit status: 0 carried (or queued, or shown), 1 refused, or the answer was no, 2 wrong use,\n"
    "4 not carried, not known, or carried and not read back although the machine's file asks for\n"
    "it.\n"
    "\n"
    "Example:\n"
    "  yoke restore LATHE-1\n"
    "  yoke restore LATHE-1 --pair J4417@B --near upper:N430\n";

enum { PAIR = ASK_OWN, YES, SHOW, SHEET, NEAR, FILE_OF, NO_WAIT, OPTIONS };

struct restoring {
	const char *machine;
	const struct args_option *options;
	struct profile profile;
	json_t *held, *job; /* answers that pair lies in */
	const json_t *pair; /* what is to be carried */
	json_t *body;       /* which names it */
};

/* The pair of the machine's own folder, or else of the one of all machines. */
static const json_t *pair_of(const json_t *job, const char *machine, const char *revision)
{
	const json_t *pair, *found = NULL;
	size_t i;

	json_array_foreach(json_object_get(job, "pairs"), i, pair)
	{
		const char *area = ask_string(pair, "machine");

		if (!strcmp(ask_string(pair, "revision"), revision) &&
		    (!strcmp(area, machine) || (!*area && !found)))
			found = pair;
	}
	return found;
}

static int find_named(struct restoring *r, const char *name, bool look)
{
	int status = EXIT_USE;

	r->body = order_pair("restore", name);
	if (!r->body)
		return EXIT_USE;
	if (!*ask_string(r->body, "revision")) {
		out_error("restore: --pair takes JOB@REV: which revision is to come back must be said");
		return EXIT_USE;
	}
	if (!look)
		return EXIT_DONE;
	r->job = ask_about("/v1/jobs/%s", ask_string(r->body, "job"), NULL, &status);
	if (!r->job)
		return status;
	r->pair = pair_of(r->job, r->machine, ask_string(r->body, "revision"));
	if (r->pair)
		return EXIT_DONE;
	out_error("restore: there is no pair %s for machine %s: see `yoke history %s`", name, r->machine,
	    ask_string(r->body, "job"));
	return EXIT_REFUSED;
}

/* What is to be carried, and, to look at it, the machine. pair NULL: none, which the service will say, or
 * nobody wants to look. */
static int find_pair(struct restoring *r, bool look)
{
	const char *name = r->options[PAIR].value;
	int status = EXIT_DONE;

	if (name && (status = find_named(r, name, look)) != EXIT_DONE)
		return status;
	if (!look) {
		r->body = r->body ? r->body : json_object();
		return r->body ? EXIT_DONE : EXIT_USE;
	}
	r->held = ask_about("/v1/machines/%s", r->machine, NULL, &status);
	if (!r->held)
		return status;
	if (!name) {
		r->pair = json_object_get(r->held, "last_good");
		r->pair = json_is_object(r->pair) ? r->pair : NULL;
		/* The one that was shown, and no other that was proven meanwhile. */
		r->body = r->pair ? json_pack("{s:s, s:s, s:b}", "job", ask_string(r->pair, "job"),
		                        "revision", ask_string(r->pair, "revision"), "last_good", 1)
		                  : json_object();
	}
	return r->body ? EXIT_DONE : EXIT_USE;
}

/* The answer of a person at a terminal. */
static int confirm(const struct restoring *r)
{
	char answer[16] = "";

	if (!isatty(STDIN_FILENO)) {
		out_error("restore: nobody can be asked here: look with --show, then say --yes");
		return EXIT_USE;
	}
	fflush(stdout);
	fprintf(stderr, "Carry %s@%s to machine %s now? [y/N] ", ask_string(r->body, "job"),
	    ask_string(r->body, "revision"), r->machine);
	fflush(stderr);
	if (fgets(answer, sizeof(answer), stdin) && (!strcmp(answer, "y\n") || !strcmp(answer, "yes\n")))
		return EXIT_DONE;
	out_error("restore: nothing was carried");
	return EXIT_REFUSED;
}

/* Where both channels can be picked up together. */
static int show_sheet(struct restoring *r)
{
	const struct args_option *near = &r->options[NEAR];
	struct restart_ask asks[YOKE_CHANNELS_MAX];
	struct stored_pair p;
	struct restart *restart = NULL;
	struct text t = {0};
	int status = stored_pair_get(&r->profile, r->pair, &p);

	for (size_t i = 0; i < near->n && status == EXIT_DONE; i++)
		if (!restart_ask_read(&r->profile, near->values[i], &asks[i], &t)) {
			out_error("restore: --near %s", t.s ? t.s : "cannot be read");
			status = EXIT_USE;
		}
	text_free(&t);
	if (status == EXIT_DONE)
		restart = p.report ? restart_new(p.report, asks, near->n) : NULL;
	if (restart) {
		restart_print(restart, out_width() < 60 ? 60 : out_width(), &t);
		out_text(&t);
	} else if (status == EXIT_DONE) {
		out_error("out of memory");
		status = EXIT_USE;
	}
	restart_free(restart);
	stored_pair_free(&p);
	return status;
}

/* False when a block that was asked for cannot be one: before anything is carried. */
static bool near_good(const struct restoring *r)
{
	const struct args_option *near = &r->options[NEAR];

	for (size_t i = 0; i < near->n; i++) {
		struct restart_ask ask;
		struct text why = {0};
		bool good = restart_ask_read(&r->profile, near->values[i], &ask, &why);

		if (!good)
			out_error("restore: --near %s", why.s ? why.s : "cannot be read");
		text_free(&why);
		if (!good)
			return false;
	}
	return true;
}

static int restore(struct restoring *r)
{
	struct order_run run = {.json = r->options[ASK_JSON].set, .no_wait = r->options[NO_WAIT].set};
	bool ask_first = !r->options[YES].set, sheet = r->options[SHEET].set || r->options[NEAR].n;
	int status = find_pair(r, ask_first || sheet);

	if (status != EXIT_DONE)
		return status;
	if (settings_profile(r->options[ASK_HOME].value, r->options[FILE_OF].value, r->machine,
	        &r->profile) < 0 ||
	    !near_good(r))
		return EXIT_USE;
	if (ask_first && r->pair)
		status = restore_show(r->held, r->pair, &r->profile);
	if (status != EXIT_DONE || (r->options[SHOW].set && r->pair))
		return status == EXIT_DONE && sheet ? show_sheet(r) : status;
	if (ask_first && r->pair && (status = confirm(r)) != EXIT_DONE)
		return status;
	status = order_run(&run, "/v1/machines/%s/restore", r->machine, r->body);
	return status == EXIT_DONE && sheet && r->pair ? show_sheet(r) : status;
}

int verb_restore(int argc, char **argv)
{
	const char *near[YOKE_CHANNELS_MAX];
	struct args_option options[OPTIONS] = {ASK_OPTIONS, [PAIR] = {.name = "pair", .takes = true},
	    [YES] = {.name = "yes"},
	    [SHOW] = {.name = "show"},
	    [SHEET] = {.name = "sheet"},
	    [NEAR] = {.name = "near", .takes = true, .values = near, .room = YOKE_CHANNELS_MAX},
	    [FILE_OF] = {.name = "machine", .takes = true},
	    [NO_WAIT] = {.name = "no-wait"}};
	struct restoring r = {.options = options};
	struct args args;
	int status = ask_args(argc, argv, options, OPTIONS, 1, 1, &args);

	if (status)
		return status;
	if (options[YES].set && options[SHOW].set) {
		out_error("restore: --yes carries and --show does not: say one of them");
		return EXIT_USE;
	}
	if (options[ASK_JSON].set && !options[YES].set) {
		out_error("restore: --json is for programs, which nobody can ask: it needs --yes");
		return EXIT_USE;
	}
	r.machine = args.rest[0];
	status = restore(&r);
	json_decref(r.body);
	json_decref(r.held);
	json_decref(r.job);
	return status;
}
