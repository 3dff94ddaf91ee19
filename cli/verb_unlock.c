#include "ask.h"
#include "verbs.h"

const char verb_unlock_help[] =
    "yoke unlock MACHINE [--note TEXT] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Make sending possible again. Orders that waited for this are carried at once: look at\n"
    "`yoke orders MACHINE` first, and see that nobody is surprised by a new program.\n"
    "\n"
    "  --note TEXT      why; it is kept in the audit trail\n"
    "  --json           the machine as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke unlock LATHE-1 --note \"new jaws bored\"\n";

int verb_unlock(int argc, char **argv)
{
	return ask_note(
	    argc, argv, "/v1/machines/%s/unlock", "unlocked: orders that wait are carried");
}
