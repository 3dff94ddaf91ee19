#include <string.h>
#include "ask.h"
#include "exit.h"
#include "machine.h"
#include "out.h"
#include "verbs.h"

const char verb_adopt_help[] =
    "yoke adopt MACHINE --rev REV [--note TEXT] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Make what was changed at a machine a new revision of its job. The programs that the machine\n"
    "holds, those that were not changed too, come in as that revision's under your name, and are\n"
    "checked, held or released as if they had been dropped. Their header comment gets the new\n"
    "revision; nothing else in them is changed, and the machine keeps its own copy. It needs the\n"
    "duty 'release'. To undo the change instead, carry the released pair back: `yoke send`.\n"
    "\n"
    "Look at what was changed first: `yoke machines MACHINE`, `yoke audit --machine MACHINE`. A\n"
    "change that was good on one machine for one lot may not be on another; the pair is not proven.\n"
    "\n"
    "  --rev REV        the new revision, later than the one that was carried\n"
    "  --note TEXT      why; it is kept in the audit trail\n"
    "  --json           the machine as one JSON object, the pair under 'adopted'\n" ASK_OPTIONS_HELP
    "\n"
    "Exit status: 0 adopted and released, 1 refused, or adopted and held, 2 wrong use, 4 the\n"
    "service cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke adopt LATHE-1 --rev D --note \"feed for the new insert, by the setter\"\n";

static void tell(const json_t *m)
{
	const json_t *pair = json_object_get(m, "adopted"), *channel;
	struct text t = {0};
	size_t i;

	ask_put_pair(&t, pair);
	text_puts(&t, ": adopted from machine ");
	ask_put_string(&t, m, "name");
	text_puts(&t, ", ");
	ask_put_string(&t, pair, "state");
	if (*ask_string(pair, "text")) {
		text_puts(&t, ": ");
		ask_put_string(&t, pair, "text");
	}
	text_putc(&t, '\n');
	json_array_foreach(json_object_get(pair, "headers"), i, channel)
	{
		text_puts(&t, i ? ", " : "the header says the new revision in: ");
		ask_put(&t, json_string_value(channel));
	}
	if (json_array_size(json_object_get(pair, "headers")))
		text_puts(&t, "; the machine's own copy still says the old one\n");
	machine_say(&t, m);
	out_lines(&t);
}

int verb_adopt(int argc, char **argv)
{
	enum { REV = ASK_OWN, NOTE, N };
	struct args_option options[N] = {ASK_OPTIONS, [REV] = {.name = "rev", .takes = true},
	    [NOTE] = {.name = "note", .takes = true}};
	struct args args;
	json_t *body, *m;
	int status = ask_args(argc, argv, options, N, 1, 1, &args);

	if (status)
		return status;
	if (!options[REV].set) {
		out_error("adopt: --rev is missing: under which revision?");
		return EXIT_USE;
	}
	body = json_pack("{s:s, s:s*}", "revision", options[REV].value, "note", options[NOTE].value);
	if (!body) {
		out_error("adopt: the revision or the note is not valid UTF-8");
		return EXIT_USE;
	}
	m = ask_about("/v1/machines/%s/adopt", args.rest[0], body, &status);
	json_decref(body);
	if (!m)
		return status;
	status = !strcmp(ask_string(json_object_get(m, "adopted"), "state"), "released")
	             ? EXIT_DONE
	             : EXIT_REFUSED;
	if (options[ASK_JSON].set) {
		out_json(m);
		return status;
	}
	tell(m);
	json_decref(m);
	return status;
}
