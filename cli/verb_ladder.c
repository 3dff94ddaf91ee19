#include <string.h>
#include "args.h"
#include "exit.h"
#include "out.h"
#include "pair_files.h"
#include "verbs.h"

const char verb_ladder_help[] =
    "yoke ladder UPPER LOWER [MORE...] [--machine FILE] [--with FILE]... [--ascii] [--width N] "
    "[--json]\n"
    "yoke ladder ONEFILE --machine FILE [...]\n"
    "\n"
    "Draw the channels as life lines and each meeting at a wait code as a rung between them. The "
    "rung at\n"
    "which a channel would stand for ever is marked.\n"
    "\n"
    "  --machine FILE   the machine's configuration (machines/NAME.conf)\n"
    "  --with FILE      a file of subprograms that the programs call; may stand several times\n"
    "  --ascii          no character beyond ASCII\n"
    "  --width N        columns to use, 60 to 500\n"
    "  --json           the verdict and the ladder's lines as one JSON object\n"
    "\n"
    "Exit status as for 'yoke check'.\n"
    "\n"
    "Example:\n"
    "  yoke ladder J4417-C.upper.nc J4417-C.lower.nc --width 100\n";

/* {"verdict": string, "job": string, "revision": string, "meetings": n, "ladder": [line...]} */
static json_t *as_json(const struct pair_files *p, const struct text *drawn)
{
	json_t *lines = json_array();
	const char *s = drawn->s;
	const char *end;

	for (; lines && s && *s; s = end + 1) {
		end = strchrnul(s, '\n');
		json_array_append_new(lines, json_stringn(s, (size_t)(end - s)));
		if (*end == '\0')
			break;
	}
	return json_pack("{s:s, s:o, s:o, s:I, s:o}", "verdict",
	    pair_verdict_name(pair_verdict(p->report)), "job",
	    report_json_string(pair_job(p->report)), "revision",
	    report_json_string(pair_revision(p->report)), "meetings",
	    (json_int_t)pair_meetings(p->report), "ladder", lines);
}

int verb_ladder(int argc, char **argv)
{
	const char *with[PAIR_FILES_SISTERS_MAX];
	struct args_option options[] = {{.name = "machine", .takes = true}, {.name = "ascii"},
	    {.name = "width", .takes = true}, {.name = "json"},
	    {.name = "with", .takes = true, .values = with, .room = PAIR_FILES_SISTERS_MAX}};
	struct args args;
	struct ladder_style style;
	struct pair_files *p;
	struct text drawn = {0};
	unsigned long width = out_width();
	int status;

	if (args_read(argc, argv, options, 5, &args) != 0)
		return EXIT_USE;
	if (options[2].set && !args_number("width", options[2].value, 60, 500, &width))
		return EXIT_USE;
	p = pair_files_read(&(struct pair_files_ask){
	    argv[0], options[0].value, with, options[4].n, args.rest, args.n});
	if (!p)
		return EXIT_USE;
	status = pair_files_status(p);
	style.width = width < 60 ? 60 : width > 500 ? 500 : (unsigned)width;
	style.ascii = options[1].set || (out_ascii() && !options[3].set);
	ladder_draw(p->report, NULL, &style, &drawn);
	if (options[3].set) {
		out_json(drawn.failed ? NULL : as_json(p, &drawn));
		text_free(&drawn);
	} else {
		out_text(&drawn);
	}
	pair_files_free(p);
	return status;
}
