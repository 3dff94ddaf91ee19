#include <stdio.h>
#include "args.h"
#include "exit.h"
#include "out.h"
#include "pair_files.h"
#include "restart_json.h"
#include "verbs.h"

const char verb_restart_help[] =
    "yoke restart UPPER LOWER [MORE...] [--near CHANNEL:N430]... [--machine FILE] [--with FILE]... "
    "[--width N] "
    "[--json]\n"
    "\n"
    "Find the blocks at which all channels can be picked up together in the middle of their "
    "programs: those\n"
    "in front of which the same meetings lie. For each, what must be in force before it: tool, "
    "offsets,\n"
    "plane, units, feed, spindle, coolant, compensation, and where the axes stand.\n"
    "\n"
    "  --near CHANNEL:N430   the nearest places that match that block instead of all; "
    "CHANNEL:120 names a\n"
    "                        line. Once for each channel: two blocks that do not belong together "
    "are named\n"
    "                        dangerous\n"
    "  --machine FILE        the machine's configuration (machines/NAME.conf)\n"
    "  --with FILE           a file of subprograms that the programs call; may stand several times\n"
    "  --width N             columns to use, 60 to 500 (default 80)\n"
    "  --json                everything as one JSON object\n"
    "\n"
    "Exit status as for 'yoke check'; 1 also when the blocks do not belong together, 2 also when "
    "one is not\n"
    "executed. Many controls ignore wait codes while they search for a block: after a start in the "
    "middle\n"
    "of a program all channels must be placed at matching wait points by hand. Single block, rapid "
    "override\n"
    "low, guard closed, hand at feed hold.\n"
    "\n"
    "Example:\n"
    "  yoke restart J4417-C.upper.nc J4417-C.lower.nc --near upper:N430\n";

enum { NEAR, MACHINE, WITH, WIDTH, JSON, OPTIONS };

/* False when one cannot be read, or a channel is named twice: that was said. */
static bool read_asks(const struct profile *profile, const struct args_option *near,
    struct restart_ask asks[YOKE_CHANNELS_MAX])
{
	for (size_t i = 0; i < near->n; i++) {
		struct text why = {0};

		if (!restart_ask_read(profile, near->values[i], &asks[i], &why)) {
			out_error("restart: --near %s", why.s ? why.s : "cannot be read");
			text_free(&why);
			return false;
		}
		for (size_t k = 0; k < i; k++) {
			if (asks[k].channel != asks[i].channel)
				continue;
			out_error("restart: --near names %s twice; name one block of each channel",
			    profile->channel[asks[i].channel].name);
			return false;
		}
	}
	return true;
}

static int status_of(const struct restart *r, const struct pair_files *p)
{
	for (size_t i = 0; i < r->nears; i++)
		if (!r->near[i].found)
			return EXIT_USE;
	return r->dangerous ? EXIT_REFUSED : pair_files_status(p);
}

static int show(const struct args_option *options, const struct pair_files *p, unsigned width)
{
	struct restart_ask asks[YOKE_CHANNELS_MAX];
	struct restart *r;
	struct text t = {0};
	int status;

	if (!read_asks(&p->machine.profile, &options[NEAR], asks))
		return EXIT_USE;
	r = restart_new(p->report, asks, options[NEAR].n);
	if (!r) {
		out_error("restart: out of memory");
		return EXIT_USE;
	}
	status = status_of(r, p);
	if (options[JSON].set) {
		out_json(restart_json(r));
	} else {
		restart_print(r, width, &t);
		out_text(&t);
	}
	restart_free(r);
	return status;
}

int verb_restart(int argc, char **argv)
{
	const char *near[YOKE_CHANNELS_MAX];
	const char *with[PAIR_FILES_SISTERS_MAX];
	struct args_option options[OPTIONS] = {[WITH] = {.name = "with",
	                                           .takes = true,
	                                           .values = with,
	                                           .room = PAIR_FILES_SISTERS_MAX},
	    [NEAR] = {.name = "near", .takes = true, .values = near, .room = YOKE_CHANNELS_MAX},
	    [MACHINE] = {.name = "machine", .takes = true},
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
