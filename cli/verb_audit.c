#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "archive_check.h"
#include "ask.h"
#include "audit_proof.h"
#include "audit_report.h"
#include "audit_verify.h"
#include "csv.h"
#include "event_line.h"
#include "exit.h"
#include "moment.h"
#include "out.h"
#include "table.h"
#include "verbs.h"
#include "yoke/event.h"

const char verb_audit_help[] =
    "yoke audit [--job J] [--machine M] [--who W] [--kind K] [--text X] [--from T]\n"
    "           [--to T] [--limit N] [--json | --csv] [--home DIR] [--socket PATH]\n"
    "yoke audit verify [--no-programs] [--against FILE] [--key KEY] [--json] [--home DIR]\n"
    "           [--socket PATH]\n"
    "yoke audit prove SEQ [--out FILE] [--home DIR] [--socket PATH]\n"
    "yoke audit check-proof FILE --key KEY\n"
    "yoke audit check-archive FILE --key KEY [--json | --program SHA256 [--out FILE]]\n"
    "yoke audit report JOB [--html] [--machine FILE] [--limit N] [--out FILE] [--home DIR]\n"
    "           [--socket PATH]\n"
    "\n"
    "List who did what, when, to which machine and pair, newest first. Times are local.\n"
    "\n"
    "  --who W          whose name holds W\n"
    "  --kind K         one kind of event: arrived, held, released, queued, carried, proven, ...\n"
    "  --text X         that say X somewhere, in words or in their details; case does not count\n"
    "  --from T, --to T from a day or moment on; up to a moment, or to the end of a day or year:\n"
    "                   YYYY, YYYY-MM-DD, YYYY-MM-DDTHH:MM or YYYY-MM-DDTHH:MM:SS\n"
    "  --limit N        at most N entries, 1 to 100000 (default 200)\n"
    "  --json           one JSON object a line, with everything that the vault holds of it\n"
    "  --csv            a header and one record for each entry (RFC 4180), times in UTC; a field\n"
    "                   that a spreadsheet would take for a formula gets ' before "
    "it\n" ASK_OPTIONS_HELP "\n"
    "verify recomputes the chain of all entries and the tree over them, checks every checkpoint's\n"
    "signature, replays the entries and compares the state with the result, and reads every program\n"
    "(not with --no-programs).\n"
    "\n"
    "  --against FILE   compare with the checkpoints in FILE, their second place (checkpoint_to), a\n"
    "                   log with them too: a trail that was cut or written anew is found; - reads\n"
    "                   them from the standard input\n"
    "  --key KEY        trust only this public key, as `yoke keys` lists it, or those in this file\n"
    "\n"
    "prove writes the proof that an entry is in the trail, for somebody without the vault.\n"
    "check-proof checks it there and shows the entry; it needs the public key and no service.\n"
    "\n"
    "  --out FILE       into this file, which must not be there yet\n"
    "\n"
    "check-archive checks a file of `yoke archive`, without a service: every entry, the tree over them,\n"
    "the checkpoint's signature, every program. With --json its entries follow, one a line.\n"
    "\n"
    "  --program SHA256 write this program of it, to the terminal or into --out FILE\n"
    "\n"
    "report writes one document about a job for an auditor: all revisions and contents, who dropped,\n"
    "decided, carried and proved them, what differs between them by meaning, and what ties the paper\n"
    "to the trail.\n"
    "\n"
    "  --html           as one page to print, instead of text\n"
    "  --machine FILE   the machine's configuration, by which programs are compared; else the shop's\n"
    "  --limit N        at most N changes of each comparison (default 100, 0: all); all are counted\n"
    "  --out FILE       into this file, which must not be there yet\n"
    "\n"
    "Exit status: 0 done, or verified good; 1 refused, or not good; 2 wrong use; 4 the service\n"
    "cannot be reached.\n"
    "\n"
    "Example:\n"
    "  yoke audit --machine LATHE-1 --from 2031-04-01 --csv > april.csv\n"
    "  yoke audit report J4417 --html --out J4417.html\n";

enum {
	JOB = ASK_OWN,
	MACHINE,
	WHO,
	KIND,
	TEXT,
	FROM,
	TO,
	LIMIT,
	CSV,
	NO_PROGRAMS,
	AGAINST,
	KEY,
	OUT,
	HTML,
	PROGRAM,
	OPTIONS
};

static int add_moment(struct text *path, const struct args_option *o, bool end)
{
	long long seconds;
	char digits[24];

	if (!o->set)
		return 0;
	if (moment_read(o->value, end, &seconds)) {
		out_error("audit: --%s '%s' is no moment: " MOMENT_FORMS,
		    o->name, o->value);
		return EXIT_USE;
	}
	snprintf(digits, sizeof(digits), "%lld", seconds);
	ask_query(path, o->name, digits);
	return 0;
}

static int add_query(struct text *path, const struct args_option *options, unsigned long *limit)
{
	char digits[24];

	*limit = 200;
	if (options[LIMIT].set && !args_number("limit", options[LIMIT].value, 1, 100000, limit))
		return EXIT_USE;
	if (options[KIND].set && event_by_name(options[KIND].value) == EVENT_COUNT) {
		out_error("audit: there is no kind of event '%s'", options[KIND].value);
		return EXIT_USE;
	}
	for (int i = JOB; i <= TEXT; i++)
		ask_query(path, options[i].name, options[i].value);
	if (add_moment(path, &options[FROM], false) || add_moment(path, &options[TO], true))
		return EXIT_USE;
	snprintf(digits, sizeof(digits), "%lu", *limit);
	ask_query(path, "limit", digits);
	return 0;
}

static void print_csv(const json_t *events)
{
	static const char *const text[] = {
	    "time", "kind", "who", "from", "machine", "job", "revision"};
	struct text t = {0};
	const json_t *e;
	size_t i;
	char number[24];

	text_puts(
	    &t, "seq,time,kind,who,from,machine,job,revision,order,outcome,text,parts,hash\r\n");
	json_array_foreach(events, i, e)
	{
		struct text parts = {0};

		snprintf(number, sizeof(number), "%lld", (long long)ask_number(e, "seq"));
		csv_field(&t, number, true);
		for (size_t k = 0; k < sizeof(text) / sizeof(text[0]); k++)
			csv_field(&t, ask_string(e, text[k]), false);
		snprintf(number, sizeof(number), "%lld", (long long)ask_number(e, "order"));
		csv_field(&t, ask_number(e, "order") ? number : "", false);
		csv_field(&t, ask_string(e, "outcome"), false);
		csv_field(&t, ask_string(e, "text"), false);
		event_line_parts(&parts, e, true);
		t.failed |= parts.failed;
		csv_field(&t, parts.s ? parts.s : "", false);
		text_free(&parts);
		csv_field(&t, ask_string(e, "hash"), false);
		csv_end(&t);
	}
	out_text(&t);
}

static void add_row(struct table *table, const json_t *e)
{
	struct text number = {0}, time = {0}, pair = {0}, note = {0};

	text_printf(&number, "%lld", (long long)ask_number(e, "seq"));
	ask_put_time(&time, ask_string(e, "time"), true);
	if (*ask_string(e, "job"))
		ask_put_pair(&pair, e);
	table_text(table, &number);
	table_text(table, &time);
	table_cell(table, ask_string(e, "kind"));
	table_cell(table, ask_string(e, "machine"));
	table_text(table, &pair);
	table_cell(table, ask_string(e, "who"));
	if (ask_number(e, "order"))
		text_printf(&note, "order %lld ", (long long)ask_number(e, "order"));
	text_puts(&note, ask_string(e, "outcome"));
	if (strcmp(ask_string(e, "text"), ask_string(e, "outcome")) != 0) {
		text_puts(&note, *ask_string(e, "outcome") && *ask_string(e, "text") ? ": " : "");
		text_puts(&note, ask_string(e, "text"));
	}
	if (note.n)
		table_note(table, note.s);
	text_free(&note);
	event_line_parts(&note, e, false);
	if (note.n)
		table_note(table, note.s);
	text_free(&note);
}

static void print_table(const json_t *events)
{
	static const char *const heads[] = {"SEQ", "TIME", "KIND", "MACHINE", "PAIR", "WHO"};
	struct table *table = table_new(heads, sizeof(heads) / sizeof(heads[0]));
	const json_t *e;
	size_t i;

	table_keep(table, 1);
	json_array_foreach(events, i, e) add_row(table, e);
	table_out(table, "no entry is like this");
}

static int list(const struct args_option *options)
{
	struct text path = {0};
	const json_t *events, *e;
	unsigned long limit;
	json_t *o;
	size_t i;
	int status;

	text_puts(&path, "/v1/audit");
	status = add_query(&path, options, &limit);
	if (status)
		goto out;
	o = ask(path.failed ? NULL : path.s, NULL, &status);
	events = json_object_get(o, "events");
	if (o && options[CSV].set) {
		print_csv(events);
	} else if (o && options[ASK_JSON].set) {
		json_array_foreach(events, i, e) ask_json_line(e);
	} else if (o) {
		print_table(events);
	}
	if (!options[LIMIT].set && json_array_size(events) >= limit)
		out_error("audit: these are the newest %lu, there may be more: --limit N", limit);
	json_decref(o);
out:
	text_free(&path);
	return status;
}

/* What `yoke audit` does: which word, how many operands with it, and which options go with it. */
static const struct act {
	const char *word;
	size_t operands;
	unsigned options;
} acts[] = {
#define BIT(option) (1u << (option))
    {NULL, 0,
        BIT(ASK_JSON) | BIT(JOB) | BIT(MACHINE) | BIT(WHO) | BIT(KIND) | BIT(TEXT) |
            BIT(FROM) | BIT(TO) | BIT(LIMIT) | BIT(CSV)},
    {"verify", 1, BIT(ASK_JSON) | BIT(NO_PROGRAMS) | BIT(AGAINST) | BIT(KEY)},
    {"prove", 2, BIT(OUT)},
    {"check-proof", 2, BIT(KEY)},
    {"report", 2, BIT(MACHINE) | BIT(LIMIT) | BIT(OUT) | BIT(HTML)},
    {"check-archive", 2, BIT(ASK_JSON) | BIT(KEY) | BIT(PROGRAM) | BIT(OUT)},
#undef BIT
};
enum { LIST, VERIFY, PROVE, CHECK_PROOF, REPORT, CHECK_ARCHIVE, ACTS };

/* Which act it is; ACTS when it is none, which was said. */
static int find_act(const struct args *args, const struct args_option *options)
{
	int act = args->n ? VERIFY : LIST;

	while (act && act < ACTS && strcmp(args->rest[0], acts[act].word) != 0)
		act++;
	if (act == ACTS) {
		out_error("audit: '%s' is not known here: 'verify', 'prove', 'check-proof', 'report' and "
		          "'check-archive' are, and options",
		    args->rest[0]);
		return ACTS;
	}
	if (args->n != acts[act].operands) {
		out_error("audit: %s takes %s: 'yoke audit --help'", acts[act].word,
		    act == PROVE         ? "the number of an entry"
		    : act == CHECK_PROOF || act == CHECK_ARCHIVE ? "one file"
		    : act == REPORT      ? "one job"
		                         : "no operands");
		return ACTS;
	}
	for (int i = ASK_JSON; i < OPTIONS; i++)
		if (options[i].set && !(acts[act].options & 1u << i)) {
			out_error("audit: --%s does not go with this: 'yoke audit --help'",
			    options[i].name);
			return ACTS;
		}
	return act;
}

static int report(const char *job, const struct args_option *options)
{
	struct audit_report_ask ask = {
	    .job = job,
	    .home = options[ASK_HOME].value,
	    .machine = options[MACHINE].value,
	    .out = options[OUT].value,
	    .html = options[HTML].set,
	    .limit = 100,
	};

	if (options[LIMIT].set && !args_number("limit", options[LIMIT].value, 0, 100000, &ask.limit))
		return EXIT_USE;
	return audit_report(&ask);
}

int verb_audit(int argc, char **argv)
{
	struct args_option options[OPTIONS] = {
	    ASK_OPTIONS,
	    [JOB] = {.name = "job", .takes = true},
	    [MACHINE] = {.name = "machine", .takes = true},
	    [WHO] = {.name = "who", .takes = true},
	    [KIND] = {.name = "kind", .takes = true},
	    [TEXT] = {.name = "text", .takes = true},
	    [FROM] = {.name = "from", .takes = true},
	    [TO] = {.name = "to", .takes = true},
	    [LIMIT] = {.name = "limit", .takes = true},
	    [CSV] = {.name = "csv"},
	    [NO_PROGRAMS] = {.name = "no-programs"},
	    [AGAINST] = {.name = "against", .takes = true},
	    [KEY] = {.name = "key", .takes = true},
	    [OUT] = {.name = "out", .takes = true},
	    [HTML] = {.name = "html"},
	    [PROGRAM] = {.name = "program", .takes = true},
	};
	struct args args;
	int status = ask_args(argc, argv, options, OPTIONS, 0, 2, &args);

	if (status)
		return status;
	if (options[CSV].set && options[ASK_JSON].set) {
		out_error("audit: --json or --csv, not both");
		return EXIT_USE;
	}
	switch (find_act(&args, options)) {
	case LIST:
		return list(options);
	case VERIFY:
		return audit_verify(!options[NO_PROGRAMS].set, options[AGAINST].value,
		    options[KEY].value, options[ASK_JSON].set);
	case PROVE:
		return audit_prove(args.rest[1], options[OUT].value);
	case CHECK_PROOF:
		return audit_check_proof(args.rest[1], options[KEY].value);
	case CHECK_ARCHIVE:
		return archive_check_key(args.rest[1], options[KEY].value,
		    &(struct archive_check_ask){options[ASK_JSON].set, options[PROGRAM].value,
		        options[OUT].value});
	case REPORT:
		return report(args.rest[1], options);
	}
	return EXIT_USE;
}
