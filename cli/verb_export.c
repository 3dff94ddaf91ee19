/*
 *   looked --> written beside --> no clash --> recorded --> in place --> list, note --> flushed, compared
 *
 * A Ctrl-C before it is recorded leaves the stick as it was; from there on it is kept to the end.
 */
#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "ask.h"
#include "exit.h"
#include "order.h"
#include "out.h"
#include "stick.h"
#include "stick_clash.h"
#include "stick_note.h"
#include "stick_write.h"
#include "verbs.h"
#include "yoke/stick.h"

const char verb_export_help[] =
    "yoke export JOB[@REV] MACHINE DIR [--replace] [--json] [--home DIR] [--socket PATH]\n"
    "yoke export --last-good MACHINE DIR [...]\n"
    "\n"
    "Write a released pair on a stick or memory card, for a machine that a person carries programs\n"
    "to, or whose line is down. DIR is where the stick is mounted. The same holds as for `yoke send`:\n"
    "nothing held or refused, nothing for a locked machine. Both programs are written beside what\n"
    "lies there, flushed, read back past this computer's cache and compared, and then put in place,\n"
    "under the machine's own names, with a list of checksums (" STICK_SUMS ") and a note (" STICK_NOTE ").\n"
    "\n"
    "A program of another job that lies under one of the names, or has the same program number in\n"
    "the same folder, is a clash and refused.\n"
    "\n"
    "Whether the machine got it is not known then: `yoke loaded MACHINE` says so after it was loaded\n"
    "by hand, and `yoke import MACHINE DIR` reads what the control has saved on the stick.\n"
    "\n"
    "Prove out every new, changed or restored pair: single block, rapid override low, guard\n"
    "closed, hand at feed hold. Check work offsets and tool offsets of both channels. Follow the\n"
    "machine builder's manual, the shop's rules and local regulations; trained and authorised\n"
    "persons only.\n"
    "\n"
    "  --last-good      the last pair that made good parts there, as `yoke restore` sends it\n"
    "  --replace        also what belongs to another job\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 it is on the stick, 1 refused, 2 wrong use, 4 not written.\n"
    "\n"
    "Example:\n"
    "  yoke export J4417@C LATHE-3 /media/stick\n";

static volatile sig_atomic_t interrupted;

static void on_interrupt(int number)
{
	interrupted = 1;
}

/* Until it is recorded a person may think better of it. */
static int still_wanted(void)
{
	if (!interrupted)
		return 0;
	out_error("export: given up; the stick is as it was");
	return EXIT_SERVICE;
}

static json_t *ask_export(const char *machine, const json_t *what, bool look, int *status)
{
	json_t *body = json_copy((json_t *)what), *answer;

	if (body && look)
		json_object_set_new(body, "look", json_true());
	answer = ask_about("/v1/machines/%s/export", machine, body, status);
	json_decref(body);
	return answer;
}

/* What was recorded is what was written beside. */
static bool unchanged(const json_t *list, const json_t *recorded)
{
	return json_equal(json_object_get(list, "files"), json_object_get(recorded, "files")) &&
	       !strcmp(ask_string(list, "revision"), ask_string(recorded, "revision"));
}

/* An even second, as FAT has them; now, when the service's time cannot be read. */
static int64_t file_time(const json_t *recorded)
{
	struct tm tm = {0};
	time_t t = strptime(ask_string(recorded, "time"), "%Y-%m-%dT%H:%M:%S", &tm) ? timegm(&tm)
	                                                                            : time(NULL);

	return (int64_t)t - (int64_t)(t % STICK_TIME_STEP);
}

static int place(struct stick_job *j, const json_t *recorded)
{
	int status = stick_note_begin(j);

	if (!status) {
		status = stick_place(j, file_time(recorded));
		if (status)
			stick_note_back(j);
	}
	if (!status)
		status = stick_note_end(j, ask_string(recorded, "time"));
	if (!status)
		status = stick_settle(j);
	if (status)
		out_error("export: it was recorded as given out, and is not on the stick: export it "
		          "once more, or say `yoke loaded %s JOB@REV` with what the machine holds",
		    ask_string(recorded, "machine"));
	return status;
}

static bool past_cache(const struct stick_job *j)
{
	bool past = true;

	for (uint32_t i = 0; i < j->files; i++)
		past = past && j->file[i].past;
	return past;
}

static bool is_stick(const struct stick *s)
{
	return s->mount && strcmp(s->mount, "/") != 0;
}

static void say_files(const struct stick_job *j, struct text *t)
{
	ask_put_pair(t, j->list);
	text_puts(t, " for machine ");
	ask_put_string(t, j->list, "machine");
	text_puts(t, " is in ");
	ask_put(t, j->stick->path);
	text_puts(t, ":\n");
	for (uint32_t i = 0; i < j->files; i++) {
		const struct stick_file *f = &j->file[i];

		text_puts(t, "  ");
		ask_put(t, f->channel);
		text_putc(t, ' ');
		ask_put(t, f->place);
		text_printf(t, ", %llu bytes", (unsigned long long)f->size);
		if (f->replaced.n) {
			text_puts(t, ", in place of ");
			ask_put(t, f->replaced.s);
		}
		text_putc(t, '\n');
	}
}

static void say(const struct stick_job *j)
{
	struct text t = {0};

	say_files(j, &t);
	text_puts(&t, past_cache(j)
	                  ? "Written, flushed, read back past this computer's cache, and equal.\n"
	                  : "Written, flushed, read back and equal; this computer's cache cannot be "
	                    "passed by here, so that it may be what was read.\n");
	if (is_stick(j->stick)) {
		text_puts(&t, "It may be pulled out when it was unmounted: umount ");
		ask_put(&t, j->stick->mount);
		text_putc(&t, '\n');
	} else {
		text_puts(&t, "This folder is on no stick of its own: copy it as a whole, and compare "
		              "with sha256sum -c " STICK_SUMS ".\n");
	}
	text_puts(&t, "Whether the machine got it is not known until it is said (`yoke loaded ");
	ask_put_string(&t, j->list, "machine");
	text_puts(&t, "`) or comes back (`yoke import`).\n");
	out_lines(&t);
	ask_put_string(&t, j->list, "caution");
	if (t.n)
		out_prose(t.s, 0);
	text_free(&t);
}

static void say_json(const struct stick_job *j, const json_t *recorded)
{
	json_t *o = json_deep_copy(recorded), *files = json_object_get(o, "files");

	for (uint32_t i = 0; o && i < j->files; i++) {
		const struct stick_file *f = &j->file[i];
		json_t *one = json_array_get(files, i);

		json_object_set_new(one, "path", json_string(f->place));
		if (f->replaced.n)
			json_object_set_new(one, "replaced", json_string(f->replaced.s));
	}
	if (o) {
		json_object_del(o, "header");
		json_object_del(o, "number_colon");
		json_object_del(o, "channels");
		json_object_del(o, "clash_refused");
		json_object_set_new(o, "past_cache", json_boolean(past_cache(j)));
		json_object_set_new(
		    o, "unmount", is_stick(j->stick) ? json_string(j->stick->mount) : json_null());
	}
	out_json(o);
}

static int export(const char *machine, const json_t *what, struct stick *s, bool replace, bool json)
{
	struct stick_job j = {0};
	json_t *list, *recorded = NULL;
	int status;

	list = ask_export(machine, what, true, &status);
	if (!list)
		return status;
	status = stick_job_fill(&j, s, list);
	j.replace = replace || json_is_false(json_object_get(list, "clash_refused"));
	if (!status)
		status = stick_write_fresh(&j);
	if (!status)
		status = stick_clash(&j);
	if (!status)
		status = still_wanted();
	if (status)
		goto out;
	recorded = ask_export(machine, what, false, &status);
	if (!recorded)
		goto out;
	if (!unchanged(list, recorded)) {
		out_error("export: the pair became another one in between; the stick is as it was: "
		          "export it once more");
		status = EXIT_SERVICE;
		goto out;
	}
	status = place(&j, recorded);
	if (status)
		goto out;
	if (json)
		say_json(&j, recorded);
	else
		say(&j);
out:
	stick_job_end(&j);
	json_decref(list);
	json_decref(recorded);
	return status;
}

int verb_export(int argc, char **argv)
{
	enum { LAST_GOOD = ASK_OWN, REPLACE, N };
	struct args_option options[] = {ASK_OPTIONS, {.name = "last-good"}, {.name = "replace"}};
	struct sigaction act = {.sa_handler = on_interrupt};
	struct args args;
	struct stick s;
	json_t *what;
	int status = ask_args(argc, argv, options, N, 2, 3, &args);
	bool good = options[LAST_GOOD].set;

	if (status)
		return status;
	if (args.n != (good ? 2 : 3)) {
		out_error(good ? "export: --last-good takes MACHINE and DIR alone"
		               : "export: JOB[@REV], MACHINE and DIR are needed");
		return EXIT_USE;
	}
	what = good ? json_pack("{s:b}", "last_good", 1) : order_pair("export", args.rest[0]);
	if (!what)
		return EXIT_USE;
	status = stick_open(&s, args.rest[args.n - 1]);
	if (!status) {
		sigaction(SIGINT, &act, NULL);
		sigaction(SIGTERM, &act, NULL);
		sigaction(SIGHUP, &act, NULL);
		status = export(args.rest[args.n - 2], what, &s, options[REPLACE].set,
		    options[ASK_JSON].set);
		stick_close(&s);
	}
	json_decref(what);
	return status;
}
