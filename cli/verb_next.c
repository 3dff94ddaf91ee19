#include <string.h>
#include "ask.h"
#include "exit.h"
#include "out.h"
#include "verbs.h"

const char verb_next_help[] =
    "yoke next ORDER [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Put an order that waits before all others that wait for its machine. One that is under way is\n"
    "not disturbed.\n"
    "\n"
    "  --json           the order as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 it goes next, 1 refused (it does not wait), 2 wrong use, 4 the service cannot be\n"
    "reached.\n"
    "\n"
    "Example:\n"
    "  yoke next 112\n";

int verb_next(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct text t = {0};
	struct args args;
	json_t *o;
	int status = ask_args(argc, argv, options, ASK_OWN, 1, 1, &args);

	if (status)
		return status;
	o = ask_of_order("next", args.rest[0], &status);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	text_puts(&t, "order ");
	ask_put(&t, args.rest[0]);
	text_puts(&t, " goes next on machine ");
	ask_put_string(&t, o, "machine");
	text_putc(&t, '\n');
	out_text(&t);
	json_decref(o);
	return status;
}
