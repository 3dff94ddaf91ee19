#include "ask.h"
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
	return ask_of_order(argc, argv, "is being cancelled: see `yoke machines`");
}
