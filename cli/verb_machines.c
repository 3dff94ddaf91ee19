#include <string.h>
#include "ask.h"
#include "machine.h"
#include "order.h"
#include "out.h"
#include "table.h"
#include "verbs.h"

const char verb_machines_help[] =
    "yoke machines [NAME] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "List the machines: what each holds, whether it was read back and marked as proven, and what\n"
    "must not be overlooked, marked with ! or !!. With NAME: everything about one machine.\n"
    "\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke machines LATHE-1\n";

static const char *state(const json_t *m)
{
	const char *content = ask_string(m, "content");

	if (strcmp(content, "split") == 0)
		return "SPLIT";
	if (strcmp(content, "unknown") == 0)
		return "UNKNOWN";
	return content;
}

static bool alarming(const json_t *m)
{
	return strcmp(state(m), "SPLIT") == 0 || strcmp(state(m), "UNKNOWN") == 0;
}

static void add_note(void *ctx, const char *s)
{
	table_note(ctx, s);
}

static void add_row(struct table *table, const json_t *m)
{
	bool loaded = strcmp(ask_string(m, "content"), "loaded") == 0;
	struct text name = {0}, pair = {0}, since = {0};

	text_puts(&name, alarming(m) ? "!! " : "");
	text_puts(&name, ask_string(m, "name"));
	if (loaded)
		ask_put_pair(&pair, m);
	ask_put_time(&since, ask_string(m, "since"), false);
	table_text(table, &name);
	table_text(table, &pair);
	table_cell(table, state(m));
	table_cell(table, !loaded ? "" : ask_true(m, "read_back") ? "yes" : "no");
	table_cell(table, !loaded ? "" : ask_true(m, "proven") ? "yes" : "no");
	table_text(table, &since);
	table_cell(table, ask_string(m, "by"));
	machine_notes(m, add_note, table);
}

static void list(const json_t *machines, const char *caution)
{
	static const char *const heads[] = {
	    "MACHINE", "HOLDS", "STATE", "READ BACK", "PROVEN", "SINCE", "BY"};
	struct table *table = table_new(heads, sizeof(heads) / sizeof(heads[0]));
	const json_t *m;
	size_t i;

	if (*caution) {
		struct text t = {0};

		text_puts(&t, "!! ");
		ask_put(&t, caution);
		text_putc(&t, '\n');
		out_text(&t);
	}
	table_keep(table, 5);
	json_array_foreach(machines, i, m) add_row(table, m);
	table_out(table, "no machine is set up: each has a file machines/NAME.conf");
}

static void put_since(struct text *t, const json_t *o)
{
	if (*ask_string(o, "since")) {
		text_puts(t, ", since ");
		ask_put_time(t, ask_string(o, "since"), true);
	}
	if (*ask_string(o, "by")) {
		text_puts(t, " by ");
		ask_put_string(t, o, "by");
	}
	text_putc(t, '\n');
}

static void show(const json_t *m)
{
	const json_t *good = json_object_get(m, "last_good"),
	             *orders = json_object_get(m, "orders");
	struct text t = {0};

	machine_say(&t, m);
	out_text(&t);
	machine_print_notes(m);
	text_puts(&t, "title: ");
	ask_put_string(&t, m, "title");
	text_puts(&t, "\nline: ");
	ask_put_string(&t, m, "line");
	text_puts(&t, "\nholds: ");
	ask_put(&t, state(m));
	put_since(&t, m);
	machine_parts(&t, m);
	if (*ask_string(m, "text") && !alarming(m) && strcmp(ask_string(m, "text"), "done") != 0) {
		text_puts(&t, "last word: ");
		ask_put_string(&t, m, "text");
		text_putc(&t, '\n');
	}
	text_puts(&t, "last good pair: ");
	if (json_is_object(good)) {
		ask_put_pair(&t, good);
		put_since(&t, good);
		machine_parts(&t, good);
	} else {
		text_puts(&t, "none was marked with `yoke prove` yet\n");
	}
	out_text(&t);
	order_table(orders, "no order waits");
}

int verb_machines(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct args args;
	json_t *o;
	int status = ask_args(argc, argv, options, ASK_OWN, 0, 1, &args);

	if (status)
		return status;
	o = args.n ? ask_about("/v1/machines/%s", args.rest[0], NULL, &status)
	           : ask("/v1/machines", NULL, &status);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	if (args.n)
		show(o);
	else
		list(json_object_get(o, "machines"), ask_string(o, "caution"));
	json_decref(o);
	return status;
}
