#include "ask.h"
#include "verbs.h"

const char verb_prove_help[] =
    "yoke prove MACHINE [--note TEXT] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Say that the pair on this machine made a good part: measured, and approved as the shop's\n"
    "rules demand. It becomes the machine's last good pair, which `yoke restore` brings back.\n"
    "\n"
    "  --note TEXT      what was measured, by whom; it is kept in the audit trail\n"
    "  --json           the machine as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 marked, 1 refused (the machine holds no whole pair, or it was changed there),\n"
    "2 wrong use, 4 the service cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke prove LATHE-1 --note \"first part measured, all within tolerance\"\n";

int verb_prove(int argc, char **argv)
{
	return ask_note(argc, argv, "/v1/machines/%s/prove",
	    "marked as proven: this is its last good pair now");
}
