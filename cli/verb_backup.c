#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "out.h"
#include "verbs.h"

const char verb_backup_help[] =
    "yoke backup FILE [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Write a back-up of the vault: every program, pair and entry of the trail, as they are now. Work\n"
    "goes on meanwhile. The service writes the file, as its own user and with mode 0600: it must be\n"
    "allowed to write into that folder, which lies outside of its home, best on another disk. The\n"
    "back-up is read again before it gets its name: chain, state and every program. An existing file\n"
    "is never overwritten; what a back-up that was cut short left (FILE.part) is begun anew.\n"
    "\n"
    "Configuration and keys are not in it: they are files of their own. `yoked --home DIR\n"
    "--restore-vault FILE` brings it back.\n"
    "\n"
    "  --json           what was written as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 written and verified; 1 refused; 2 wrong use; 4 the service cannot be reached,\n"
    "or could not do it.\n"
    "\n"
    "Example:\n"
    "  yoke backup /mnt/backup/yoke-$(date +%F).db\n";

/* Copying and reading every program: some hours. */
enum { BACKUP_PATIENCE_S = 4 * 3600 };

/* The path as the service, which has another working directory, must have it. NULL, and said. */
static char *absolute(const char *file)
{
	char *at = NULL, *whole = NULL;

	if (*file == '/')
		whole = strdup(file);
	else if (*file && (at = getcwd(NULL, 0)) && asprintf(&whole, "%s/%s", at, file) < 0)
		whole = NULL;
	if (!whole)
		out_error("backup: %s", *file ? strerror(errno) : "the file needs a name");
	free(at);
	return whole;
}

int verb_backup(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct args args;
	struct text t = {0};
	json_t *body = NULL, *o;
	char *file;
	int status = ask_args(argc, argv, options, ASK_OWN, 1, 1, &args);

	if (status)
		return status;
	file = absolute(args.rest[0]);
	if (!file)
		return EXIT_USE;
	body = json_pack("{s:s}", "file", file);
	if (!body) {
		out_error("backup: the name is no text in UTF-8");
		free(file);
		return EXIT_USE;
	}
	http_patience(BACKUP_PATIENCE_S);
	o = ask("/v1/backup", body, &status);
	json_decref(body);
	free(file);
	if (!o)
		return status;
	if (*ask_string(o, "error")) {
		out_error("backup: %s", ask_string(o, "text"));
		json_decref(o);
		return EXIT_SERVICE;
	}
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	ask_put_string(&t, o, "file");
	text_printf(&t, ": %lld entries, %lld programs, %lld bytes, verified\nhead of the chain: ",
	    (long long)ask_number(o, "events"), (long long)ask_number(o, "programs"),
	    (long long)ask_number(o, "bytes"));
	ask_put_string(&t, o, "head");
	text_putc(&t, '\n');
	if (!ask_number(o, "event"))
		text_puts(&t, "the trail could not record it: see `yoke status`\n");
	out_text(&t);
	json_decref(o);
	return status;
}
