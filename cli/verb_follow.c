#include <signal.h>
#include <stdio.h>
#include <string.h>
#include "ask.h"
#include "event_line.h"
#include "exit.h"
#include "http.h"
#include "out.h"
#include "verbs.h"

const char verb_follow_help[] =
    "yoke follow [--json] [--home DIR] [--socket PATH]\n"
    "\n"
    "Show each event as it becomes durable, one a line, until Ctrl-C.\n"
    "\n"
    "  --json           each event as one line of JSON, as it came\n" ASK_OPTIONS_HELP "\n"
    "Exit status: 0 ended by Ctrl-C, 1 refused, 4 the service cannot be reached or went away.\n"
    "\n"
    "Example:\n"
    "  yoke follow\n";

static volatile sig_atomic_t interrupted;

static void on_interrupt(int number)
{
	interrupted = 1;
}

struct follow {
	bool json;
	char refused[512];
};

static int on_line(void *ctx, json_t *o)
{
	struct follow *f = ctx;
	struct text t = {0};

	if (json_object_get(o, "error")) {
		snprintf(f->refused, sizeof(f->refused), "%s", ask_string(o, "text"));
		return 0;
	}
	if (f->json) {
		ask_json_line(o);
	} else {
		event_line(&t, o);
		out_text(&t);
		fflush(stdout);
	}
	return ferror(stdout) || interrupted;
}

static int on_idle(void *ctx)
{
	return interrupted;
}

int verb_follow(int argc, char **argv)
{
	struct args_option options[] = {ASK_OPTIONS};
	struct sigaction act = {.sa_handler = on_interrupt}, old;
	struct follow f = {0};
	struct args args;
	long http;
	int status = ask_args(argc, argv, options, ASK_OWN, 0, 0, &args), streamed;

	if (status)
		return status;
	f.json = options[ASK_JSON].set;
	interrupted = 0;
	sigaction(SIGINT, &act, &old);
	streamed = http_stream("/v1/follow", on_line, on_idle, &f, &http);
	sigaction(SIGINT, &old, NULL);
	if (streamed == 1)
		return EXIT_DONE;
	if (*f.refused)
		out_error("follow: %s", f.refused);
	else if (streamed == 0)
		out_error("follow: the service has ended the stream");
	return http >= 400 && http < 500 ? EXIT_REFUSED : EXIT_SERVICE;
}
