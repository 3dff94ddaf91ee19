#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>
#include "args.h"
#include "change_json.h"
#include "exit.h"
#include "load.h"
#include "out.h"
#include "pair_files.h"
#include "verbs.h"

const char verb_change_help[] =
    "yoke change OLD NEW [--machine FILE] [--limit N] [--json]\n"
    "\n"
    "Tell what differs between two programs by what it means at the machine: wait codes and lost "
    "decimal\n"
    "points first, then motion, tools, offsets, speeds and feeds; comments and the way a number is "
    "written\n"
    "last. Blocks that stand in another place are one change; sequence numbers, and jumps that "
    "follow "
    "them,\n"
    "are none.\n"
    "\n"
    "  --machine FILE   the machine's configuration: which M codes are wait codes\n"
    "  --limit N        tell at most N changes, the heaviest; all are counted (default 100, 0: "
    "all)\n"
    "  --json           the changes as one JSON object\n"
    "\n"
    "Exit status: 0 same but for comments, sequence numbers and layout, 1 different, 2 wrong use "
    "or a file that "
    "cannot be read.\n"
    "\n"
    "Example:\n"
    "  yoke change J4417-B.upper.nc J4417-C.upper.nc\n";

static int load(const char *path, struct change_json_file *f)
{
	struct text why = {0};
	int fd = load_open(path, &why);
	int result = fd < 0 ? -1 : load_bytes(fd, path, &f->bytes, &f->n, f->sum, &why);

	if (fd >= 0)
		close(fd);
	if (result < 0)
		fprintf(stderr, "%s\n", why.s ? why.s : "yoke: out of memory");
	text_free(&why);
	f->file = path;
	return result;
}

static int compare(
    const struct profile *profile, const struct change_json_file f[2], size_t limit, bool json)
{
	struct change_list list;
	struct text t = {0};
	int status;

	if (change_compare(profile, f[0].bytes, f[0].n, f[1].bytes, f[1].n, limit, &list) < 0) {
		out_error("change: out of memory");
		return EXIT_USE;
	}
	status = list.sameness == CHANGE_DIFFERENT ? EXIT_REFUSED : EXIT_DONE;
	if (json) {
		out_json(change_json_list(&list, &f[0], &f[1]));
	} else {
		change_print(&list, f[0].file, f[1].file, &t);
		out_text(&t);
	}
	change_list_free(&list);
	return status;
}

int verb_change(int argc, char **argv)
{
	struct args_option options[] = {
	    {.name = "machine", .takes = true}, {.name = "limit", .takes = true}, {.name = "json"}};
	struct change_json_file f[2] = {0};
	struct conf_machine machine;
	struct args args;
	unsigned long limit = 100;
	int status = EXIT_USE;

	if (args_read(argc, argv, options, 3, &args) != 0)
		return EXIT_USE;
	if (args.n != 2) {
		out_error("change: %zu file%s given; two are needed, the old and the new program",
		    args.n, args.n == 1 ? "" : "s");
		return EXIT_USE;
	}
	if (options[1].set && !args_number("limit", options[1].value, 0, 10000, &limit))
		return EXIT_USE;
	if (pair_files_machine(options[0].value, &machine) < 0)
		return EXIT_USE;
	if (load(args.rest[0], &f[0]) == 0 && load(args.rest[1], &f[1]) == 0)
		status = compare(&machine.profile, f, limit, options[2].set);
	free(f[0].bytes);
	free(f[1].bytes);
	return status;
}
