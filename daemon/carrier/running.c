#include "running.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "curl_lib.h"
#include "execution.h"

enum { ANSWER_MAX = 4 * 1024 * 1024 }; /* bytes of an agent's answer: every item of every device */

static int no_answer(struct job *j, const char *who, const char *why)
{
	return fault_set(&j->fault, CARRY_ERROR_RUNNING, j->order->items,
	    "whether the machine runs could not be told, and nothing is replaced on a guess: %s: %s",
	    who, why);
}

static int cancelled(struct job *j)
{
	return fault_set(&j->fault, CARRY_ERROR_CANCELLED, j->order->items, "cancelled");
}

static int ask_file(struct job *j, running_there *there, void *ctx)
{
	const struct running *r = &j->order->running;
	const char *why = "not known";
	int found = there(ctx, r->file, &why);

	if (found == -ECANCELED)
		return cancelled(j);
	if (found < 0)
		return no_answer(j, r->file, why);
	/* A name in other letters counts where it speaks against replacing, and not where it speaks for it:
	 * a server may list a name in other letters than it was written in. */
	if (r->kind == IDLE_FILE ? found == 1 : found == 0)
		return 0;
	return fault_set(&j->fault, CARRY_ERROR_RUNNING, j->order->items,
	    "the machine says that it is running: '%s' is %s on its share; send again when it "
	    "stands",
	    r->file, r->kind == IDLE_FILE ? "not there" : "there");
}

/* What an agent said. */
struct answer {
	struct job *job;
	char *bytes;
	size_t n;
};

static size_t take(char *bytes, size_t one, size_t n, void *ctx)
{
	struct answer *a = ctx;
	char *grown;

	if (n > ANSWER_MAX - a->n)
		return 0;
	grown = realloc(a->bytes, a->n + n + 1);
	if (!grown)
		return 0;
	memcpy(grown + a->n, bytes, n);
	a->bytes = grown;
	a->n += n;
	return n;
}

static int tick(void *ctx, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d)
{
	const struct answer *answer = ctx;

	return parent_tick(answer->job->parent);
}

/* GET AGENT/current. "" when it is there, else why not. */
static void get(struct answer *a, const struct running *r, char *why, size_t size)
{
	const struct curl_lib *lib = curl_lib();
	CURL *c = lib ? lib->init() : NULL;
	char url[YOKE_PATH_MAX + 16];
	size_t n = strlen(r->agent);
	long status = 0;
	CURLcode rc;

	snprintf(why, size, "libcurl is not there: install the package libcurl4");
	if (!c)
		return;
	snprintf(url, sizeof url, "%s%scurrent", r->agent, n && r->agent[n - 1] == '/' ? "" : "/");
	lib->setopt(c, CURLOPT_URL, url);
	lib->setopt(c, CURLOPT_PROTOCOLS_STR, "http,https");
	lib->setopt(c, CURLOPT_PROXY, "");
	lib->setopt(c, CURLOPT_NOSIGNAL, 1L);
	lib->setopt(c, CURLOPT_TIMEOUT_MS, (long)r->answer_ms);
	lib->setopt(c, CURLOPT_CONNECTTIMEOUT_MS, (long)r->answer_ms);
	lib->setopt(c, CURLOPT_WRITEFUNCTION, take);
	lib->setopt(c, CURLOPT_WRITEDATA, a);
	lib->setopt(c, CURLOPT_NOPROGRESS, 0L);
	lib->setopt(c, CURLOPT_XFERINFOFUNCTION, tick);
	lib->setopt(c, CURLOPT_XFERINFODATA, a);
	rc = lib->perform(c);
	lib->getinfo(c, CURLINFO_RESPONSE_CODE, &status);
	if (rc != CURLE_OK)
		snprintf(why, size, "%s", lib->strerror(rc));
	else if (status != 200)
		snprintf(why, size, "it answers with HTTP status %ld", status);
	else
		*why = '\0';
	lib->cleanup(c);
}

/* What the agent said of every channel. */
static int judge(struct job *j, const struct answer *a)
{
	const struct running *r = &j->order->running;

	for (uint32_t i = 0; i < YOKE_CHANNELS_MAX; i++) {
		struct execution x;
		char why[300];

		if (!*r->path[i])
			continue;
		if (!execution_read(a->bytes, a->n, r->device, r->path[i], &x, why, sizeof why))
			return no_answer(j, r->agent, why);
		if (!x.idle)
			return fault_set(&j->fault, CARRY_ERROR_RUNNING, j->order->items,
			    "the machine says that it is running: path %s is %s%s%s; send again "
			    "when both channels stand at their end",
			    r->path[i], x.value, *x.program ? " in " : "", x.program);
	}
	return 0;
}

static int ask_agent(struct job *j)
{
	struct answer a = {.job = j};
	char why[300];
	int rc;

	get(&a, &j->order->running, why, sizeof why);
	if (parent_stopping(j->parent))
		rc = cancelled(j);
	else
		rc = *why ? no_answer(j, j->order->running.agent, why) : judge(j, &a);
	free(a.bytes);
	return rc;
}

int running_check(struct job *j, running_there *there, void *ctx)
{
	switch (j->order->running.kind) {
	case RUNNING_NOT_TOLD:
		break;
	case RUNNING_FILE:
	case IDLE_FILE:
		return ask_file(j, there, ctx);
	case RUNNING_AGENT:
		return ask_agent(j);
	}
	return 0;
}

bool running_by_file(const struct job *j)
{
	return j->order->running.kind == RUNNING_FILE || j->order->running.kind == IDLE_FILE;
}
