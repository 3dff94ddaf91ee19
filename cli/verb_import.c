#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "ask.h"
#include "exit.h"
#include "http.h"
#include "machine.h"
#include "order.h"
#include "out.h"
#include "stick.h"
#include "verbs.h"

const char verb_import_help[] =
    "yoke import MACHINE DIR [JOB[@REV]] [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Take what a machine's control has saved on a stick or memory card into the vault, and compare it\n"
    "with what was given out for it, or carried there. DIR is where the stick is mounted. The programs\n"
    "are looked for under the machine's names, in any case, for the pair that was given out last; with\n"
    "JOB@REV for that one.\n"
    "\n"
    "The files that `yoke export` wrote are known again by their bytes and their file time, and say\n"
    "nothing of the machine: save the programs at the control first.\n"
    "\n"
    "  --json           as one JSON object\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 what came is what was given out or carried, 1 refused, or it is not, 2 wrong use,\n"
    "4 the service cannot be reached, or what the machine holds is not known.\n"
    "\n"
    "Example:\n"
    "  yoke import LATHE-3 /media/stick\n";

/* One program into the vault, and what the service is to know of it, added to list. 0, or the exit
 * status, said. */
static int send_one(const struct stick *s, int dir, const char *place, const char *name,
    const char *channel, json_t *list)
{
	int fd = openat(dir, name, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
	struct http_answer a = {0};
	struct stat st;
	int status = EXIT_SERVICE;

	if (fd < 0 || fstat(fd, &st) || !S_ISREG(st.st_mode)) {
		out_error("%s: %s%s cannot be read, or is no file: %s", s->path, place, name,
		    fd < 0 ? strerror(errno) : "it is something else");
		status = EXIT_USE;
	} else if (http_upload("/v1/programs", fd, (size_t)st.st_size, &a) == 0) {
		if (a.status < 200 || a.status > 299)
			status = ask_refusal(a.status, a.json);
		else if (!json_array_append_new(list,
		             json_pack("{s:s, s:s, s:I}", "channel", channel, "sha256",
		                 ask_string(a.json, "sha256"), "time", (json_int_t)st.st_mtime)))
			status = 0;
	}
	http_answer_free(&a);
	if (fd >= 0)
		close(fd);
	return status;
}

/* What lies there for one channel. 0 also when there is nothing. */
static int find_one(const struct stick *s, const json_t *file, json_t *list, struct text *missing)
{
	struct text place = {0};
	const char *name = ask_string(file, "name"), *folder = ask_string(file, "folder");
	char *there = NULL;
	int dir = stick_folder(s, folder, false, &place), found = 0, status = 0;

	if (dir >= 0)
		found = stick_find(dir, s->path, name, &there);
	if (dir < -1 || found < 0)
		status = EXIT_USE;
	else if (found)
		status = send_one(s, dir, place.s ? place.s : "", there,
		    ask_string(file, "channel"), list);
	else
		text_printf(missing, "%s%s%s%s", missing->n ? ", " : "", folder,
		    *folder ? "/" : "", name);
	if (dir >= 0)
		close(dir);
	free(there);
	text_free(&place);
	return status;
}

/* All that is there. NULL with *status when it is nothing, or cannot be read. */
static json_t *find_all(const struct stick *s, const json_t *names, int *status)
{
	json_t *list = json_array(), *file;
	struct text missing = {0};
	size_t i;

	*status = 0;
	json_array_foreach(json_object_get(names, "files"), i, file)
		if (!*status)
			*status = find_one(s, file, list, &missing);
	if (!*status && !json_array_size(list)) {
		out_error("%s: no program of machine %s lies there: %s was looked for", s->path,
		    ask_string(names, "machine"), missing.s ? missing.s : "nothing");
		*status = EXIT_REFUSED;
	}
	text_free(&missing);
	if (!*status)
		return list;
	json_decref(list);
	return NULL;
}

static int say(const json_t *answer, bool json)
{
	const char *end = ask_string(answer, "end");
	const json_t *m = json_object_get(answer, "machine");
	struct text t = {0};

	if (json) {
		out_json(json_incref((json_t *)answer));
	} else {
		ask_put(&t, end);
		text_puts(&t, ": ");
		ask_put_string(&t, answer, "text");
		text_putc(&t, '\n');
		machine_say(&t, m);
		if (strcmp(ask_string(m, "content"), "loaded") != 0)
			machine_parts(&t, m);
		out_lines(&t);
	}
	if (!strcmp(end, "read-back") || !strcmp(end, "fetched"))
		return EXIT_DONE;
	return !strcmp(end, "unknown") ? EXIT_SERVICE : EXIT_REFUSED;
}

static int import(const char *machine, json_t *pair, const struct stick *s, bool json)
{
	json_t *look = json_copy(pair), *names = NULL, *list = NULL, *body = NULL, *answer = NULL;
	int status = EXIT_SERVICE;

	if (look && !json_object_set_new(look, "look", json_true()))
		names = ask_about("/v1/machines/%s/import", machine, look, &status);
	if (names)
		list = find_all(s, names, &status);
	if (list)
		body = json_pack("{s:s, s:s, s:O}", "job", ask_string(names, "job"), "revision",
		    ask_string(names, "revision"), "programs", list);
	if (body)
		answer = ask_about("/v1/machines/%s/import", machine, body, &status);
	if (answer)
		status = say(answer, json);
	json_decref(look);
	json_decref(names);
	json_decref(list);
	json_decref(body);
	json_decref(answer);
	return status;
}

int verb_import(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct args args;
	struct stick s;
	json_t *pair;
	int status = ask_args(argc, argv, options, ASK_OWN, 2, 3, &args);

	if (status)
		return status;
	pair = args.n > 2 ? order_pair("import", args.rest[2]) : json_object();
	if (!pair)
		return EXIT_USE;
	status = stick_open(&s, args.rest[1]);
	if (!status) {
		status = import(args.rest[0], pair, &s, options[ASK_JSON].set);
		stick_close(&s);
	}
	json_decref(pair);
	return status;
}
