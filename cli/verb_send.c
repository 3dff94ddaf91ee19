#include "ask.h"
#include "exit.h"
#include "order.h"
#include "verbs.h"

const char verb_send_help[] =
    "yoke send JOB[@REV] MACHINE [--dry-run] [--no-wait] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Carry both programs of a released pair to a machine, and follow it to its end. Without @REV:\n"
    "the newest revision, which must be released. Nothing held or refused is sent, and nothing to\n"
    "a locked machine. Ctrl-C cancels and says what the machine holds then.\n"
    "\n"
    "Prove out every new, changed or restored pair: single block, rapid override low, guard\n"
    "closed, hand at feed hold. Check work offsets and tool offsets of both channels. Follow the\n"
    "machine builder's manual, the shop's rules and local regulations; trained and authorised\n"
    "persons only.\n"
    "\n"
    "  --dry-run        everything but the writing: is the machine there, is there room, what would\n"
    "                   be replaced\n"
    "  --no-wait        return once the order is queued\n"
    "  --json           JSON lines: the order, its progress, its end, the "
    "machine\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 carried (or queued), 1 refused, 2 wrong use, 4 not carried, not known, or\n"
    "carried and not read back although the machine's file asks for it.\n"
    "\n"
    "Example:\n"
    "  yoke send J4417@C LATHE-1\n";

int verb_send(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "no-wait"}, {.name = "dry-run"}};
	struct order_run run = {0};
	struct args args;
	json_t *body;
	int status = ask_args(argc, argv, options, ASK_OWN + 2, 2, 2, &args);

	if (status)
		return status;
	run.json = options[ASK_JSON].set;
	run.no_wait = options[ASK_OWN].set;
	body = order_pair(argv[0], args.rest[0]);
	if (!body)
		return EXIT_USE;
	if (options[ASK_OWN + 1].set)
		json_object_set_new(body, "dry_run", json_true());
	status = order_run(&run, "/v1/machines/%s/send", args.rest[1], body);
	json_decref(body);
	return status;
}
