#include "args.h"
#include "exit.h"
#include "ladder_json.h"
#include "new_file.h"
#include "out.h"
#include "pair_files.h"
#include "verbs.h"
#include "yoke/timeline.h"

const char verb_ladder_help[] =
    "yoke ladder UPPER LOWER [MORE...] [--machine FILE] [--with FILE]... [--ascii] [--width N] "
    "[--svg FILE] [--times] [--json]\n"
    "yoke ladder ONEFILE --machine FILE [...]\n"
    "\n"
    "Draw the channels as life lines and each meeting at a wait code as a rung between them. The "
    "rung at\n"
    "which a channel would stand for ever is marked. Between two rungs stands what each channel "
    "does there:\n"
    "tools, operation, spindle, how long it works and how long it then waits, and what makes the "
    "cycle\n"
    "as long as it is. Times are an estimate from programmed feeds and speeds and the machine's "
    "rapid rates.\n"
    "\n"
    "  --machine FILE   the machine's configuration (machines/NAME.conf)\n"
    "  --with FILE      a file of subprograms that the programs call; may stand several times\n"
    "  --ascii          no character beyond ASCII\n"
    "  --width N        columns to use, 60 to 500\n"
    "  --svg FILE       write it as a picture for print too; FILE must not exist yet\n"
    "  --times          the times as a table instead: each part, its waiting, and what it costs "
    "the "
    "cycle\n"
    "  --json           verdict, rungs and times as one JSON object\n"
    "\n"
    "Exit status as for 'yoke check'.\n"
    "\n"
    "Example:\n"
    "  yoke ladder J4417-C.upper.nc J4417-C.lower.nc --width 100\n";

enum { MACHINE, ASCII, WIDTH, JSON, WITH, SVG, TIMES, OPTIONS };

/* The picture into a file of its own. */
static int write_svg(
    const char *path, const struct pair_report *report, const struct timeline *timeline)
{
	struct text t = {0};

	ladder_svg(report, timeline, &t);
	return new_file_write(path, &t);
}

static void times(const struct timeline *timeline, unsigned width, struct text *out)
{
	if (timeline)
		timeline_print(timeline, width, out);
	else
		out->failed = true;
}

int verb_ladder(int argc, char **argv)
{
	const char *with[PAIR_FILES_SISTERS_MAX];
	struct args_option options[OPTIONS] = {[MACHINE] = {.name = "machine", .takes = true},
	    [ASCII] = {.name = "ascii"},
	    [WIDTH] = {.name = "width", .takes = true},
	    [JSON] = {.name = "json"},
	    [WITH] = {.name = "with",
	        .takes = true,
	        .values = with,
	        .room = PAIR_FILES_SISTERS_MAX},
	    [SVG] = {.name = "svg", .takes = true},
	    [TIMES] = {.name = "times"}};
	struct args args;
	struct ladder_style style;
	struct pair_files *p;
	struct timeline *timeline;
	struct text drawn = {0};
	unsigned long width = out_width();
	int status;

	if (args_read(argc, argv, options, OPTIONS, &args) != 0)
		return EXIT_USE;
	if (options[WIDTH].set && !args_number("width", options[WIDTH].value, 60, 500, &width))
		return EXIT_USE;
	p = pair_files_read(&(struct pair_files_ask){
	    argv[0], options[MACHINE].value, with, options[WITH].n, args.rest, args.n, true});
	if (!p)
		return EXIT_USE;
	status = pair_files_status(p);
	style.width = width < 60 ? 60 : width > 500 ? 500 : (unsigned)width;
	style.ascii = options[ASCII].set || (out_ascii() && !options[JSON].set);
	timeline = timeline_new(p->report);
	if (options[TIMES].set && !options[JSON].set)
		times(timeline, style.width, &drawn);
	else
		ladder_draw(p->report, timeline, &style, &drawn);
	if (options[JSON].set) {
		out_json(drawn.failed
		             ? NULL
		             : ladder_json(&p->machine.profile, p->report, timeline, &drawn));
		text_free(&drawn);
	} else {
		out_text(&drawn);
	}
	if (options[SVG].set && write_svg(options[SVG].value, p->report, timeline) != 0)
		status = EXIT_USE;
	timeline_free(timeline);
	pair_files_free(p);
	return status;
}
