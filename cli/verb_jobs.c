#include "ask.h"
#include "out.h"
#include "table.h"
#include "verbs.h"

const char verb_jobs_help[] =
    "yoke jobs [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "List every pair that has come in: released or held, the verdict on its wait codes, for which\n"
    "machine's folder, since when, by whom. Below a pair that is held stands why.\n"
    "\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke jobs\n";

static void add_row(struct table *table, const json_t *pair)
{
	struct text name = {0}, since = {0};

	ask_put_pair(&name, pair);
	ask_put_time(&since, ask_string(pair, "since"), false);
	table_text(table, &name);
	table_cell(table, ask_string(pair, "state"));
	table_cell(table, ask_string(pair, "verdict"));
	table_cell(table, *ask_string(pair, "machine") ? ask_string(pair, "machine") : "any");
	table_text(table, &since);
	table_cell(table, ask_string(pair, "by"));
	if (*ask_string(pair, "text"))
		table_note(table, ask_string(pair, "text"));
}

int verb_jobs(int argc, char **argv)
{
	static const char *const heads[] = {"PAIR", "STATE", "VERDICT", "FOR", "SINCE", "BY"};
	struct args_option options[] = {ASK_OPTIONS};
	struct args args;
	struct table *table;
	const json_t *pair;
	json_t *o;
	size_t i;
	int status = ask_args(argc, argv, options, ASK_OWN, 0, 0, &args);

	if (status)
		return status;
	o = ask("/v1/jobs", NULL, &status);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	table = table_new(heads, sizeof(heads) / sizeof(heads[0]));
	table_keep(table, 4);
	json_array_foreach(json_object_get(o, "jobs"), i, pair) add_row(table, pair);
	table_out(table, "no program has come in yet");
	json_decref(o);
	return status;
}
