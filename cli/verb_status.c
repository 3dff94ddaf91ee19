#include "ask.h"
#include "out.h"
#include "verbs.h"

const char verb_status_help[] =
    "yoke status [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Say whether the service answers, which folder it watches, how many files lie there, how many\n"
    "have not settled or have no end yet, how many names were left alone (temporary and back-up\n"
    "names), and how many are no programs (see `yoke audit --kind turned-away`). Say up to which entry\n"
    "the trail is sealed, and why not, if it is not.\n"
    "\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke status\n";

static void put_trail(struct text *t, const json_t *trail)
{
	const json_t *copy = json_object_get(trail, "copy");

	if (!trail)
		return;
	text_printf(t, "trail: entries 1 to %lld sealed", (long long)ask_number(trail, "sealed"));
	if (*ask_string(trail, "time")) {
		text_puts(t, " at ");
		ask_put_string(t, trail, "time");
	}
	if (copy) {
		text_printf(t, "; checkpoints 1 to %lld in ", (long long)ask_number(copy, "number"));
		ask_put_string(t, copy, "place");
	}
	text_putc(t, '\n');
	if (*ask_string(trail, "error")) {
		text_puts(t, "  NOT SEALED: ");
		ask_put_string(t, trail, "error");
		text_putc(t, '\n');
	}
	if (*ask_string(copy, "error")) {
		text_puts(t, "  NOT COPIED: ");
		ask_put_string(t, copy, "error");
		text_putc(t, '\n');
	}
}

int verb_status(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct args args;
	struct text t = {0};
	const json_t *folder;
	json_t *o;
	int status = ask_args(argc, argv, options, ASK_OWN, 0, 0, &args);

	if (status)
		return status;
	o = ask("/v1/status", NULL, &status);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	folder = json_object_get(o, "folder");
	text_puts(&t, "yoked ");
	ask_put_string(&t, o, "version");
	text_printf(&t, " answers; machines: %lld\nfolder ", (long long)ask_number(o, "machines"));
	ask_put_string(&t, o, "programs");
	text_printf(&t, "%s\n  files %lld, waiting %lld, left alone %lld, no programs %lld\n",
	    ask_true(folder, "offline") ? ": OFFLINE, nothing is looked at" : "",
	    (long long)ask_number(folder, "files"), (long long)ask_number(folder, "waiting"),
	    (long long)ask_number(folder, "ignored"), (long long)ask_number(folder, "refused"));
	if (*ask_string(o, "caution")) {
		text_puts(&t, "!! ");
		ask_put_string(&t, o, "caution");
		text_putc(&t, '\n');
	}
	text_puts(&t, "last back-up: ");
	if (json_object_get(o, "backup")) {
		ask_put_time(&t, ask_string(json_object_get(o, "backup"), "time"), false);
		text_puts(&t, ", ");
		ask_put_string(&t, json_object_get(o, "backup"), "text");
		text_putc(&t, '\n');
	} else {
		text_puts(&t, "none: `yoke backup FILE` writes one\n");
	}
	put_trail(&t, json_object_get(o, "trail"));
	out_text(&t);
	json_decref(o);
	return status;
}
