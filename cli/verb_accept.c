#include "ask.h"
#include "exit.h"
#include "out.h"
#include "verbs.h"

const char verb_accept_help[] =
    "yoke accept JOB@REV [--machine NAME] [--despite RULE] [--reason TEXT] [--json]\n"
    "            [--home DIR] [--socket PATH]\n"
    "\n"
    "Stand for a pair. Where a second person is asked for ([release] two_person = yes), or one who\n"
    "dropped it may not release programs, the check lets a pair through and it waits until\n"
    "somebody else accepts it. Who dropped one of its programs cannot, nor can root; where the\n"
    "owner of a file is not one known person, he counts as possibly the same.\n"
    "\n"
    "With --despite a pair goes on although one rule refuses it. Rule, reason and your name stand in\n"
    "the trail. What is absolute, as a proof that wait codes disagree, nobody can overrule.\n"
    "\n"
    "Accepting is no proving: prove out every new, changed or restored pair at the machine.\n"
    "\n"
    "  --machine NAME   the machine in whose folder it lies, when it lies in several; '' is the\n"
    "                   folder of all machines\n"
    "  --despite RULE   the rule that is overruled, as `yoke job` names it\n"
    "  --reason TEXT    why; needed with --despite\n"
    "  --json           the pair as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 accepted (what it still waits for is told), 1 refused, 2 wrong use, 4 the\n"
    "service cannot be reached.\n"
    "\n"
    "Examples:\n"
    "  yoke accept J4417@C\n"
    "  yoke accept J4417@C --despite number-clash --reason \"J4410 is no longer made\"\n";

int verb_accept(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "machine", .takes = true},
	    {.name = "despite", .takes = true}, {.name = "reason", .takes = true}};
	struct text t = {0};
	struct args args;
	json_t *body, *pair;
	int status = ask_args(argc, argv, options, ASK_OWN + 3, 1, 1, &args);

	if (status)
		return status;
	body = ask_pair(argv[0], args.rest[0], &options[ASK_OWN], 3);
	if (!body)
		return EXIT_USE;
	pair = ask_about("/v1/jobs/%s/accept", ask_string(body, "job"), body, &status);
	json_decref(body);
	if (!pair)
		return status;
	if (options[ASK_JSON].set) {
		out_json(pair);
		return status;
	}
	ask_put_pair(&t, pair);
	text_puts(&t, ": accepted; ");
	ask_put_string(&t, pair, "state");
	text_puts(&t, *ask_string(pair, "text") ? " still: " : "");
	ask_put_string(&t, pair, "text");
	text_putc(&t, '\n');
	out_text(&t);
	if (*ask_string(pair, "caution"))
		out_prose(ask_string(pair, "caution"), 0);
	json_decref(pair);
	return status;
}
