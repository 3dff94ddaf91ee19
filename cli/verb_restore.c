#include "ask.h"
#include "order.h"
#include "verbs.h"

const char verb_restore_help[] =
    "yoke restore MACHINE [--no-wait] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Carry the machine's last good pair back: the newest one that was marked with `yoke prove`.\n"
    "Ctrl-C cancels and says what the machine holds then.\n"
    "\n"
    "A restored pair is proved out like a new one: single block, rapid override low, guard "
    "closed,\n"
    "hand at feed hold. Check work offsets and tool offsets of both channels: they may have been\n"
    "changed since. Follow the machine builder's manual, the shop's rules and local regulations;\n"
    "trained and authorised persons only.\n"
    "\n"
    "  --no-wait        return once the order is queued\n"
    "  --json           JSON lines: the order, its progress, its end, the "
    "machine\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 carried (or queued), 1 refused, 2 wrong use, 4 not carried, not known, or\n"
    "carried and not read back although the machine's file asks for it.\n"
    "\n"
    "Example:\n"
    "  yoke restore LATHE-1\n";

int verb_restore(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "no-wait"}};
	struct order_run run = {0};
	struct args args;
	json_t *body;
	int status = ask_args(argc, argv, options, ASK_OWN + 1, 1, 1, &args);

	if (status)
		return status;
	run.json = options[ASK_JSON].set;
	run.no_wait = options[ASK_OWN].set;
	body = json_object();
	status = order_run(&run, "/v1/machines/%s/restore", args.rest[0], body);
	json_decref(body);
	return status;
}
