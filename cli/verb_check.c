#include <string.h>
#include "args.h"
#include "exit.h"
#include "out.h"
#include "pair_files.h"
#include "report_sarif.h"
#include "verbs.h"

const char verb_check_help[] =
    "yoke check UPPER LOWER [MORE...] [--machine FILE] [--with FILE]... [--format "
    "text|json|sarif]\n"
    "yoke check ONEFILE --machine FILE [...]\n"
    "\n"
    "Check the programs of one pair: names and revisions, each program as text, and whether the "
    "channels\n"
    "meet at their wait codes. One file for each channel, in any order; or one that holds them "
    "all, when "
    "the\n"
    "machine's configuration says what separates them. Findings come one a line:\n"
    "file:line:column: weight: text [name]. 'yoke explain NAME' says more about one.\n"
    "\n"
    "  --machine FILE   the machine's configuration (machines/NAME.conf): wait codes, limits, "
    "weights\n"
    "  --with FILE      a file of subprograms that the programs call; may stand several times\n"
    "  --format FORMAT  text, json (the report as one object) or sarif (OASIS SARIF 2.1.0, for "
    "editors "
    "and\n"
    "                   build servers)\n"
    "  --json           the same as --format json\n"
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

enum format { FORMAT_TEXT, FORMAT_JSON, FORMAT_SARIF, FORMAT_UNKNOWN };

/* --format, or --json, its short form for one of them. */
static enum format format_of(const struct args_option *format, const struct args_option *json)
{
	static const char *const names[] = {"text", "json", "sarif"};
	enum format f = json->set ? FORMAT_JSON : FORMAT_TEXT;

	if (!format->set)
		return f;
	for (f = FORMAT_TEXT; f < FORMAT_UNKNOWN; f++)
		if (strcmp(format->value, names[f]) == 0)
			break;
	if (f == FORMAT_UNKNOWN) {
		out_error("check: --format '%s': text, json or sarif is allowed", format->value);
	} else if (json->set && f != FORMAT_JSON) {
		out_error("check: --json and --format %s are two formats; give one", format->value);
		f = FORMAT_UNKNOWN;
	}
	return f;
}

int verb_check(int argc, char **argv)
{
	const char *with[PAIR_FILES_SISTERS_MAX];
	struct args_option options[] = {{.name = "machine", .takes = true}, {.name = "json"},
	    {.name = "format", .takes = true},
	    {.name = "with", .takes = true, .values = with, .room = PAIR_FILES_SISTERS_MAX}};
	struct args args;
	struct pair_files *p;
	enum format format;
	int status;

	if (args_read(argc, argv, options, 4, &args) != 0)
		return EXIT_USE;
	format = format_of(&options[2], &options[1]);
	if (format == FORMAT_UNKNOWN)
		return EXIT_USE;
	p = pair_files_read(&(struct pair_files_ask){
	    argv[0], options[0].value, with, options[3].n, args.rest, args.n, false});
	if (!p)
		return EXIT_USE;
	status = pair_files_status(p);
	if (format == FORMAT_SARIF)
		out_json(report_sarif_pair(&p->machine.profile, p->report, p->loaded, p->n));
	else if (format == FORMAT_JSON)
		out_json(report_json_pair(&p->machine.profile, p->report, p->loaded, p->n));
	else
		print(p);
	pair_files_free(p);
	return status;
}
