#include <string.h>
#include "ask.h"
#include "exit.h"
#include "out.h"
#include "verbs.h"

const char verb_cancel_help[] =
    "yoke cancel ORDER [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "End an order that waits or is under way. One that is under way ends where the machine holds\n"
    "one whole pair, if that is still possible: look at `yoke machines` afterwards. A control that\n"
    "executes while it reads (`yoke drip`) stops when its buffer is empty, in the middle of the\n"
    "program: feed hold at the control is quicker.\n"
    "\n"
    "  --json           the answer as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 it is being cancelled, 1 refused (it has ended), 2 wrong use, 4 the service\n"
    "cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke cancel 112\n";

int verb_cancel(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct text t = {0};
	struct args args;
	json_t *o;
	int status = ask_args(argc, argv, options, ASK_OWN, 1, 1, &args);

	if (status)
		return status;
	o = ask_of_order("cancel", args.rest[0], &status);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	text_printf(&t, "order %s is being cancelled: see `yoke machines`\n", args.rest[0]);
	out_text(&t);
	if (*ask_string(o, "caution"))
		out_prose(ask_string(o, "caution"), 0);
	json_decref(o);
	return status;
}
