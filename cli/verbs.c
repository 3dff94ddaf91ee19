#include "verbs.h"

#include <stdio.h>
#include <string.h>
#include "exit.h"
#include "out.h"
#include "spell.h"

const struct verb verbs[] = {
#define X(name, line) {#name, line, verb_##name##_help, verb_##name},
    VERBS_OFFLINE(X) VERBS_ONLINE(X)
#undef X
        {0},
};

const struct verb *verbs_find(const char *name)
{
	const char *names[sizeof(verbs) / sizeof(verbs[0])];
	const char *nearest;
	size_t n = 0;

	for (const struct verb *v = verbs; v->name; v++) {
		if (strcmp(v->name, name) == 0)
			return v;
		names[n++] = v->name;
	}
	nearest = spell_nearest(name, names, n);
	if (nearest)
		out_error("unknown verb '%s'; did you mean '%s'?", name, nearest);
	else
		out_error("unknown verb '%s'; 'yoke help' lists the verbs", name);
	return NULL;
}

int verbs_run(int argc, char **argv)
{
	const struct verb *v = verbs_find(argv[0]);

	if (!v)
		return EXIT_USE;
	for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++) {
		if (strcmp(argv[i], "--help") != 0)
			continue;
		out_string(v->help);
		return EXIT_DONE;
	}
	return v->run(argc, argv);
}
