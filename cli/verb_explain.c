#include <stdio.h>
#include <string.h>
#include "args.h"
#include "exit.h"
#include "out.h"
#include "spell.h"
#include "verbs.h"
#include "yoke/finding.h"
#include "yoke/profile.h"

const char verb_explain_help[] =
    "yoke explain [NAME...] [--json]\n"
    "\n"
    "Say what a finding means, why it matters and what to do. Without NAME: list all of them\n"
    "with their weight when a machine's profile does not set another ([weights] NAME = off, "
    "note,\n"
    "warn or refuse).\n"
    "\n"
    "Example:\n"
    "  yoke explain wait-missing\n";

/* Length of the first sentence without its full stop or colon, which stands outside of parentheses.
 */
static size_t sentence(const char *s)
{
	size_t n = 0;
	int depth = 0;

	for (; s[n]; n++) {
		depth += s[n] == '(' ? 1 : s[n] == ')' ? -1 : 0;
		if (depth <= 0 && (s[n] == '.' || s[n] == ':') && (!s[n + 1] || s[n + 1] == ' '))
			return n;
	}
	return n;
}

static void list(void)
{
	struct text t = {0};

	for (int id = 0; id < FINDING_COUNT; id++) {
		const char *why = finding_why((enum finding_id)id);

		text_printf(&t, "%-18s %-6s %.*s.\n", finding_name((enum finding_id)id),
		    finding_weight_name(finding_weight((enum finding_id)id)), (int)sentence(why),
		    why);
	}
	out_text(&t);
}

/* Whatever a profile says. */
static bool is_absolute(enum finding_id id)
{
	static struct profile p;

	if (!p.channels)
		profile_defaults(&p);
	return p.absolute[id];
}

static json_t *as_json(enum finding_id id)
{
	return json_pack("{s:s, s:s, s:s, s:b}", "name", finding_name(id), "weight",
	    finding_weight_name(finding_weight(id)), "why", finding_why(id), "absolute",
	    (int)is_absolute(id));
}

static void explain(enum finding_id id)
{
	struct text t = {0};

	text_printf(&t, "%s (%s)\n", finding_name(id), finding_weight_name(finding_weight(id)));
	out_text(&t);
	out_prose(finding_why(id), 2);
	if (is_absolute(id))
		out_prose("It is absolute: no profile can give it less weight, and nobody can accept a "
		          "pair despite it.",
		    2);
}

static void unknown(const char *name)
{
	const char *names[FINDING_COUNT];
	const char *nearest;

	for (int id = 0; id < FINDING_COUNT; id++)
		names[id] = finding_name((enum finding_id)id);
	nearest = spell_nearest(name, names, FINDING_COUNT);
	if (nearest)
		out_error("explain: no finding is called '%s'; did you mean '%s'?", name, nearest);
	else
		out_error("explain: no finding is called '%s'; 'yoke explain' lists all", name);
}

int verb_explain(int argc, char **argv)
{
	struct args_option options[] = {{.name = "json"}};
	struct args args;
	json_t *all = NULL;
	int status = EXIT_DONE;

	if (args_read(argc, argv, options, 1, &args) != 0)
		return EXIT_USE;
	if (options[0].set)
		all = json_array();
	for (int id = 0; all && args.n == 0 && id < FINDING_COUNT; id++)
		json_array_append_new(all, as_json((enum finding_id)id));
	if (!options[0].set && args.n == 0)
		list();
	for (size_t i = 0; i < args.n; i++) {
		enum finding_id id = finding_by_name(args.rest[i]);

		if (id == FINDING_COUNT) {
			unknown(args.rest[i]);
			status = EXIT_USE;
		} else if (options[0].set) {
			json_array_append_new(all, as_json(id));
		} else {
			explain(id);
		}
	}
	if (options[0].set)
		out_json(all);
	return status;
}
