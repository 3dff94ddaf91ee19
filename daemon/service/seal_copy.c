/*
 *   idle --pulse: something is to be copied, nothing failed a minute ago--> running
 *   running --exit 0--> idle, recorded up to which checkpoint
 *   running --exit otherwise, or TAKES_MS over: killed--> idle, failed
 *
 * A process that does not end when it is killed keeps its state: running, and nothing else is begun.
 */
#include "seal_copy.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "ledger.h"
#include "vault_seal.h"
#include "yoke/text.h"

enum { BATCH = 500, TAKES_MS = 60000, AGAIN_MS = 60000, SAID = 400 };

struct seal_copy {
	struct service *s;
	const char *place;
	uint64_t number; /* copied up to this one */
	uint64_t upto;   /* the last one that the process has */
	uint64_t failed; /* loop time, ms; 0: nothing did */
	bool running, killed, ending;
	bool ended, good, heard; /* the process: has it, how, and is all there that it said? */
	char why[SAID + 100]; /* "" when it works */
	char said[SAID];      /* by the process */
	size_t said_n;
	uv_process_t process;
	uv_pipe_t in, out;
	uv_timer_t limit;
	uv_write_t write;
	unsigned open; /* handles that are not closed yet */
	struct text notes;
};

static void tell(struct seal_copy *c, const char *outcome, const char *text)
{
	if (!c->ending)
		ledger_record(c->s->ledger, EVENT_SEALING, "service", "service",
		    &(struct vault_about){.outcome = outcome, .text = text});
}

static void fail(struct seal_copy *c, const char *why)
{
	char text[sizeof(c->why) + 100];
	bool first = !*c->why;

	c->failed = uv_now(c->s->loop);
	snprintf(c->why, sizeof(c->why), "%s", why);
	if (!first)
		return;
	snprintf(text, sizeof(text), "checkpoints do not reach their second place: %s", c->why);
	fprintf(stderr, "yoked: %s\n", text);
	tell(c, "copy-failed", text);
}

static void work(struct seal_copy *c)
{
	char text[YOKE_PATH_MAX + 100];

	if (vault_set_copied(c->s->vault, c->place, c->upto) < 0) {
		fail(c, vault_error(c->s->vault));
		return;
	}
	c->number = c->upto;
	c->failed = 0;
	if (!*c->why)
		return;
	*c->why = '\0';
	snprintf(text, sizeof(text), "checkpoints reach %s again", c->place);
	fprintf(stderr, "yoked: %s\n", text);
	tell(c, "copy-again", text);
}

/* While the service runs, these handles keep no loop from ending: only seal_copy_end waits for them. */
static void hold(struct seal_copy *c, void (*how)(uv_handle_t *))
{
	how((uv_handle_t *)&c->process);
	how((uv_handle_t *)&c->in);
	how((uv_handle_t *)&c->out);
	how((uv_handle_t *)&c->limit);
}

static void on_close(uv_handle_t *handle)
{
	struct seal_copy *c = handle->data;

	c->open--;
	if (c->open == 0) {
		c->running = false;
		text_free(&c->notes);
	}
}

static void close_one(uv_handle_t *handle)
{
	if (!uv_is_closing(handle))
		uv_close(handle, on_close);
}

static void close_all(struct seal_copy *c)
{
	close_one((uv_handle_t *)&c->process);
	close_one((uv_handle_t *)&c->in);
	close_one((uv_handle_t *)&c->out);
	close_one((uv_handle_t *)&c->limit);
}

/* It has ended, and everything that it said is there. */
static void finish(struct seal_copy *c)
{
	struct text visible = {0};
	size_t n = c->said_n;

	while (n > 0 && c->said[n - 1] == '\n')
		n--;
	text_visible(&visible, c->said, n);
	if (c->good)
		work(c);
	else if (c->killed)
		c->failed = uv_now(c->s->loop); /* which was told */
	else
		fail(c, visible.n ? visible.s : "the carrier ended without a word");
	text_free(&visible);
	close_all(c);
}

static void on_ended(uv_process_t *process, int64_t status, int signal)
{
	struct seal_copy *c = process->data;

	c->ended = true;
	c->good = status == 0 && signal == 0;
	if (c->heard)
		finish(c);
}

static void on_limit(uv_timer_t *timer)
{
	struct seal_copy *c = timer->data;
	char why[sizeof(c->why)];

	c->killed = true;
	uv_process_kill(&c->process, SIGKILL);
	snprintf(why, sizeof(why), "%.300s: no answer within %d s", c->place, TAKES_MS / 1000);
	fail(c, why);
}

static void room(uv_handle_t *handle, size_t want, uv_buf_t *buf)
{
	static char waste[256];
	struct seal_copy *c = handle->data;

	*buf = c->said_n < sizeof(c->said)
	           ? uv_buf_init(c->said + c->said_n, (unsigned)(sizeof(c->said) - c->said_n))
	           : uv_buf_init(waste, sizeof(waste));
}

static void on_said(uv_stream_t *stream, ssize_t n, const uv_buf_t *buf)
{
	struct seal_copy *c = stream->data;

	if (n > 0 && buf->base == c->said + c->said_n)
		c->said_n += (size_t)n;
	if (n >= 0)
		return;
	uv_read_stop(stream);
	c->heard = true;
	if (c->ended)
		finish(c);
}

static void on_written(uv_write_t *write, int status)
{
	close_one((uv_handle_t *)write->handle);
}

static int add_note(void *ctx, uint64_t number, const char *note)
{
	struct seal_copy *c = ctx;

	c->upto = number;
	text_puts(&c->notes, note);
	text_putc(&c->notes, '\n');
	return 0;
}

static int spawn(struct seal_copy *c)
{
	char *argv[] = {(char *)c->s->carrier, "checkpoints", (char *)c->place,
	    c->number ? NULL : "--new", NULL};
	uv_stdio_container_t io[3] = {
	    {.flags = UV_CREATE_PIPE | UV_READABLE_PIPE, .data.stream = (uv_stream_t *)&c->in},
	    {.flags = UV_IGNORE},
	    {.flags = UV_CREATE_PIPE | UV_WRITABLE_PIPE, .data.stream = (uv_stream_t *)&c->out}};
	uv_process_options_t o = {.exit_cb = on_ended,
	    .file = c->s->carrier,
	    .args = argv,
	    .stdio_count = 3,
	    .stdio = io,
	    .flags = UV_PROCESS_DETACHED};

	return uv_spawn(c->s->loop, &c->process, &o);
}

/* Everything that is open is closed in the loop; running stays until that is done. */
static void begin(struct seal_copy *c)
{
	uv_buf_t buf;
	char why[300];
	int rc;

	c->said_n = 0;
	c->killed = c->ended = c->good = c->heard = false;
	c->process.data = c->in.data = c->out.data = c->limit.data = c;
	uv_pipe_init(c->s->loop, &c->in, 0);
	uv_pipe_init(c->s->loop, &c->out, 0);
	uv_timer_init(c->s->loop, &c->limit);
	c->open = 4;
	c->running = true;
	rc = spawn(c);
	if (rc) {
		snprintf(why, sizeof(why), "the carrier cannot be started: %s", uv_strerror(rc));
		fail(c, why);
		close_all(c);
		return;
	}
	buf = uv_buf_init(c->notes.s, (unsigned)c->notes.n);
	uv_timer_start(&c->limit, on_limit, TAKES_MS, 0);
	uv_read_start((uv_stream_t *)&c->out, room, on_said);
	uv_write(&c->write, (uv_stream_t *)&c->in, &buf, 1, on_written);
	if (!c->ending)
		hold(c, uv_unref);
}

static void look(struct seal_copy *c, uint64_t newest)
{
	if (c->running || newest == 0)
		return;
	if (c->number > newest) /* somebody changed what is noted of it: all of them again */
		c->number = 0;
	if (c->number == newest)
		return;
	if (vault_checkpoints(c->s->vault, c->number, BATCH, add_note, c) < 0 || c->notes.failed) {
		text_free(&c->notes);
		fail(c, vault_error(c->s->vault));
		return;
	}
	begin(c);
}

void seal_copy_pulse(struct seal_copy *c, uint64_t newest)
{
	if (!c->failed || uv_now(c->s->loop) - c->failed >= AGAIN_MS)
		look(c, newest);
}

struct seal_copy *seal_copy_new(struct service *s, const char *place)
{
	struct seal_copy *c = calloc(1, sizeof(*c));
	int64_t number = vault_copied(s->vault, place);

	if (!c)
		return NULL;
	c->s = s;
	c->place = place;
	c->number = number > 0 ? (uint64_t)number : 0;
	return c;
}

static void on_late(uv_timer_t *timer)
{
	struct seal_copy *c = timer->data;

	/* Nobody waits for it any more: it goes on by itself, or hangs by itself. */
	if (c->running)
		close_all(c);
}

void seal_copy_end(struct seal_copy *c, uint64_t newest, uint64_t wait_ms)
{
	uv_timer_t late;

	c->ending = true;
	if (c->running)
		hold(c, uv_ref);
	late.data = c;
	uv_timer_init(c->s->loop, &late);
	uv_timer_start(&late, on_late, wait_ms, 0);
	uv_unref((uv_handle_t *)&late);
	uv_run(c->s->loop, UV_RUN_DEFAULT); /* what runs already */
	if (uv_is_active((uv_handle_t *)&late)) {
		look(c, newest);
		uv_run(c->s->loop, UV_RUN_DEFAULT);
	}
	uv_close((uv_handle_t *)&late, NULL);
	uv_run(c->s->loop, UV_RUN_DEFAULT);
}

json_t *seal_copy_json(struct seal_copy *c)
{
	json_t *o = json_pack("{s:s, s:I}", "place", c->place, "number", (json_int_t)c->number);

	if (o && *c->why)
		json_object_set_new(o, "error", json_string(c->why));
	return o;
}

void seal_copy_free(struct seal_copy *c)
{
	text_free(&c->notes);
	free(c);
}
