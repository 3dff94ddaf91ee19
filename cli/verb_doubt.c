#include "ask.h"
#include "verbs.h"

const char verb_doubt_help[] =
    "yoke doubt MACHINE [--note TEXT] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Say that it is not known any more what a machine holds: its control was replaced or lost its\n"
    "memory, or somebody loaded programs there by other ways. Until a pair was carried there, or what\n"
    "is fetched is the old one, the machine is UNKNOWN and no pair on it can be marked as proven.\n"
    "`yoke machines` says what puts it right.\n"
    "\n"
    "  --note TEXT      why; it is kept in the audit trail\n"
    "  --json           the machine as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 told, 1 refused (an order is under way), 2 wrong use, 4 the service cannot be\n"
    "reached.\n"
    "\n"
    "Example:\n"
    "  yoke doubt LATHE-1 --note \"the control's memory was replaced\"\n";

int verb_doubt(int argc, char **argv)
{
	return ask_note(argc, argv, "/v1/machines/%s/doubt", "what it holds is not known any more");
}
