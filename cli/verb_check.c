#include "args.h"
#include "exit.h"
#include "out.h"
#include "pair_files.h"
#include "verbs.h"

const char verb_check_help[] =
    "yoke check UPPER LOWER [MORE...] [--machine FILE] [--json]\n"
    "\n"
    "Check the programs of one pair: names and revisions, each program as text, and whether the "
    "channels\n"
    "meet at their wait codes. One file for each channel, in any order. Findings come one a line:\n"
    "file:line:column: weight: text [name]. 'yoke explain NAME' says more about one.\n"
    "\n"
    "  --machine FILE   the machine's configuration (machines/NAME.conf): wait codes, limits, "
    "weights\n"
    "  --json           the report as one JSON object\n"
    "\n"
    "Exit status: 0 no refusal, 1 refused, 3 cannot tell, 2 wrong use or a file that cannot be "
    "read.\n"
    "The check does not prove that tools cannot meet: prove out every new or changed pair at the "
    "machine.\n"
    "\n"
    "Example:\n"
    "  yoke check J4417-C.upper.nc J4417-C.lower.nc --machine machines/LATHE-1.conf\n";

static void print(const struct pair_files *p)
{
	struct text t = {0};

	pair_print_findings(pair_findings(p->report), &t);
	pair_print_summary(p->report, &t);
	out_text(&t);
}

int verb_check(int argc, char **argv)
{
	struct args_option options[] = {{.name = "machine", .takes = true}, {.name = "json"}};
	struct args args;
	struct pair_files *p;
	int status;

	if (args_read(argc, argv, options, 2, &args) != 0)
		return EXIT_USE;
	p = pair_files_check(argv[0], options[0].value, args.rest, args.n);
	if (!p)
		return EXIT_USE;
	status = pair_files_status(p);
	if (options[1].set)
		out_json(report_json_pair(&p->machine.profile, p->report, p->loaded, p->n));
	else
		print(p);
	pair_files_free(p);
	return status;
}
