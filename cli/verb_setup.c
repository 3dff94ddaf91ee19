#include <stdio.h>
#include "args.h"
#include "exit.h"
#include "new_file.h"
#include "out.h"
#include "pair_files.h"
#include "setup_json.h"
#include "verbs.h"

const char verb_setup_help[] =
    "yoke setup UPPER LOWER [MORE...] [--machine FILE] [--with FILE]... [--html FILE] [--width N] "
    "[--json]\n"
    "yoke setup ONEFILE --machine FILE [...]\n"
    "\n"
    "The setup sheet, computed from the programs as their blocks are executed: for each channel "
    "its "
    "tools\n"
    "with their offsets in order of use and what for, work offsets and travel, highest speeds and "
    "clamps,\n"
    "clamping and other miscellaneous codes with their meaning from the machine's table, stops,\n"
    "block-skip switches, programs and calls. What is not known is counted and named.\n"
    "\n"
    "  --machine FILE   the machine's configuration (machines/NAME.conf); its [codes] say what M "
    "codes mean\n"
    "  --with FILE      a file of subprograms that the programs call; may stand several times\n"
    "  --html FILE      write it as one page to print instead; FILE must not exist yet\n"
    "  --width N        columns to use, 60 to 500 (default 80)\n"
    "  --json           everything as one JSON object\n"
    "\n"
    "Exit status as for 'yoke check'. Prove out every new or changed pair: single block, rapid "
    "override low,\n"
    "guard closed, hand at feed hold.\n"
    "\n"
    "Example:\n"
    "  yoke setup J4417-C.upper.nc J4417-C.lower.nc --machine machines/LATHE-1.conf --html "
    "J4417-C.html\n";

enum { MACHINE, WITH, HTML, WIDTH, JSON, OPTIONS };

static int show(const struct args_option *options, const struct pair_files *p, unsigned width)
{
	struct setup *s = setup_new(p->report);
	int status = pair_files_status(p);
	struct text t = {0};

	if (!s) {
		out_error("setup: out of memory");
		return EXIT_USE;
	}
	if (options[HTML].set) {
		setup_html(s, &t);
		if (new_file_write(options[HTML].value, &t) != 0)
			status = EXIT_USE;
	}
	if (options[JSON].set) {
		out_json(setup_json(s));
	} else if (!options[HTML].set) {
		setup_print(s, width, &t);
		out_text(&t);
	}
	setup_free(s);
	return status;
}

int verb_setup(int argc, char **argv)
{
	const char *with[PAIR_FILES_SISTERS_MAX];
	struct args_option options[OPTIONS] = {[MACHINE] = {.name = "machine", .takes = true},
	    [WITH] = {.name = "with",
	        .takes = true,
	        .values = with,
	        .room = PAIR_FILES_SISTERS_MAX},
	    [HTML] = {.name = "html", .takes = true},
	    [WIDTH] = {.name = "width", .takes = true},
	    [JSON] = {.name = "json"}};
	struct args args;
	struct pair_files *p;
	unsigned long width = 80;
	int status;

	if (args_read(argc, argv, options, OPTIONS, &args) != 0)
		return EXIT_USE;
	if (options[WIDTH].set && !args_number("width", options[WIDTH].value, 60, 500, &width))
		return EXIT_USE;
	p = pair_files_read(&(struct pair_files_ask){
	    argv[0], options[MACHINE].value, with, options[WITH].n, args.rest, args.n, true});
	if (!p)
		return EXIT_USE;
	status = show(options, p, (unsigned)width);
	pair_files_free(p);
	return status;
}
