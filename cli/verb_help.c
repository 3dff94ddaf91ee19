#include <stdio.h>
#include "exit.h"
#include "out.h"
#include "verbs.h"

const char verb_help_help[] = "yoke help [VERB]\n"
                              "\n"
                              "List the verbs, or say how one is called.\n"
                              "\n"
                              "Example:\n"
                              "  yoke help check\n";

static void list(struct text *t, const char *title, const struct verb *from, size_t n)
{
	if (n > 0)
		text_printf(t, "\n%s\n", title);
	for (size_t i = 0; i < n; i++)
		text_printf(t, "  %-10s %s\n", from[i].name, from[i].line);
}

int verb_help(int argc, char **argv)
{
#define X(name, line) +1
	const size_t offline = 0 VERBS_OFFLINE(X), online = 0 VERBS_ONLINE(X);
#undef X
	struct text t = {0};

	if (argc > 1) {
		const struct verb *v = verbs_find(argv[1]);

		if (!v)
			return EXIT_USE;
		out_string(v->help);
		return EXIT_DONE;
	}
	text_puts(&t, "yoke keeps the programs of a twin-channel lathe together.\n"
	              "\n"
	              "yoke VERB [ARGUMENTS]    yoke VERB --help    yoke --version\n");
	list(&t, "On files, without the service:", verbs, offline);
	list(&t, "Asking the service:", verbs + offline, online);
	text_puts(&t,
	    "\n"
	    "Exit status: 0 done, no refusal; 1 refused, or programs differ; 2 wrong use or a file "
	    "that\n"
	    "cannot be read; 3 cannot tell; 4 the service cannot be reached or could not do it.\n");
	out_text(&t);
	return EXIT_DONE;
}
