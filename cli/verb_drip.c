#include "ask.h"
#include "exit.h"
#include "order.h"
#include "out.h"
#include "verbs.h"

const char verb_drip_help[] =
    "yoke drip JOB[@REV] MACHINE CHANNEL [--no-wait] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Drip feed: the program of one channel of a released pair goes down a serial line to a control\n"
    "that executes it while it reads it, and stores nothing. It takes as long as the control likes;\n"
    "the order ends when all of it has left here, and the control may still be at work then. It is\n"
    "begun when the control asks, over one connection, and once it began never begun again by\n"
    "itself. Only where the machine's file says so: drip = alone, for programs without wait codes,\n"
    "or drip = waits. A program that jumps, loops, or calls within its own file is refused with the\n"
    "block. Without @REV: the newest revision, which must be released.\n"
    "\n"
    "What the machine holds stays as it is. If the control was set to read into its memory instead,\n"
    "what it holds is not known: `yoke fetch` tells. Ctrl-C cancels: the control stops when its\n"
    "buffer is empty; feed hold at the control is quicker. A lock does not stop it.\n"
    "\n"
    "Prove it out: single block, rapid override low, guard closed, hand at feed hold. Check work\n"
    "offsets and tool offsets of both channels. A line that breaks, or is held, stops the axes in\n"
    "the middle of a cut, at any block. After a stop never begin in the middle without the setter's\n"
    "decision: `yoke restart` shows where both channels can be picked up. Follow the machine\n"
    "builder's manual, the shop's rules and local regulations; trained and authorised persons only.\n"
    "\n"
    "  --no-wait        return once the order is queued\n"
    "  --json           JSON lines: the order, its progress, its end, the "
    "machine\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 all of it has left here (or queued), 1 refused, 2 wrong use, 4 cut short or not\n"
    "known.\n"
    "\n"
    "Example:\n"
    "  yoke drip J4417@C LATHE-1 upper\n";

int verb_drip(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "no-wait"}};
	struct order_run run = {0};
	struct args args;
	json_t *body;
	int status = ask_args(argc, argv, options, ASK_OWN + 1, 3, 3, &args);

	if (status)
		return status;
	run.json = options[ASK_JSON].set;
	run.no_wait = options[ASK_OWN].set;
	body = order_pair(argv[0], args.rest[0]);
	if (!body)
		return EXIT_USE;
	if (json_object_set_new(body, "channel", json_string(args.rest[2]))) {
		out_error("%s: '%s' is not valid UTF-8", argv[0], args.rest[2]);
		json_decref(body);
		return EXIT_USE;
	}
	status = order_run(&run, "/v1/machines/%s/drip", args.rest[1], body);
	json_decref(body);
	return status;
}
