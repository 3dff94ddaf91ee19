#include "restore_show.h"

#include <string.h>
#include "ask.h"
#include "difference.h"
#include "exit.h"
#include "machine.h"
#include "out.h"
#include "stored_pair.h"
#include "yoke/setup.h"

static void show_held(const json_t *m)
{
	struct text t = {0};

	text_puts(&t, "now: ");
	machine_say(&t, m);
	out_lines(&t);
	machine_print_notes(m);
}

static void show_pair(const json_t *pair)
{
	struct text t = {0};

	text_puts(&t, "back: ");
	ask_put_pair(&t, pair);
	text_puts(&t, *ask_string(pair, "state") ? ", released " : ", proven ");
	ask_put_time(&t, ask_string(pair, "since"), true);
	text_puts(&t, " by ");
	ask_put_string(&t, pair, "by");
	text_putc(&t, '\n');
	machine_parts(&t, pair);
	out_lines(&t);
}

/* The sum of what the machine is believed to hold for a channel, "" when that is not known. */
static const char *believed(const json_t *m, const char *channel)
{
	const json_t *from = ask_true(m, "drift") && json_object_get(m, "now") ? json_object_get(m, "now") : m;
	const json_t *part;
	size_t i;

	json_array_foreach(json_object_get(from, "parts"), i, part)
	{
		if (!strcmp(ask_string(part, "channel"), channel))
			return ask_string(part, "sha256");
	}
	return "";
}

static int show_differences(const json_t *m, const json_t *pair, const struct profile *profile)
{
	bool sure = !strcmp(ask_string(m, "content"), "loaded");
	const json_t *part;
	struct text t = {0};
	size_t i;
	int status = EXIT_DONE;

	text_puts(&t, sure ? "what changes there:\n"
	                   : "what changes there, as far as it is known what it holds:\n");
	json_array_foreach(json_object_get(pair, "parts"), i, part)
	{
		const char *channel = ask_string(part, "channel"), *old = believed(m, channel);
		json_t *d = *old ? difference(profile, old, ask_string(part, "sha256"), &status) : NULL;

		if (*old && !d) {
			text_free(&t);
			return status;
		}
		text_puts(&t, "  ");
		ask_put(&t, channel);
		text_puts(&t, ": ");
		if (d)
			difference_put(&t, d);
		else
			text_puts(&t, "what lies there now is not known");
		text_putc(&t, '\n');
		json_decref(d);
	}
	out_lines(&t);
	return EXIT_DONE;
}

static void put_offsets(struct text *t, const struct setup_tool *tool)
{
	for (size_t i = 0; i < tool->offsets; i++)
		text_printf(t, "%s%c%u", i ? " " : tool->offset[i].letter == 'T' ? " offset " : " ",
		    tool->offset[i].letter == 'T' ? ' ' : tool->offset[i].letter,
		    tool->offset[i].number);
	if (tool->offsets_more)
		text_printf(t, " and %zu more", tool->offsets_more);
}

static void put_tools(struct text *t, const struct setup_channel *c)
{
	text_puts(t, "; tools");
	for (size_t i = 0; i < c->tools; i++) {
		const struct setup_tool *tool = &c->tool[i];

		text_puts(t, i ? ", " : " ");
		if (tool->known)
			text_printf(t, "T%u", tool->number);
		else
			text_puts(t, "one that is not known");
		put_offsets(t, tool);
		if (tool->comments) {
			text_puts(t, " (");
			ask_put(t, tool->comment[0]);
			text_putc(t, ')');
		}
	}
	if (!c->tools)
		text_puts(t, " none");
	if (c->tools_more)
		text_printf(t, " and %zu more", c->tools_more);
	if (c->tools_waiting)
		text_printf(t, ", and %llu that no M06 brought to work",
		    (unsigned long long)c->tools_waiting);
}

static void show_channel(const struct setup_channel *c)
{
	struct text t = {0};
	char name[SETUP_NAME_MAX];

	text_printf(&t, "%s needs: work offsets ", c->name);
	for (size_t i = 0; i < c->works; i++)
		text_printf(&t, "%s%s", i ? ", " : "", setup_work_name(&c->work[i], name));
	if (!c->works)
		text_puts(&t, "none");
	if (c->works_more)
		text_printf(&t, " and %zu more", c->works_more);
	put_tools(&t, c);
	if (c->end != SETUP_WHOLE)
		text_printf(&t, "; and what could not be followed: %s", c->why ? c->why : "its end");
	if (t.s)
		out_prose(t.s, 0);
	text_free(&t);
}

static int show_setup(const json_t *pair, const struct profile *profile)
{
	struct stored_pair p;
	int status = stored_pair_get(profile, pair, &p);
	struct setup *s = status == EXIT_DONE && p.report ? setup_new(p.report) : NULL;

	if (status == EXIT_DONE && p.n && !s) {
		out_error("out of memory");
		status = EXIT_USE;
	}
	for (size_t i = 0; s && i < s->channels; i++)
		if (s->channel[i].present)
			show_channel(&s->channel[i]);
	setup_free(s);
	stored_pair_free(&p);
	return status;
}

int restore_show(const json_t *machine, const json_t *pair, const struct profile *profile)
{
	int status;

	show_held(machine);
	show_pair(pair);
	status = show_differences(machine, pair, profile);
	if (status == EXIT_DONE)
		status = show_setup(pair, profile);
	if (status == EXIT_DONE)
		out_prose("Work offsets and tool offsets of all channels may have been changed since, "
		          "and Yoke does not know them. A restored pair is proved out like a new one: "
		          "single block, rapid override low, guard closed, hand at feed hold. Follow the "
		          "machine builder's manual, the shop's rules and local regulations; trained and "
		          "authorised persons only.",
		    0);
	return status;
}
