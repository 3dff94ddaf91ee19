#include "sameness.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "exam.h"

enum { KEEP = 50 }; /* changes named in an event; counts are complete */

static void add_changes(json_t *all, const char *channel, const struct change_list *l)
{
	for (size_t i = 0; i < l->n; i++) {
		json_t *c = json_pack("{s:s, s:s, s:s, s:I, s:I}", "channel", channel, "kind",
		    change_name(l->v[i].kind), "what", l->v[i].what, "old_line",
		    (json_int_t)l->v[i].old_line, "new_line", (json_int_t)l->v[i].new_line);

		if (c)
			json_array_append_new(all, c);
	}
}

/* The heaviest weight among all changes, also those that are not named. */
static enum weight weight_of(const struct change_list *l)
{
	enum weight most = WEIGHT_OFF;

	for (int k = 0; k < CHANGE_COUNT; k++)
		if (l->count[k] && change_weight((enum change_kind)k) > most)
			most = change_weight((enum change_kind)k);
	return most;
}

/* What is compared with what, and what there is to say. */
struct comparing {
	struct service *s;
	const struct service_machine *m;
	struct vault_machine held;
	const char *what;
	json_t *changes, *channels;
	struct text said;
	struct sameness_result *out;
};

static void tell_channel(struct comparing *c, const char *channel, const char *sameness,
    enum weight weight, const struct change_list *l, const char *holds)
{
	json_t *o = json_pack("{s:s, s:s, s:s, s:s*}", "channel", channel, "sameness", sameness,
	    "weight", finding_weight_name(weight), "holds", holds);
	json_t *counts = json_object();

	for (int k = 0; l && k < CHANGE_COUNT; k++)
		if (l->count[k])
			json_object_set_new(counts, change_name((enum change_kind)k),
			    json_integer((json_int_t)l->count[k]));
	if (json_object_size(counts))
		json_object_set(o, "counts", counts);
	json_decref(counts);
	json_array_append_new(c->channels, o);
	if (weight > c->out->weight)
		c->out->weight = weight;
}

/* The channel whose program the machine holds in the place of p's, or NULL: it is what was carried for
 * that one, or says so itself. */
static const char *other_channel(struct comparing *c, const struct event_part *p, const struct text *bytes)
{
	const struct profile *profile = &c->m->conf->profile;
	const char *found = NULL;
	struct program *program;

	for (uint32_t i = 0; i < c->held.parts && !found; i++) {
		struct change_list list = {0};
		struct text other = {0};

		if (c->held.part[i].present && strcmp(c->held.part[i].channel, p->channel) &&
		    !exam_bytes(c->s->vault, &c->held.part[i].sha, &other) &&
		    !change_compare(profile, other.s, other.n, bytes->s, bytes->n, 1, &list) &&
		    list.sameness < CHANGE_DIFFERENT)
			found = c->held.part[i].channel;
		change_list_free(&list);
		text_free(&other);
	}
	program = found ? NULL : exam_program(c->s->vault, profile, "", &p->after);
	if (program && program_channel(program) >= 0) {
		found = profile->channel[program_channel(program)].name;
		found = strcmp(found, p->channel) ? found : NULL;
	}
	program_free(program);
	return found;
}

static void tell_different(struct comparing *c, const struct event_part *p,
    const struct change_list *list, const struct text *bytes)
{
	const char *holds = other_channel(c, p, bytes), *semicolon = c->said.n ? "; " : "";
	bool meaning = list->sameness == CHANGE_SAME_MEANING;
	uint64_t n = 0;

	for (int k = 0; k < CHANGE_COUNT; k++)
		n += list->count[k];
	c->out->different = true;
	if (holds) {
		text_printf(&c->said, "%s%s holds the program of %s: loaded into the wrong channel",
		    semicolon, p->channel, holds);
		tell_channel(c, p->channel, change_sameness_name(list->sameness), WEIGHT_REFUSE, list,
		    holds);
		return;
	}
	text_printf(&c->said, "%s%s differs from %s: %llu change%s", semicolon, p->channel, c->what,
	    (unsigned long long)n, n == 1 ? "" : "s");
	if (list->n)
		text_printf(&c->said, ", %s", list->v[0].what);
	if (meaning)
		text_puts(&c->said, ", and means the same");
	tell_channel(c, p->channel, change_sameness_name(list->sameness), weight_of(list), list, NULL);
	add_changes(c->changes, p->channel, list);
}

static void one(struct comparing *c, const struct event_part *p)
{
	const struct profile *profile = &c->m->conf->profile;
	struct text old = {0}, new = {0};
	struct change_list list = {0};

	c->out->compared++;
	if (memcmp(&p->before, &p->after, sizeof(p->before)) &&
	    (exam_bytes(c->s->vault, &p->before, &old) || exam_bytes(c->s->vault, &p->after, &new) ||
	        change_compare(profile, old.s, old.n, new.s, new.n, KEEP, &list))) {
		c->out->different = true;
		text_printf(&c->said,
		    "%s%s is not byte for byte %s, and could not be compared by meaning",
		    c->said.n ? "; " : "", p->channel, c->what);
		tell_channel(c, p->channel, "not compared", WEIGHT_REFUSE, NULL, NULL);
	} else if (list.sameness > CHANGE_SAME_TEXT) {
		tell_different(c, p, &list, &new);
	} else {
		text_printf(&c->said, "%s%s is %s", c->said.n ? "; " : "", p->channel, c->what);
		tell_channel(c, p->channel, change_sameness_name(list.sameness), WEIGHT_OFF, NULL, NULL);
	}
	change_list_free(&list);
	text_free(&old);
	text_free(&new);
}

static void another(struct comparing *c, const struct event_part *p, const char *otherwise)
{
	bool gone = p->has_before && !p->has_after;

	text_printf(&c->said, "%s%s%s", c->said.n ? "; " : "", gone ? p->channel : otherwise,
	    gone ? " is no longer there" : "");
	tell_channel(c, p->channel, gone ? "gone" : "different", WEIGHT_REFUSE, NULL, NULL);
	c->out->compared++;
	c->out->different = true;
}

int sameness_of_parts(struct service *s, const struct service_machine *m, const char *what,
    const struct event_part *part, const char *const *otherwise, uint32_t n,
    struct sameness_result *out)
{
	struct comparing c = {s, m, .what = what, .changes = json_array(), .channels = json_array(),
	    .out = out};
	json_t *o;

	memset(out, 0, sizeof(*out));
	if (vault_machine(s->vault, m->conf->name, &c.held) < 0)
		memset(&c.held, 0, sizeof(c.held));
	for (uint32_t i = 0; i < n; i++)
		if ((part[i].has_before && !part[i].has_after) || (otherwise && otherwise[i]))
			another(&c, &part[i], otherwise ? otherwise[i] : NULL);
		else if (part[i].has_before && part[i].has_after)
			one(&c, &part[i]);
	if (!out->compared)
		text_puts(&c.said, "nothing was carried there to compare it with");
	snprintf(out->text, sizeof(out->text), "%s", c.said.s ? c.said.s : "");
	o = json_pack("{s:o, s:s, s:o}", "changes", c.changes, "weight",
	    finding_weight_name(out->weight), "channels", c.channels);
	out->detail = o ? json_dumps(o, JSON_COMPACT) : NULL;
	json_decref(o);
	text_free(&c.said);
	return out->detail ? 0 : -1;
}
