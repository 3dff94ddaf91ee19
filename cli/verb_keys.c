#include <string.h>
#include "ask.h"
#include "exit.h"
#include "out.h"
#include "verbs.h"

const char verb_keys_help[] =
    "yoke keys [--json] [--home DIR] [--socket PATH]\n"
    "yoke keys rotate [--lost] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "List the public keys with which the trail is signed, the newest last, and what is sealed. Give\n"
    "them to whoever is to check proofs, by a way that cannot be changed on the way: on paper, say.\n"
    "\n"
    "rotate makes a new key; the one before signs it once and is destroyed. Only the service's own\n"
    "user and root may.\n"
    "\n"
    "  --lost           the key before is lost: the new one is not signed with it, and `yoke audit\n"
    "                   verify` says so from then on\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke keys > trail-keys\n";

enum { LOST = ASK_OWN, OPTIONS };

/* One key a line, never broken: it is to be copied. */
static void print(const json_t *o)
{
	const json_t *all = json_object_get(o, "keys"), *trail = json_object_get(o, "trail"), *one;
	struct text t = {0};
	size_t i;

	json_array_foreach(all, i, one)
	{
		ask_put_string(&t, one, "key");
		text_printf(&t, "  from entry %lld on, ", (long long)ask_number(one, "event"));
		ask_put_time(&t, ask_string(one, "time"), true);
		text_putc(&t, '\n');
	}
	if (json_array_size(all) == 0)
		text_puts(&t, "the trail has no key yet\n");
	if (ask_number(trail, "sealed"))
		text_printf(&t, "sealed: entries 1 to %lld by checkpoint %lld\n",
		    (long long)ask_number(trail, "sealed"), (long long)ask_number(trail, "number"));
	if (*ask_string(trail, "error")) {
		text_puts(&t, "NOT SEALED: ");
		ask_put_string(&t, trail, "error");
		text_putc(&t, '\n');
	}
	out_text(&t);
}

int verb_keys(int argc, char **argv)
{
	struct args_option options[OPTIONS] = {ASK_OPTIONS, [LOST] = {.name = "lost"}};
	struct args args;
	json_t *o, *body = NULL;
	int status = ask_args(argc, argv, options, OPTIONS, 0, 1, &args);

	if (status)
		return status;
	if (args.n && strcmp(args.rest[0], "rotate") != 0) {
		out_error("keys: '%s' is not known here: only 'rotate' is, and options", args.rest[0]);
		return EXIT_USE;
	}
	if (!args.n && options[LOST].set) {
		out_error("keys: --lost goes with 'rotate'");
		return EXIT_USE;
	}
	if (args.n)
		body = json_pack("{s:b}", "lost", (int)options[LOST].set);
	o = args.n && !body ? NULL : ask(args.n ? "/v1/keys/rotate" : "/v1/keys", body, &status);
	json_decref(body);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	print(o);
	json_decref(o);
	return status;
}
