#include "ask.h"
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
	return ask_of_order(argc, argv, "goes next on machine ");
}
