#include "ask.h"
#include "order.h"
#include "out.h"
#include "verbs.h"

const char verb_orders_help[] =
    "yoke orders [MACHINE] [--all] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "List the orders that wait or are under way, for one machine or all.\n"
    "\n"
    "  --all            those that have ended too\n"
    "  --json           the orders as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Example:\n"
    "  yoke orders LATHE-1\n";

int verb_orders(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS, {.name = "all"}};
	struct text path = {0};
	struct args args;
	json_t *o;
	int status = ask_args(argc, argv, options, ASK_OWN + 1, 0, 1, &args);

	if (status)
		return status;
	text_puts(&path, "/v1/orders");
	ask_query(&path, "machine", args.n ? args.rest[0] : NULL);
	ask_query(&path, "open", options[ASK_OWN].set ? "no" : NULL);
	o = ask(path.failed ? NULL : path.s, NULL, &status);
	text_free(&path);
	if (!o)
		return status;
	if (options[ASK_JSON].set) {
		out_json(o);
		return status;
	}
	order_table(json_object_get(o, "orders"), "no order waits and none is under way");
	json_decref(o);
	return status;
}
