#include "args.h"

#include <stdlib.h>
#include <string.h>
#include "exit.h"
#include "out.h"
#include "spell.h"

enum { OPTIONS_MAX = 32 };

static struct args_option *find(
    struct args_option *options, size_t n, const char *name, size_t length)
{
	for (size_t i = 0; i < n; i++)
		if (strlen(options[i].name) == length && memcmp(options[i].name, name, length) == 0)
			return &options[i];
	return NULL;
}

static int unknown(
    const char *verb, const char *argument, const struct args_option *options, size_t n)
{
	const char *names[OPTIONS_MAX];
	const char *nearest;
	size_t dashes = strspn(argument, "-");

	for (size_t i = 0; i < n && i < OPTIONS_MAX; i++)
		names[i] = options[i].name;
	nearest = spell_nearest(argument + dashes, names, n < OPTIONS_MAX ? n : OPTIONS_MAX);
	if (nearest)
		out_error("%s: unknown option '%s'; did you mean '--%s'?", verb, argument, nearest);
	else
		out_error("%s: unknown option '%s'; 'yoke %s --help' lists the options", verb,
		    argument, verb);
	return EXIT_USE;
}

/* The option at argv[i]; *i is moved past its value. */
static int read_option(int argc, char **argv, int *i, struct args_option *options, size_t n)
{
	const char *name = argv[*i] + 2;
	const char *equals = strchr(name, '=');
	size_t length = equals ? (size_t)(equals - name) : strlen(name);
	struct args_option *o =
	    strncmp(argv[*i], "--", 2) == 0 ? find(options, n, name, length) : NULL;

	if (!o)
		return unknown(argv[0], argv[*i], options, n);
	if (equals && !o->takes) {
		out_error("%s: option '--%s' takes no value", argv[0], o->name);
		return EXIT_USE;
	}
	if (o->set && !o->values) {
		out_error("%s: option '--%s' stands twice; give it once", argv[0], o->name);
		return EXIT_USE;
	}
	if (o->values && o->n == o->room) {
		out_error(
		    "%s: option '--%s' stands more than %zu times", argv[0], o->name, o->room);
		return EXIT_USE;
	}
	o->set = true;
	if (!o->takes)
		return 0;
	if (!equals && *i + 1 == argc) {
		out_error("%s: option '--%s' needs a value", argv[0], o->name);
		return EXIT_USE;
	}
	o->value = equals ? equals + 1 : argv[++*i];
	if (o->values)
		o->values[o->n++] = o->value;
	return 0;
}

int args_read(int argc, char **argv, struct args_option *options, size_t n, struct args *out)
{
	bool ended = false;

	out->rest = argv + 1;
	out->n = 0;
	for (int i = 1; i < argc; i++) {
		if (!ended && strcmp(argv[i], "--") == 0)
			ended = true;
		else if (ended || argv[i][0] != '-' || argv[i][1] == '\0')
			out->rest[out->n++] = argv[i];
		else if (read_option(argc, argv, &i, options, n) != 0)
			return EXIT_USE;
	}
	return 0;
}

bool args_number(
    const char *name, const char *s, unsigned long low, unsigned long high, unsigned long *value)
{
	size_t digits = strspn(s, "0123456789");

	*value = digits > 0 && digits < 19 && s[digits] == '\0' ? strtoul(s, NULL, 10) : high + 1;
	if (*value >= low && *value <= high)
		return true;
	out_error("--%s '%s': a whole number from %lu to %lu is allowed", name, s, low, high);
	return false;
}
