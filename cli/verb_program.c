#include "ask.h"
#include "download.h"
#include "exit.h"
#include "out.h"
#include "verbs.h"

const char verb_program_help[] =
    "yoke program SHA256 [--out FILE] [--home DIR] [--socket PATH]\n"
    "\n"
    "Write a program out of the vault, byte for byte as it came in, to standard output or into a\n"
    "new file. `yoke job JOB`, `yoke machines NAME` and `yoke audit --json` tell the sums.\n"
    "\n"
    "  --out FILE       into this file, which must not be there yet\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke program 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08 \\\n"
    "    --out J4417-C.upper.nc\n";

int verb_program(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "out", .takes = true}};
	struct args args;
	int status = ask_args(argc, argv, options, ASK_OWN + 1, 1, 1, &args);

	if (status)
		return status;
	if (options[ASK_JSON].set) {
		out_error("program: a program is bytes: there is no --json of it");
		return EXIT_USE;
	}
	return download_program(args.rest[0], options[ASK_OWN].value);
}
