#include "serial_came.h"

#include <stdio.h>
#include <string.h>
#include "canonical.h"
#include "channel_word.h"
#include "serial_work.h"
#include "several.h"
#include "sha256.h"

enum { NAMES = 200 }; /* bytes of a list of program numbers in a sentence */

/* The words of a machine's channels, the asked one's first, and what came without them. */
struct told {
	const char *word[YOKE_CHANNELS_MAX + 1], *channel[YOKE_CHANNELS_MAX + 1];
	size_t n;
	struct channel_word came;
	const uint8_t *text;
	size_t size;
};

static void add_word(struct told *t, const char *channel, const char *word)
{
	for (size_t i = 0; i < t->n; i++)
		if (!strcmp(t->word[i], word))
			return;
	t->channel[t->n] = channel;
	t->word[t->n++] = word;
}

static void told_free(struct told *t)
{
	channel_word_free(&t->came);
}

/* Read what came as the answer of item i. 0, -1 without memory. */
static int told_make(
    struct told *t, const struct job *j, uint32_t i, const struct serial_receive_outcome *o)
{
	const struct carry_order *order = j->order;
	bool any = *order->item[i].line.serial.channel_word;

	*t = (struct told){.text = o->text, .size = o->text_size};
	t->came.first = t->came.second = CHANNEL_WORD_NONE;
	add_word(t, order->item[i].channel, order->item[i].line.serial.channel_word);
	for (size_t k = 0; k < YOKE_CHANNELS_MAX; k++) {
		any = any || *order->word[k].word;
		if (*order->word[k].word)
			add_word(t, order->word[k].channel, order->word[k].word);
	}
	if (!any || !o->text)
		return 0;
	if (channel_word_read(&t->came, o->text, o->text_size, t->word, t->n) < 0)
		return -1;
	t->text = t->came.text;
	t->size = t->came.size;
	return 0;
}

/* True when what came is another channel's, or not this one's alone. */
static bool is_anothers(const struct told *t)
{
	return t->came.first != CHANNEL_WORD_NONE &&
	       (t->came.first != 0 || t->came.second != CHANNEL_WORD_NONE);
}

/* Keep it for the log, and say whose it is. Always -1. */
static int refuse(
    struct job *j, uint32_t i, const struct told *t, const struct serial_receive_outcome *o)
{
	const char *asked = j->order->item[i].channel, *one = t->channel[t->came.first];
	char whose[3 * YOKE_NAME_MAX], note[CARRY_NOTE_MAX + 1];

	if (t->came.second == CHANNEL_WORD_NONE)
		snprintf(whose, sizeof whose, "channel %s", one);
	else
		snprintf(whose, sizeof whose, "channels %s and %s in one stream", one,
		    t->channel[t->came.second]);
	snprintf(note, sizeof note, "the control punched %.100s", whose);
	serial_hand_over(j, i, CARRY_ROLE_RAW, o->raw, o->raw_size, note);
	return fault_set(&j->fault, CARRY_ERROR_CHANNEL, i,
	    "the control punched %s; %s was asked: have channel %s punched, and nothing else",
	    whose, asked, asked);
}

/* What was sent and what came, both taken apart. */
struct came {
	struct job *j;
	uint32_t i;
	const struct serial_receive_outcome *o;
	struct told told;
	struct canonical sent;
	struct several expected, all;
	struct several_match match;
};

static void came_free(struct came *c)
{
	several_match_free(&c->match);
	several_free(&c->all);
	several_free(&c->expected);
	canonical_free(&c->sent);
	told_free(&c->told);
}

static int came_make(struct came *c)
{
	const struct job *j = c->j;

	if (told_make(&c->told, j, c->i, c->o) < 0 ||
	    canonical_make(&c->sent, j->program[c->i], j->order->item[c->i].size) < 0 ||
	    several_read(&c->expected, c->sent.bytes, c->sent.size) < 0 ||
	    several_read(&c->all, c->told.text, c->told.size) < 0 ||
	    several_match(&c->match, &c->expected, &c->all) < 0)
		return fault_set(&c->j->fault, CARRY_ERROR_IO, c->i,
		    "no memory to compare channel %s", j->order->item[c->i].channel);
	return 0;
}

/* The programs that are not in used, one by one; of one alone it is the whole that counts. */
static int hand_more(struct job *j, uint32_t i, const struct serial_receive_outcome *o,
    const struct several *all, const bool *used)
{
	struct carry_channel *c = &j->channel[i];

	c->left_out = o->before + all->behind + o->after;
	for (size_t k = 0; all->parts > 1 && k < all->parts; k++) {
		const struct several_part *p = &all->part[k];
		char name[SEVERAL_NAME];

		if ((used && used[k]) || c->more++ >= CARRY_MORE_MAX)
			continue;
		several_name(p, name);
		if (serial_hand_over(j, i, CARRY_ROLE_MORE, all->text + p->at, p->size, name))
			return -1;
	}
	if (used && c->more > CARRY_MORE_MAX)
		return serial_hand_over(j, i, CARRY_ROLE_RAW, o->raw, o->raw_size,
		    "more programs than are kept one by one");
	return 0;
}

static bool is_equal(const struct came *c)
{
	if (c->sent.size == c->all.end && !memcmp(c->sent.bytes, c->told.text, c->all.end))
		return true;
	return c->match.way == SEVERAL_ALL && c->match.line == 0;
}

/* Of two texts without a number in common: the first line that differs. */
static unsigned long long first_line(const struct came *c)
{
	struct canonical back;
	unsigned long long line = 1;

	if (canonical_make(&back, c->told.text, c->all.end) == 0)
		line = canonical_difference(&c->sent, &back);
	canonical_free(&back);
	return line;
}

/* What came differs: in which way. Always -1. */
static int tell(struct came *c)
{
	const struct several_match *m = &c->match;
	struct several_part part = {.numbered = m->numbered, .number = m->number};
	const char *channel = c->j->order->item[c->i].channel;
	char name[SEVERAL_NAME], names[NAMES];

	several_name(&part, name);
	several_names(&c->all, NULL, names, sizeof names);
	if (m->way == SEVERAL_TWICE)
		return fault_set(&c->j->fault, CARRY_ERROR_DIFFERS, c->i,
		    "channel %s: %s came twice with different text, or was sent twice: which of "
		    "them "
		    "the control runs cannot be told; look at the control, and punch it alone",
		    channel, name);
	if (m->way == SEVERAL_NONE && m->numbered && *names)
		return fault_set(&c->j->fault, CARRY_ERROR_DIFFERS, c->i,
		    "channel %s differs from what was sent: %s came, and not %s; look at the "
		    "control before the next cycle",
		    channel, names, name);
	if (m->way == SEVERAL_SOME)
		return fault_set(&c->j->fault, CARRY_ERROR_DIFFERS, c->i,
		    "channel %s differs from what was sent: %s of it did not come; look at the "
		    "control before the next cycle",
		    channel, m->numbered ? name : "what stands before the program number");
	return fault_set(&c->j->fault, CARRY_ERROR_DIFFERS, c->i,
	    "channel %s differs from what was sent, first in line %llu; look at the control before "
	    "the next cycle",
	    channel, m->way == SEVERAL_ALL ? (unsigned long long)m->line : first_line(c));
}

static int differs(struct came *c)
{
	const struct several_match *m = &c->match;
	struct carry_channel *channel = &c->j->channel[c->i];
	bool chosen = m->text && !m->plain;
	const uint8_t *text = chosen ? m->text : c->told.text;
	size_t n = chosen ? m->size : c->all.end;

	channel->held = m->way == SEVERAL_TWICE ? CARRY_HELD_UNKNOWN : CARRY_HELD_OTHER;
	channel->has_sha = m->way != SEVERAL_TWICE && sha256_of(text, n, channel->sha.b) == 0;
	serial_hand_over(c->j, c->i, CARRY_ROLE_COPY, text, n, "");
	return tell(c);
}

int serial_came_compare(struct job *j, uint32_t i, const struct serial_receive_outcome *o)
{
	struct came c = {.j = j, .i = i, .o = o};
	struct carry_channel *channel = &j->channel[i];
	int rc = came_make(&c);

	if (!rc && is_anothers(&c.told)) {
		rc = refuse(j, i, &c.told, o);
		goto out;
	}
	if (!rc && is_equal(&c)) {
		channel->compared = channel->has_sha = 1;
		channel->sha = j->order->item[i].want;
	} else if (!rc) {
		rc = differs(&c);
	}
	if (c.match.used && hand_more(j, i, o, &c.all, c.match.used))
		rc = -1;
out:
	came_free(&c);
	return rc;
}

static int fetched(
    struct job *j, uint32_t i, const struct told *t, const struct serial_receive_outcome *o)
{
	const struct carry_item *it = &j->order->item[i];
	struct carry_channel *c = &j->channel[i];
	struct several all;
	int rc;

	if (several_read(&all, t->text, t->size) < 0)
		return fault_set(&j->fault, CARRY_ERROR_IO, i, "no memory to receive");
	c->bytes = all.end;
	c->has_sha = sha256_of(t->text, all.end, c->sha.b) == 0;
	c->held = it->has_expect && c->has_sha && !memcmp(&it->expect, &c->sha, sizeof c->sha)
	              ? CARRY_HELD_OLD
	              : CARRY_HELD_OTHER;
	rc = serial_hand_over(j, i, CARRY_ROLE_COPY, t->text, all.end, "");
	if (!rc)
		rc = hand_more(j, i, o, &all, NULL);
	several_free(&all);
	return rc;
}

int serial_came_fetched(struct job *j, uint32_t i, const struct serial_receive_outcome *o)
{
	struct told t;
	int rc;

	if (told_make(&t, j, i, o) < 0)
		return fault_set(&j->fault, CARRY_ERROR_IO, i, "no memory to receive");
	rc = is_anothers(&t) ? refuse(j, i, &t, o) : fetched(j, i, &t, o);
	told_free(&t);
	return rc;
}

/* The item on the line of item i whose word came first; i when none did. */
static uint32_t whose(const struct job *j, uint32_t i, const struct told *t)
{
	const struct carry_order *o = j->order;

	if (t->came.first == CHANNEL_WORD_NONE)
		return i;
	for (uint32_t k = 0; k < o->items; k++)
		if (!strcmp(o->item[k].line.serial.address, o->item[i].line.serial.address) &&
		    !strcmp(o->item[k].line.serial.channel_word, t->word[t->came.first]))
			return k;
	return i;
}

int serial_came_unasked(struct job *j, uint32_t i, const struct serial_receive_outcome *o)
{
	struct told t;
	int rc;

	if (told_make(&t, j, i, o) < 0)
		return fault_set(&j->fault, CARRY_ERROR_IO, i, "no memory to receive");
	rc = serial_hand_over(j, whose(j, i, &t), CARRY_ROLE_UNASKED, t.text, t.size, "");
	told_free(&t);
	return rc;
}

uint32_t serial_came_of(const struct job *j, const struct serial_receive_outcome *o,
    const bool waits[YOKE_CHANNELS_MAX])
{
	uint32_t first = 0, of;
	struct told t;

	while (first < j->order->items && !waits[first])
		first++;
	if (first == j->order->items || told_make(&t, j, first, o) < 0)
		return first;
	of = whose(j, first, &t);
	told_free(&t);
	return waits[of] ? of : first;
}

void serial_came_where(const struct serial_receive_outcome *o, char out[SERIAL_CAME_WHERE])
{
	char name[SEVERAL_NAME] = "";
	struct several all;
	size_t k = 0;

	out[0] = '\0';
	if (several_read(&all, o->text, o->text_size) < 0)
		return;
	while (k + 1 < all.parts && all.part[k + 1].line <= o->damage_line)
		k++;
	if (k < all.parts)
		several_name(&all.part[k], name);
	if (all.parts > 1)
		snprintf(
		    out, SERIAL_CAME_WHERE, " of all that came%s%s", *name ? ", in " : "", name);
	several_free(&all);
}
