#include "ask.h"
#include "exit.h"
#include "machine.h"
#include "order.h"
#include "out.h"
#include "verbs.h"

const char verb_loaded_help[] =
    "yoke loaded MACHINE [JOB[@REV]] [--note TEXT] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Say that the pair which was given out for this machine on a stick was loaded there by hand, both\n"
    "programs, each into its channel. It is kept as what you say, not as what was seen: `yoke import`\n"
    "of what the control has saved makes it read back. With JOB@REV: that this pair is loaded; the one\n"
    "that was there before, when the stick was not used.\n"
    "\n"
    "  --note TEXT      kept in the audit trail\n"
    "  --json           the machine as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 recorded, 1 refused (that pair was not given out), 2 wrong use, 4 the service\n"
    "cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke loaded LATHE-3 J4417@C --note \"both channels, from the blue stick\"\n";

int verb_loaded(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "note", .takes = true}};
	struct text t = {0};
	struct args args;
	json_t *body, *m;
	int status = ask_args(argc, argv, options, ASK_OWN + 1, 1, 2, &args);

	if (status)
		return status;
	body = args.n > 1 ? order_pair("loaded", args.rest[1]) : json_object();
	if (body && options[ASK_OWN].set &&
	    json_object_set_new(body, "note", json_string(options[ASK_OWN].value))) {
		out_error("loaded: the note is not valid UTF-8");
		json_decref(body);
		return EXIT_USE;
	}
	if (!body)
		return EXIT_USE;
	m = ask_about("/v1/machines/%s/loaded", args.rest[0], body, &status);
	json_decref(body);
	if (!m)
		return status;
	if (options[ASK_JSON].set) {
		out_json(m);
		return status;
	}
	machine_say(&t, m);
	out_text(&t);
	json_decref(m);
	return status;
}
