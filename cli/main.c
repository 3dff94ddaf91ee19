/* yoke: the command. Reads its first argument; the rest is the verb's. */
#include <stdio.h>
#include <string.h>
#include "exit.h"
#include "out.h"
#include "verbs.h"

int main(int argc, char **argv)
{
	char help[] = "help", *only_help[] = {help, NULL};

	out_start();
	if (argc < 2) {
		verb_help(1, only_help);
		return out_finish(EXIT_USE);
	}
	if (strcmp(argv[1], "--version") == 0) {
		out_string("yoke " YOKE_VERSION "\n");
		return out_finish(EXIT_DONE);
	}
	if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0)
		return out_finish(verb_help(1, only_help));
	return out_finish(verbs_run(argc - 1, argv + 1));
}
