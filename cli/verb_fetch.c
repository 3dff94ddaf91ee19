#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include "ask.h"
#include "download.h"
#include "exit.h"
#include "order.h"
#include "out.h"
#include "verbs.h"

const char verb_fetch_help[] =
    "yoke fetch MACHINE [CHANNEL] [--out DIR] [--no-wait] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Bring the programs of all channels, or of one, from a machine into the vault and compare "
    "them\n"
    "with what was carried there. Over a serial line the control has to be told to punch. Ctrl-C\n"
    "cancels.\n"
    "\n"
    "  --out DIR        write them as new files MACHINE.CHANNEL.nc into DIR too; do not name the\n"
    "                   watched folder, where they would come in as new programs\n"
    "  --no-wait        return once the order is queued\n"
    "  --json           JSON lines: the order, its progress, its end, the "
    "machine\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 fetched, 1 refused, or what came is not what was carried there, 2 wrong use,\n"
    "4 not fetched or not known.\n"
    "\n"
    "Example:\n"
    "  yoke fetch LATHE-1 upper --out fetched\n";

/* True when s can be a part of a file's name. */
static bool plain(const char *s)
{
	if (!*s || *s == '.' || strlen(s) > 64)
		return false;
	for (; *s; s++)
		if ((unsigned char)*s < 0x20 || *s == 0x7f || *s == '/')
			return false;
	return true;
}

static int save_part(const json_t *part, const char *machine, const char *dir)
{
	const char *channel = ask_string(part, "channel"), *sha = ask_string(part, "after");
	struct text path = {0};
	int status = EXIT_SERVICE;

	if (!*sha)
		return EXIT_DONE;
	if (!plain(channel) || !plain(machine)) {
		out_error(
		    "fetch: '%s.%s' cannot be the name of a file: `yoke program %s` writes it",
		    machine, channel, sha);
		return EXIT_SERVICE;
	}
	text_printf(&path, "%s/%s.%s.nc", dir, machine, channel);
	if (!path.failed)
		status = download_program(sha, path.s);
	if (status == EXIT_DONE)
		out_error("%s is written", path.s);
	text_free(&path);
	return status;
}

/* The parts of the event that tells what this order brought. */
static int save(json_int_t order, const char *machine, const char *dir)
{
	struct text query = {0};
	int status = EXIT_SERVICE, one;
	size_t i, k, saved = 0;
	json_t *all, *e, *part;

	if (mkdir(dir, 0777) && errno != EEXIST) {
		out_error("fetch: folder %s cannot be made: %s", dir, strerror(errno));
		return EXIT_USE;
	}
	text_puts(&query, "/v1/audit");
	ask_query(&query, "machine", machine);
	ask_query(&query, "kind", "fetched");
	ask_query(&query, "limit", "100");
	all = ask(query.failed ? NULL : query.s, NULL, &status);
	json_array_foreach(json_object_get(all, "events"), i, e)
	{
		if (ask_number(e, "order") != order)
			continue;
		json_array_foreach(json_object_get(e, "parts"), k, part)
		{
			one = save_part(part, machine, dir);
			saved++;
			if (status == EXIT_DONE)
				status = one;
		}
	}
	if (all && !saved) {
		out_error("fetch: nothing that order %lld brought is in the audit trail",
		    (long long)order);
		status = EXIT_SERVICE;
	}
	json_decref(all);
	text_free(&query);
	return status;
}

int verb_fetch(int argc, char **argv)
{
	enum { OUT = ASK_OWN, NO_WAIT, N };
	struct args_option options[] = {
	    ASK_OPTIONS, {.name = "out", .takes = true}, {.name = "no-wait"}};
	struct order_run run = {0};
	struct args args;
	json_t *body;
	int status = ask_args(argc, argv, options, N, 1, 2, &args);

	if (status)
		return status;
	if (options[OUT].set && options[NO_WAIT].set) {
		out_error("fetch: --out waits for the programs: it does not go with --no-wait");
		return EXIT_USE;
	}
	run.json = options[ASK_JSON].set;
	run.no_wait = options[NO_WAIT].set;
	body = json_object();
	if (args.n > 1 && json_object_set_new(body, "channel", json_string(args.rest[1]))) {
		out_error("fetch: '%s' is not valid UTF-8", args.rest[1]);
		json_decref(body);
		return EXIT_USE;
	}
	status = order_run(&run, "/v1/machines/%s/fetch", args.rest[0], body);
	json_decref(body);
	if (status == EXIT_DONE && options[OUT].set)
		status = save(run.id, args.rest[0], options[OUT].value);
	return status == EXIT_DONE && run.drift ? EXIT_REFUSED : status;
}
