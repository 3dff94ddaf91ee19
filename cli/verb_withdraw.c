#include "ask.h"
#include "exit.h"
#include "out.h"
#include "verbs.h"

const char verb_withdraw_help[] =
    "yoke withdraw JOB@REV --reason TEXT [--machine NAME] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Let a pair go to no machine any more: it is neither sent, restored, dripped nor exported again,\n"
    "and orders for it that have changed nothing yet end. For good: what is put right comes as\n"
    "another revision. A machine that holds the pair keeps it, and is named: Yoke does not stop it.\n"
    "\n"
    "  --reason TEXT    why; it stands in the trail, and wherever the pair is refused\n"
    "  --machine NAME   only that of this machine's folder; '' is the folder of all machines\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 withdrawn, 1 refused, 2 wrong use, 4 the service cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke withdraw J4417@C --reason \"drawing D replaces it\"\n";

int verb_withdraw(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "machine", .takes = true},
	    {.name = "reason", .takes = true}};
	struct text t = {0};
	struct args args;
	const json_t *name;
	json_t *body, *o;
	size_t i;
	int status = ask_args(argc, argv, options, ASK_OWN + 2, 1, 1, &args);

	if (status)
		return status;
	body = ask_pair(argv[0], args.rest[0], &options[ASK_OWN], 2);
	if (!body)
		return EXIT_USE;
	o = ask_about("/v1/jobs/%s/withdraw", ask_string(body, "job"), body, &status);
	json_decref(body);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	ask_put_pair(&t, o);
	text_puts(&t, ": withdrawn; it goes to no machine any more\n");
	json_array_foreach(json_object_get(o, "machines"), i, name)
	{
		text_puts(&t, "machine ");
		ask_put(&t, json_string_value(name) ? json_string_value(name) : "?");
		text_puts(&t, " holds it, or is just given it: see to it that nobody runs it there\n");
	}
	out_text(&t);
	json_decref(o);
	return status;
}
