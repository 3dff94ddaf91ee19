#include "machine.h"

#include <string.h>
#include "ask.h"
#include "out.h"

static bool content(const json_t *m, const char *word)
{
	return strcmp(ask_string(m, "content"), word) == 0;
}

void machine_say(struct text *t, const json_t *m)
{
	text_puts(t, "machine ");
	ask_put_string(t, m, "name");
	text_puts(t, ": ");
	if (content(m, "split"))
		text_puts(
		    t, "SPLIT: the channels do not hold the programs of one pair: do not run it\n");
	else if (content(m, "unknown"))
		text_puts(t,
		    "UNKNOWN: what it holds is not known: do not run it; send a pair, or restore "
		    "the last good one\n");
	else if (content(m, "loaded")) {
		ask_put_pair(t, m);
		if (ask_true(json_object_get(m, "stick"), "said")) {
			text_puts(t, ", as ");
			ask_put_string(t, json_object_get(m, "stick"), "by");
			text_puts(t, " said");
		}
		text_printf(t, ", %s, %s%s\n",
		    ask_true(m, "read_back") ? "read back" : "not read back",
		    ask_true(m, "proven") ? "proven" : "not proven",
		    ask_true(m, "drift") ? "; CHANGED at the machine since it was carried" : "");
	} else
		text_puts(t, "nothing was carried there\n");
}

void machine_parts(struct text *t, const json_t *m)
{
	const json_t *part;
	size_t i;

	json_array_foreach(json_object_get(m, "parts"), i, part)
	{
		text_puts(t, "  ");
		ask_put_string(t, part, "channel");
		text_putc(t, ' ');
		ask_put(t, *ask_string(part, "sha256") ? ask_string(part, "sha256") : "not known");
		text_putc(t, '\n');
	}
}

/* Above 100 only when the service says nonsense; doubles cannot overflow. */
static int percent(json_int_t done, json_int_t total)
{
	double p = (double)done * 100 / (double)total;

	return p < 0 ? 0 : p > 100 ? 100 : (int)p;
}

void machine_progress(struct text *t, const json_t *p)
{
	json_int_t total = ask_number(p, "total"), block = ask_number(p, "block");
	json_int_t left = ask_number(p, "left_ms");

	ask_put_string(t, p, "channel");
	text_puts(t, *ask_string(p, "channel") ? ": " : "");
	ask_put_string(t, p, "text");
	if (total > 0)
		text_printf(t, ": %lld of %lld bytes, %d %%", (long long)ask_number(p, "bytes"),
		    (long long)total, percent(ask_number(p, "bytes"), total));
	if (block > 0)
		text_printf(t, ", block %lld", (long long)block);
	if (total > 0 && left > 0)
		text_printf(t, ", %lld s left", (long long)(left / 1000 + (left % 1000 != 0)));
}

static bool under_way(const json_t *m)
{
	const json_t *o;
	size_t i;

	json_array_foreach(json_object_get(m, "orders"), i, o)
	{
		if (strcmp(ask_string(o, "state"), "carrying") == 0)
			return true;
	}
	return false;
}

static void note_carrying(const json_t *m, struct text *t)
{
	const json_t *o, *p = json_object_get(m, "progress");
	size_t i;

	json_array_foreach(json_object_get(m, "orders"), i, o)
	{
		if (strcmp(ask_string(o, "state"), "carrying") != 0)
			continue;
		text_printf(t, "order %lld: ", (long long)ask_number(o, "order"));
		ask_put_string(t, o, "act");
		text_putc(t, ' ');
		ask_put_pair(t, o);
		if (p)
			text_puts(t, ": ");
		machine_progress(t, p);
		return;
	}
}

/* A control that executes what it reads: what it executes is not what it holds. */
static void note_drip(const json_t *m, void (*note)(void *ctx, const char *s), void *ctx)
{
	const json_t *o;
	size_t i;

	json_array_foreach(json_object_get(m, "orders"), i, o)
	{
		if (strcmp(ask_string(o, "state"), "carrying") == 0 &&
		    strcmp(ask_string(o, "act"), "drip") == 0 &&
		    strcmp(ask_string(o, "step"), "feed") == 0)
			note(ctx, "! DRIPPING: the control executes a program while it reads it, "
			          "and that is not what it holds.");
	}
}

static size_t waiting(const json_t *m)
{
	const json_t *o;
	size_t i, n = 0;

	json_array_foreach(json_object_get(m, "orders"), i, o) n +=
	    strcmp(ask_string(o, "state"), "queued") == 0;
	return n;
}

static void note_text(struct text *t, void (*note)(void *ctx, const char *s), void *ctx)
{
	if (t->s && t->n)
		note(ctx, t->s);
	text_free(t);
}

/* A pair that was given out on a stick: the machine may hold it by now. */
static void note_stick(const json_t *m, struct text *t)
{
	const json_t *stick = json_object_get(m, "stick");

	if (!json_is_object(stick) || ask_true(stick, "said"))
		return;
	text_puts(t, "! STICK: ");
	ask_put_pair(t, stick);
	text_puts(t, " was given out on a stick ");
	ask_put_time(t, ask_string(stick, "since"), false);
	text_puts(t, " by ");
	ask_put_string(t, stick, "by");
	text_puts(t, ": whether it was loaded is not known; `yoke loaded` says it, `yoke import` shows it.");
}

/* The commands that bring whole pairs to the machine, "J4417@C" being the one that is meant. */
static void put_way_back(struct text *t, const json_t *m)
{
	const json_t *good = json_object_get(m, "last_good");
	bool stick = !strcmp(ask_string(m, "line"), "stick");

	if (json_is_object(good)) {
		text_puts(t, stick ? "`yoke export --last-good " : "`yoke restore ");
		ask_put_string(t, m, "name");
		text_puts(t, stick ? " DIR` gives out " : "` carries ");
		ask_put_pair(t, good);
		text_puts(t, stick ? ", the last good pair; " : ", the last good pair, back; ");
	}
	text_puts(t, stick ? "`yoke export JOB " : "`yoke send JOB ");
	ask_put_string(t, m, "name");
	text_puts(t, stick ? " DIR`" : "`");
	text_puts(t, json_is_object(good) ? " another one." : stick ? " gives a pair out." : " carries a pair.");
}

/* The command that carries the very pair back that was changed there. */
static void put_undo(struct text *t, const json_t *m)
{
	bool stick = !strcmp(ask_string(m, "line"), "stick");

	text_puts(t, stick ? "`yoke export " : "`yoke send ");
	ask_put_pair(t, m);
	text_putc(t, ' ');
	ask_put_string(t, m, "name");
	text_puts(t, stick ? " DIR` gives the released pair out." : "` carries the released pair back.");
}

/* What a drifted machine holds, where it must not be run. False: it is a changed program. */
static bool put_alarm(struct text *t, const json_t *m, const json_t *now)
{
	const json_t *part;
	const char *comma = "!! HALF: nothing lies there for ";
	size_t i;

	if (ask_true(now, "empty"))
		text_puts(t, "!! EMPTY: none of its programs is there, as in a control that was replaced");
	else if (ask_true(now, "wrong"))
		comma = "!! WRONG CHANNEL: ";
	json_array_foreach(json_object_get(now, "parts"), i, part)
	{
		if (ask_true(now, "empty") ||
		    (ask_true(now, "wrong") ? !*ask_string(part, "holds") : *ask_string(part, "sha256")))
			continue;
		text_puts(t, comma);
		ask_put_string(t, part, "channel");
		if (ask_true(now, "wrong")) {
			text_puts(t, " holds the program of ");
			ask_put_string(t, part, "holds");
		}
		comma = ", ";
	}
	if (!t->n)
		return false;
	text_puts(t, ". Do not run it: ");
	put_way_back(t, m);
	return true;
}

static void note_drift(const json_t *m, struct text *t)
{
	const json_t *now = json_object_get(m, "now");

	if (!ask_true(m, "drift") || put_alarm(t, m, now))
		return;
	text_puts(t, "! CHANGED: what it holds is no longer what was carried there");
	if (*ask_string(now, "weight")) {
		text_puts(t, " [");
		ask_put_string(t, now, "weight");
		text_putc(t, ']');
	}
	text_puts(t, ": `yoke adopt ");
	ask_put_string(t, m, "name");
	text_puts(t, " --rev REV` makes it a revision; ");
	put_undo(t, m);
}

static void note_unsure(const json_t *m, struct text *t)
{
	bool stick = !strcmp(ask_string(m, "line"), "stick");

	if (content(m, "split"))
		text_puts(t, "!! SPLIT: the channels do not hold the programs of one pair. Do not run it: ");
	if (content(m, "unknown")) {
		text_puts(t, "!! UNKNOWN: what it holds is not known. Do not run it: ");
		text_puts(t, stick ? "`yoke import " : "`yoke fetch ");
		ask_put_string(t, m, "name");
		text_puts(t, stick ? " DIR` looks; " : "` looks; ");
	}
	if (t->n)
		put_way_back(t, m);
}

void machine_notes(const json_t *m, void (*note)(void *ctx, const char *s), void *ctx)
{
	struct text t = {0};

	note_unsure(m, &t);
	note_text(&t, note, ctx);
	/* While an order is under way the text is still that of the state before. */
	if ((content(m, "split") || content(m, "unknown")) && !under_way(m) &&
	    *ask_string(m, "text"))
		note(ctx, ask_string(m, "text"));
	if (ask_number(m, "unsettled") > 0) {
		text_printf(&t,
		    "!! NOT SETTLED: order %lld was cut short; what the machine holds is not known "
		    "until its share answers and was looked at. Do not run it.",
		    (long long)ask_number(m, "unsettled"));
		note_text(&t, note, ctx);
	}
	note_drift(m, &t);
	note_text(&t, note, ctx);
	if (*ask_string(m, "adopted_text")) {
		text_puts(&t, "! ADOPTED: ");
		text_puts(&t, ask_string(m, "adopted_text"));
		note_text(&t, note, ctx);
	}
	if (ask_true(m, "locked")) {
		text_puts(&t, "! LOCKED: nothing is sent until it is unlocked");
		text_puts(&t, *ask_string(m, "lock_text") ? ": " : "");
		text_puts(&t, ask_string(m, "lock_text"));
		note_text(&t, note, ctx);
	}
	note_stick(m, &t);
	note_text(&t, note, ctx);
	if (ask_true(m, "offline"))
		note(ctx, "! OFFLINE: its share or line cannot be reached.");
	if (ask_true(m, "abandoned"))
		note(ctx,
		    "! STUCK: a carrier hangs and could not be ended; no order is begun until its "
		    "share or port answers.");
	if (ask_true(m, "unverified"))
		note(ctx, "! its server is not verified: whoever answers at its address is taken for it.");
	if (ask_true(m, "listening"))
		note(ctx, "listens for calls from its keyboard");
	else if (json_is_false(json_object_get(m, "listening")) && !under_way(m))
		note(ctx, "! NOT HEARD: calls from its keyboard do not arrive; its line cannot be "
		          "reached just now");
	note_drip(m, note, ctx);
	note_carrying(m, &t);
	note_text(&t, note, ctx);
	if (waiting(m)) {
		text_printf(&t, "%zu order%s waiting", waiting(m), waiting(m) == 1 ? "" : "s");
		note_text(&t, note, ctx);
	}
}

static void put_note(void *ctx, const char *s)
{
	struct text visible = {0};

	ask_put(&visible, s);
	if (visible.s)
		out_prose(visible.s, 0);
	text_free(&visible);
}

void machine_print_notes(const json_t *machine)
{
	machine_notes(machine, put_note, NULL);
}
