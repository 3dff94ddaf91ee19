#include "invented.h"

#include <stdlib.h>
#include <string.h>
#include "yoke/limits.h"

/* xorshift64: the same programs in every run. */
static uint64_t random_state = 0x9E3779B97F4A7C15u;

uint32_t invented_below(uint32_t n)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return (uint32_t)(random_state >> 24) % n;
}

const struct item *invented_block(const struct unit *u, const struct item *i)
{
	return &u->item[i->first];
}

/* Partners of a code in channel c: itself and one other, or all (0). */
static int some_partners(const struct kind *k, int c)
{
	int other = (int)invented_below((uint32_t)k->channels);

	return !k->partners || invented_below(3) == 0 || other == c ? 0 : 1 << c | 1 << other;
}

static void invent_items(
    struct unit *u, int s, int depth, int first, int items, const struct kind *k, int c);

static void invent_block(
    struct unit *u, struct item *i, int s, int depth, const struct kind *k, int c)
{
	int items = 1 + (int)invented_below(ITEMS - 2);

	i->first = u->n;
	i->items = items;
	u->n += items;
	invent_items(u, s, depth + 1, i->first, items, k, c);
}

static void invent_items(
    struct unit *u, int s, int depth, int first, int items, const struct kind *k, int c)
{
	for (int n = first; n < first + items; n++) {
		struct item *i = &u->item[n];
		uint32_t dice = invented_below(20);

		*i = (struct item){
		    .slash = invented_below(6) ? 0 : 1 + (int)invented_below(SWITCHES),
		    .code = 200 + (int)invented_below(3),
		    .partners = some_partners(k, c),
		    .local = 1 + (int)invented_below(3),
		    .value = (int)invented_below(3),
		    .repeat = 1 + (int)invented_below(2)};
		i->what = dice < 9    ? WAIT
		          : dice < 11 ? SET
		          : dice < 12 ? ADD
		          : dice < 14 ? CALL
		          : dice < 15 ? MACRO
		          : dice < 17 ? IF_UNKNOWN
		          : dice < 18 ? IF_KNOWN
		                      : LOOP;
		if (k->signals && i->what == WAIT && invented_below(2))
			i->what = invented_below(2) ? SEND : RECEIVE;
		if ((i->what == CALL || i->what == MACRO) && s == SUBS - 1)
			i->what = WAIT;
		if (i->what == CALL || i->what == MACRO)
			i->code = s + 1 + (int)invented_below((uint32_t)(SUBS - 1 - s));
		if (i->what >= IF_UNKNOWN && (depth == DEPTH || u->n > 40))
			i->what = WAIT;
		if (i->what == LOOP)
			i->slash = 0;
		if (i->what >= IF_UNKNOWN)
			invent_block(u, i, s, depth, k, c);
	}
}

void invented_make(struct program *p, const struct kind *k, int c)
{
	for (int s = 0; s < SUBS; s++) {
		struct unit *u = &p->unit[s];

		u->items = 1 + (int)invented_below(ITEMS);
		u->first = 0;
		u->n = u->items;
		invent_items(u, s, 0, 0, u->items, k, c);
	}
}

/* A small mistake somewhere; most leave the program as it was. */
void invented_spoil(struct program *p)
{
	struct unit *u = &p->unit[invented_below(2) ? 0 : invented_below(SUBS)];
	struct item *i = &u->item[invented_below((uint32_t)u->n)];

	if (i->what <= RECEIVE)
		i->code = 200 + (int)invented_below(3);
	else if (i->what != LOOP)
		i->slash = 0;
}

/* The program of channel 0 for channel c: the meetings that do not name it are others', and what
 * the one sends the other waits for. */
void invented_adapt(struct program *p, int c)
{
	for (int s = 0; s < SUBS; s++) {
		for (int n = 0; n < p->unit[s].n; n++) {
			struct item *i = &p->unit[s].item[n];

			if (i->what == SEND || i->what == RECEIVE)
				i->what = i->what == SEND ? RECEIVE : SEND;
			if (i->what != WAIT || !i->partners || i->partners >> c & 1)
				continue;
			*i = (struct item){.what = SET, .local = 9, .slash = i->slash};
		}
	}
}

/* The counter of a loop: nobody else sets it. */
static int counter(int s, int depth)
{
	return 10 + s * 4 + depth;
}

struct writer {
	struct text *t;
	int label;
};

static void write_items(
    struct writer *w, const struct unit *u, int s, int depth, const struct item *i, int items);

static void write_slash(struct writer *w, const struct item *i)
{
	if (i->slash)
		text_printf(w->t, "/%d ", i->slash);
}

static void write_branch(
    struct writer *w, const struct unit *u, int s, int depth, const struct item *i)
{
	int label = w->label += 10;

	write_slash(w, i);
	if (i->what == IF_UNKNOWN)
		text_printf(w->t, "IF [#%d EQ 1] GOTO %d\n", 500 + i->local, label);
	else
		text_printf(w->t, "IF [#%d EQ %d] GOTO %d\n", i->local, i->value, label);
	write_items(w, u, s, depth + 1, invented_block(u, i), i->items);
	text_printf(w->t, "N%d\n", label);
}

static void write_loop(
    struct writer *w, const struct unit *u, int s, int depth, const struct item *i)
{
	int c = counter(s, depth);

	text_printf(w->t, "#%d=0\nWHILE [#%d LT %d] DO%d\n", c, c, i->repeat, depth + 1);
	write_items(w, u, s, depth + 1, invented_block(u, i), i->items);
	text_printf(w->t, "#%d=#%d+1\nEND%d\n", c, c, depth + 1);
}

static void write_code(struct writer *w, const struct item *i, int code)
{
	text_printf(w->t, "M%d", code);
	for (int c = 0; c < YOKE_CHANNELS_MAX; c++)
		if (i->partners >> c & 1)
			text_printf(w->t, "%s%d", i->partners & ((1 << c) - 1) ? "" : " P", c + 1);
	text_putc(w->t, '\n');
}

static void write_item(
    struct writer *w, const struct unit *u, int s, int depth, const struct item *i)
{
	if (i->what == IF_UNKNOWN || i->what == IF_KNOWN) {
		write_branch(w, u, s, depth, i);
		return;
	}
	if (i->what == LOOP) {
		write_loop(w, u, s, depth, i);
		return;
	}
	write_slash(w, i);
	if (i->what == WAIT)
		write_code(w, i, i->code);
	else if (i->what == SEND)
		write_code(w, i, i->code + 200);
	else if (i->what == RECEIVE)
		text_printf(w->t, "M%d\n", i->code + 300);
	else if (i->what == SET)
		text_printf(w->t, "#%d=%d\n", i->local, i->value);
	else if (i->what == ADD)
		text_printf(w->t, "#%d=#%d+%d\n", i->local, 1 + i->value, i->value);
	else if (i->what == CALL)
		text_printf(w->t, "M98 P%d L%d\n", i->code + 1, i->repeat);
	else
		text_printf(w->t, "G65 P%d B#%d\n", i->code + 1, i->local);
}

static void write_items(
    struct writer *w, const struct unit *u, int s, int depth, const struct item *i, int items)
{
	for (int n = 0; n < items; n++)
		write_item(w, u, s, depth, &i[n]);
}

void invented_write(const struct program *p, struct text *t)
{
	for (int s = 0; s < SUBS; s++) {
		struct writer w = {t, 0};

		text_printf(t, "O%d\n", s + 1);
		write_items(&w, &p->unit[s], s, 0, p->unit[s].item, p->unit[s].items);
		text_puts(t, s ? "M99\n" : "M30\n");
	}
}
