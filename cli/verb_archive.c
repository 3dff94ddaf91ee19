#include "archive_write.h"
#include "ask.h"
#include "exit.h"
#include "moment.h"
#include "out.h"
#include "verbs.h"

const char verb_archive_help[] =
    "yoke archive --before YYYY[-MM-DD] FILE [--home DIR] [--socket PATH]\n"
    "\n"
    "Copy the trail up to the beginning of that year or day, local time, and every program that it\n"
    "names, into one file that can be checked without any service, by anybody with the public key:\n"
    "for closed years, to be kept elsewhere. The copy goes on to the next signed checkpoint, which\n"
    "covers it. Nothing leaves the vault: it keeps programs and entries for ever. FILE must not exist\n"
    "yet; it is checked before this ends.\n"
    "\n"
    "  --before T       entries before this year or day\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 written and good; 1 refused, or nothing is that old; 2 wrong use, or the file\n"
    "cannot be written; 4 the service cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke archive --before 2031 trail-2030.yoke\n"
    "  yoke audit check-archive trail-2030.yoke --key keys.txt\n";

enum { BEFORE = ASK_OWN, OPTIONS };

int verb_archive(int argc, char **argv)
{
	struct args_option options[OPTIONS] = {
	    ASK_OPTIONS,
	    [BEFORE] = {.name = "before", .takes = true},
	};
	struct args args;
	long long before;
	int status = ask_args(argc, argv, options, OPTIONS, 1, 1, &args);

	if (status)
		return status;
	if (options[ASK_JSON].set || !options[BEFORE].set) {
		out_error(options[ASK_JSON].set ? "archive: it has no JSON form"
		                                : "archive: --before is missing: 'yoke archive --help'");
		return EXIT_USE;
	}
	if (moment_read(options[BEFORE].value, false, &before) || before <= 0) {
		out_error("archive: --before '%s' is no moment: " MOMENT_FORMS,
		    options[BEFORE].value);
		return EXIT_USE;
	}
	return archive_write(args.rest[0], before);
}
