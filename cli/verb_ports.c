#include <limits.h>
#include <stdio.h>
#include <string.h>
#include "args.h"
#include "exit.h"
#include "out.h"
#include "port_holder.h"
#include "port_list.h"
#include "table.h"
#include "verbs.h"

const char verb_ports_help[] =
    "yoke ports [--json] [--root DIR]\n"
    "\n"
    "List the serial ports of this computer, with the address to write into a machine's file:\n"
    "[line] address = ... It stays the same when the computer starts again or another adapter is\n"
    "plugged in. Nothing is opened and nothing is sent. Who uses a port is told as far as you may\n"
    "see other people's programs; root sees all.\n"
    "\n"
    "  --json           as one JSON array\n"
    "  --root DIR       read DIR/sys, DIR/proc and DIR/run/lock instead, as of a container's host\n"
    "\n"
    "Example:\n"
    "  yoke ports\n";

enum { JSON, ROOT, OPTIONS };

static const char *or_empty(const struct text *t)
{
	return t->s ? t->s : "";
}

static json_t *as_json(const struct port *p, const struct text *address, const struct text *who)
{
	return json_pack("{s:s, s:s, s:s, s:s, s:s, s:s, s:s, s:s}", "port", p->name, "address",
	    or_empty(address), "place", p->path, "adapter", p->title, "vendor", p->vendor,
	    "product", p->product, "serial", p->serial, "used_by", or_empty(who));
}

static void add_row(
    struct table *table, const struct port *p, const struct text *address, const struct text *who)
{
	struct text adapter = {0};

	text_puts(&adapter, p->title);
	if (p->vendor[0])
		text_printf(&adapter, " %s:%s", p->vendor, p->product);
	table_cell(table, p->name);
	table_cell(table, or_empty(address));
	table_text(table, &adapter);
	table_cell(table, p->path);
	table_cell(table, or_empty(who));
	if (!address->n)
		table_note(table,
		    "no address: another port has the same serial number and place; plug one of "
		    "the two in elsewhere");
}

static void show(const struct port_list *l, const char *proc, const char *lock, bool json)
{
	static const char *const heads[] = {"PORT", "ADDRESS", "ADAPTER", "PLACE", "USED BY"};
	struct table *table = json ? NULL : table_new(heads, sizeof heads / sizeof *heads);
	json_t *all = json ? json_array() : NULL;

	table_keep(table, 1);
	for (size_t i = 0; i < l->n; i++) {
		struct text address = {0}, who = {0};
		char device[64];

		snprintf(device, sizeof device, "/dev/%s", l->v[i].name);
		port_list_identity(l, i, &address);
		if (!port_holder_find(proc, device, &who))
			port_holder_lock(lock, l->v[i].name, &who);
		if (json)
			json_array_append_new(all, as_json(&l->v[i], &address, &who));
		else
			add_row(table, &l->v[i], &address, &who);
		text_free(&address);
		text_free(&who);
	}
	if (json)
		out_json(all);
	else
		table_out(table, "this computer has no serial port");
}

int verb_ports(int argc, char **argv)
{
	struct args_option options[OPTIONS] = {
	    [JSON] = {.name = "json"}, [ROOT] = {.name = "root", .takes = true}};
	char sys[PATH_MAX], proc[PATH_MAX], lock[PATH_MAX];
	struct port_list l;
	struct args args;
	const char *root;
	int rc;

	if (args_read(argc, argv, options, OPTIONS, &args))
		return EXIT_USE;
	if (args.n) {
		out_error("ports: '%s' is too much; it takes no name", args.rest[0]);
		return EXIT_USE;
	}
	root = options[ROOT].value ? options[ROOT].value : "";
	if (snprintf(sys, sizeof sys, "%s/sys", root) >= (int)sizeof sys ||
	    snprintf(proc, sizeof proc, "%s/proc", root) >= (int)sizeof proc ||
	    snprintf(lock, sizeof lock, "%s/run/lock", root) >= (int)sizeof lock) {
		out_error("ports: the path after --root is too long");
		return EXIT_USE;
	}
	rc = port_list_read(sys, &l);
	if (rc)
		out_error(
		    "ports: the ports cannot be read from %s/class/tty: %s", sys, strerror(-rc));
	else
		show(&l, proc, lock, options[JSON].set);
	port_list_free(&l);
	return rc ? EXIT_USE : EXIT_DONE;
}
