#include "ask.h"
#include "verbs.h"

const char verb_lock_help[] =
    "yoke lock MACHINE [--note TEXT] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Send nothing to a machine until it is unlocked. Orders stay queued; fetching stays possible.\n"
    "This locks Yoke only: it does not stop the machine and is no lock-out for work on it. Nor does\n"
    "it stop a program that the control executes while it reads it (`yoke drip`); `yoke cancel`\n"
    "does.\n"
    "\n"
    "  --note TEXT      why; it is shown wherever the lock is\n"
    "  --json           the machine as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke lock LATHE-1 --note \"chuck jaws are being changed\"\n";

int verb_lock(int argc, char **argv)
{
	return ask_note(
	    argc, argv, "/v1/machines/%s/lock", "locked: nothing is sent until it is unlocked");
}
