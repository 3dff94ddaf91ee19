/* A verb's arguments: options in any place, in the forms --name, --name=value and --name value; --
 * ends them. */
#ifndef ARGS_H
#define ARGS_H

#include <stdbool.h>
#include <stddef.h>

struct args_option {
	const char *name; /* without the dashes */
	bool takes;       /* it takes a value */
	bool set;         /* result */
	const char
	    *value; /* result, NULL when not set or when it takes none; the last of several */
	/* For an option that may stand several times: where its values go, how many fit there, and,
	   as a result, how many came. NULL: it may stand once. */
	const char **values;
	size_t room, n;
};

struct args {
	char **rest; /* what is no option, in order; points into argv, which is reordered */
	size_t n;
};

/*
 * Read the arguments of argv[0]. 0, or EXIT_USE when an option is unknown, stands too often, or
 * lacks its value: that was said on stderr.
 */
int args_read(int argc, char **argv, struct args_option *options, size_t n, struct args *out);

/* True and *value set when s is a whole number from low to high; else it is said on stderr for
 * --name. */
bool args_number(
    const char *name, const char *s, unsigned long low, unsigned long high, unsigned long *value);

#endif
