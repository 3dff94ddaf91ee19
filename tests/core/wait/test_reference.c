/*
 * Goal: the proof says what all runs say. Small random programs with branches on unknown and known
 * data, loops, calls, macros, slashes, partners and signals are also run by a plain interpreter,
 * written from the rules and not from the code, over every way that unknown data can take and every
 * setting of the switches; then every combination of the channels' runs is played out.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"

enum {
	ITEMS = 5, /* of a block */
	DEPTH = 2, /* blocks in blocks */
	SUBS = 3,  /* programs of a file */
	LOCALS = 34,
	EVENTS = 64,  /* of a run */
	ASKED = 10,   /* unknown conditions of a run */
	RUNS = 1024,  /* different runs of a channel */
	SWITCHES = 2, /* levels 1 and 2 */
};

/* xorshift64: the same programs in every run. */
static uint64_t random_state = 0x9E3779B97F4A7C15u;

static uint32_t below(uint32_t n)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return (uint32_t)(random_state >> 24) % n;
}

/* What a program may hold; the profile of the round says what of it is in use. */
struct kind {
	int channels;
	bool partners, signals;
};

struct item {
	enum { WAIT, SEND, RECEIVE, SET, ADD, CALL, MACRO, IF_UNKNOWN, IF_KNOWN, LOOP } what;
	int slash, code, partners, local, value, repeat;
	int first, items; /* of the block inside */
};

struct unit {
	struct item item[64];
	int n, first, items; /* its outer block */
};

struct program {
	struct unit unit[SUBS];
};

static const struct item *block_of(const struct unit *u, const struct item *i)
{
	return &u->item[i->first];
}

/* Partners of a code in channel c: itself and one other, or all (0). */
static int some_partners(const struct kind *k, int c)
{
	int other = (int)below((uint32_t)k->channels);

	return !k->partners || below(3) == 0 || other == c ? 0 : 1 << c | 1 << other;
}

static void invent_items(
    struct unit *u, int s, int depth, int first, int items, const struct kind *k, int c);

static void invent_block(
    struct unit *u, struct item *i, int s, int depth, const struct kind *k, int c)
{
	int items = 1 + (int)below(ITEMS - 2);

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
		uint32_t dice = below(20);

		*i = (struct item){.slash = below(6) ? 0 : 1 + (int)below(SWITCHES),
		    .code = 200 + (int)below(3),
		    .partners = some_partners(k, c),
		    .local = 1 + (int)below(3),
		    .value = (int)below(3),
		    .repeat = 1 + (int)below(2)};
		i->what = dice < 9    ? WAIT
		          : dice < 11 ? SET
		          : dice < 12 ? ADD
		          : dice < 14 ? CALL
		          : dice < 15 ? MACRO
		          : dice < 17 ? IF_UNKNOWN
		          : dice < 18 ? IF_KNOWN
		                      : LOOP;
		if (k->signals && i->what == WAIT && below(2))
			i->what = below(2) ? SEND : RECEIVE;
		if ((i->what == CALL || i->what == MACRO) && s == SUBS - 1)
			i->what = WAIT;
		if (i->what == CALL || i->what == MACRO)
			i->code = s + 1 + (int)below((uint32_t)(SUBS - 1 - s));
		if (i->what >= IF_UNKNOWN && (depth == DEPTH || u->n > 40))
			i->what = WAIT;
		if (i->what == LOOP)
			i->slash = 0;
		if (i->what >= IF_UNKNOWN)
			invent_block(u, i, s, depth, k, c);
	}
}

static void invent(struct program *p, const struct kind *k, int c)
{
	for (int s = 0; s < SUBS; s++) {
		struct unit *u = &p->unit[s];

		u->items = 1 + (int)below(ITEMS);
		u->first = 0;
		u->n = u->items;
		invent_items(u, s, 0, 0, u->items, k, c);
	}
}

/* A small mistake somewhere; most leave the program as it was. */
static void spoil(struct program *p)
{
	struct unit *u = &p->unit[below(2) ? 0 : below(SUBS)];
	struct item *i = &u->item[below((uint32_t)u->n)];

	if (i->what <= RECEIVE)
		i->code = 200 + (int)below(3);
	else if (i->what != LOOP)
		i->slash = 0;
}

/* The program of channel 0 for channel c: the meetings that do not name it are others', and what
 * the one sends the other waits for. */
static void adapt(struct program *p, int c)
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
	write_items(w, u, s, depth + 1, block_of(u, i), i->items);
	text_printf(w->t, "N%d\n", label);
}

static void write_loop(
    struct writer *w, const struct unit *u, int s, int depth, const struct item *i)
{
	int c = counter(s, depth);

	text_printf(w->t, "#%d=0\nWHILE [#%d LT %d] DO%d\n", c, c, i->repeat, depth + 1);
	write_items(w, u, s, depth + 1, block_of(u, i), i->items);
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

static void write_out(const struct program *p, struct text *t)
{
	for (int s = 0; s < SUBS; s++) {
		struct writer w = {t, 0};

		text_printf(t, "O%d\n", s + 1);
		write_items(&w, &p->unit[s], s, 0, p->unit[s].item, p->unit[s].items);
		text_puts(t, s ? "M99\n" : "M30\n");
	}
}

/* One run, down one string of answers to unknown conditions. */
struct event {
	int what, code, partners;
};

struct run {
	struct event event[EVENTS];
	int n;
};

struct interpreter {
	const struct program *p;
	unsigned on;
	unsigned answers;
	int asked;
	bool too_long;
	struct run run;
};

struct locals {
	bool known[LOCALS];
	int v[LOCALS];
};

static bool ask(struct interpreter *r)
{
	if (r->asked == ASKED) {
		r->too_long = true;
		return true;
	}
	return r->answers >> r->asked++ & 1;
}

static void run_items(struct interpreter *r, struct locals *l, const struct unit *u, int s,
    int depth, const struct item *i, int items);

static void run_unit(struct interpreter *r, struct locals *l, int s)
{
	const struct unit *u = &r->p->unit[s];

	run_items(r, l, u, s, 0, u->item, u->items);
}

static void run_macro(struct interpreter *r, const struct locals *l, const struct item *i)
{
	struct locals own = {0};

	/* B is #2 (common practice) */
	own.known[2] = l->known[i->local];
	own.v[2] = l->v[i->local];
	run_unit(r, &own, i->code);
}

static void run_set(struct locals *l, const struct item *i)
{
	bool sum = i->what == ADD;
	bool known = !sum || l->known[1 + i->value];
	int v = i->value + (sum ? l->v[1 + i->value] : 0);

	l->known[i->local] = known;
	l->v[i->local] = v;
}

static void run_item(struct interpreter *r, struct locals *l, const struct unit *u, int s,
    int depth, const struct item *i)
{
	bool over = false;

	if (i->slash && r->on >> i->slash & 1)
		/* a skipped condition does not jump */
		i->what >= IF_UNKNOWN ? run_items(r, l, u, s, depth + 1, block_of(u, i), i->items)
		                      : (void)0;
	else if (i->what <= RECEIVE && r->run.n == EVENTS)
		r->too_long = true;
	else if (i->what <= RECEIVE)
		r->run.event[r->run.n++] = (struct event){i->what, i->code, i->partners};
	else if (i->what == SET || i->what == ADD)
		run_set(l, i);
	else if (i->what == MACRO)
		run_macro(r, l, i);
	else if (i->what == CALL || i->what == LOOP)
		for (int k = 0; k < i->repeat && !r->too_long; k++)
			i->what == CALL
			    ? run_unit(r, l, i->code)
			    : run_items(r, l, u, s, depth + 1, block_of(u, i), i->items);
	else {
		if (i->what == IF_KNOWN && l->known[i->local])
			over = l->v[i->local] == i->value;
		else
			over = ask(r);
		if (!over)
			run_items(r, l, u, s, depth + 1, block_of(u, i), i->items);
	}
}

static void run_items(struct interpreter *r, struct locals *l, const struct unit *u, int s,
    int depth, const struct item *i, int items)
{
	for (int n = 0; n < items && !r->too_long; n++)
		run_item(r, l, u, s, depth, &i[n]);
}

/* Every run of a channel under one setting, each once; -1 when there are too many. */
static int runs_of(const struct program *p, unsigned on, struct run *out)
{
	int n = 0;
	unsigned answers = 0;

	for (;;) {
		struct interpreter r = {.p = p, .on = on, .answers = answers};
		struct locals l = {0};
		int k = 0, last;

		memset(&r.run, 0, sizeof r.run);
		run_unit(&r, &l, 0);
		if (r.too_long || n == RUNS)
			return -1;
		while (k < n && memcmp(&out[k], &r.run, sizeof r.run) != 0)
			k++;
		if (k == n)
			out[n++] = r.run;
		/* the last answer that was no becomes yes, and what comes behind it is forgotten */
		last = r.asked - 1;
		while (last >= 0 && answers >> last & 1)
			last--;
		if (last < 0)
			return n;
		answers = (answers & ((1u << last) - 1)) | 1u << last;
	}
}

/* Channels that stand where; signals by receiving channel and code. */
struct play {
	const struct run *run[YOKE_CHANNELS_MAX];
	int at[YOKE_CHANNELS_MAX], signal[YOKE_CHANNELS_MAX][3];
	int n, rungs;
};

static const struct event *event_at(const struct play *p, int c)
{
	return p->at[c] < p->run[c]->n ? &p->run[c]->event[p->at[c]] : NULL;
}

static int partners_of(const struct play *p, const struct event *e)
{
	return e->partners ? e->partners : (1 << p->n) - 1;
}

static bool play_meeting(struct play *p, int c)
{
	const struct event *e = event_at(p, c);
	int set = partners_of(p, e);

	for (int k = 0; k < p->n; k++) {
		const struct event *o = event_at(p, k);

		if (!(set >> k & 1))
			continue;
		if (!o || o->what != WAIT || o->code != e->code || partners_of(p, o) != set)
			return false;
	}
	for (int k = 0; k < p->n; k++)
		p->at[k] += set >> k & 1;
	return true;
}

static bool play_one(struct play *p, int c)
{
	const struct event *e = event_at(p, c);

	if (!e)
		return false;
	if (e->what == WAIT)
		return play_meeting(p, c);
	if (e->what == RECEIVE && !p->signal[c][e->code - 200])
		return false;
	if (e->what == RECEIVE)
		p->signal[c][e->code - 200]--;
	for (int k = 0; e->what == SEND && k < p->n; k++)
		p->signal[k][e->code - 200] += k != c && partners_of(p, e) >> k & 1;
	p->at[c]++;
	return true;
}

/* Whether all come to their end. */
static bool plays_out(struct play *p)
{
	bool moved = true, all = true;

	while (moved) {
		moved = false;
		for (int c = 0; c < p->n; c++) {
			if (!play_one(p, c))
				continue;
			p->rungs++;
			moved = true;
		}
	}
	for (int c = 0; c < p->n; c++)
		all &= !event_at(p, c);
	return all;
}

struct verdicts {
	bool fails, good;
	int shortest; /* rungs of the shortest run that fails */
};

static struct run runs[YOKE_CHANNELS_MAX][RUNS];

/* Every combination under one setting; false when there are too many. */
static bool combine(const struct program *p, int n, unsigned on, struct verdicts *v)
{
	int count[YOKE_CHANNELS_MAX], pick[YOKE_CHANNELS_MAX] = {0};
	long all = 1;
	int c;

	memset(v, 0, sizeof *v);
	for (c = 0; c < n; c++) {
		count[c] = runs_of(&p[c], on, runs[c]);
		if (count[c] < 0 || (all *= count[c]) > 5000)
			return false;
	}
	do {
		struct play play = {.n = n};
		bool good;

		for (c = 0; c < n; c++)
			play.run[c] = &runs[c][pick[c]];
		good = plays_out(&play);
		if (!good && (!v->fails || play.rungs < v->shortest))
			v->shortest = play.rungs;
		v->fails |= !good;
		v->good |= good;
		for (c = 0; c < n && ++pick[c] == count[c]; c++)
			pick[c] = 0;
	} while (c < n);
	return true;
}

struct expected {
	enum verdict verdict;
	struct verdicts of[1 << (SWITCHES + 1)]; /* by switches that are on */
};

static bool expect(const struct program *p, int n, struct expected *e)
{
	bool disagree = false, fails = false;

	for (unsigned on = 0; on < 2 << SWITCHES; on += 2) {
		if (!combine(p, n, on, &e->of[on]))
			return false;
		disagree |= e->of[on].fails && !e->of[on].good;
		fails |= e->of[on].fails;
	}
	e->verdict = disagree ? VERDICT_DISAGREE : fails ? VERDICT_CANNOT_TELL : VERDICT_AGREE;
	return true;
}

static void check(const struct program *p, const struct kind *k, struct channels *c,
    const struct expected *e, struct text *t)
{
	unsigned on;
	bool ok;

	channels_begin(c);
	c->profile.channels = (uint32_t)k->channels;
	c->profile.partners = PROFILE_PARTNERS_DIGITS;
	c->profile.partners_letter = 'P';
	c->profile.send[0] = (struct profile_range){400, 409};
	c->profile.receive[0] = (struct profile_range){500, 509};
	c->profile.sends = c->profile.receives = 1;
	for (int i = 0; i < k->channels; i++) {
		write_out(&p[i], &t[i]);
		assert_false(t[i].failed);
		channels_add(c, t[i].s);
	}
	channels_prove(c);
	on = c->result.run[0].on;
	ok = c->result.verdict == e->verdict;
	if (ok && e->verdict != VERDICT_AGREE)
		ok = e->of[on].fails && (int)c->result.meetings == e->of[on].shortest;
	if (ok)
		return;
	for (int i = 0; i < k->channels; i++)
		print_error("channel %d:\n%s", i + 1, t[i].s);
	fail_msg("expected %d, %d rungs with %x; got %d, %u rungs", (int)e->verdict,
	    e->of[on].shortest, on, (int)c->result.verdict, (unsigned)c->result.meetings);
}

static void rounds(const struct kind *k, int n)
{
	int seen[3] = {0};

	for (int round = 0; round < n; round++) {
		static struct program p[YOKE_CHANNELS_MAX];
		static struct expected e;
		struct text t[YOKE_CHANNELS_MAX] = {{0}};
		struct channels c;

		for (int i = 0; i < k->channels; i++) {
			if (i == 0) {
				invent(&p[i], k, i);
			} else {
				p[i] = p[0];
				adapt(&p[i], i);
			}
			for (int m = (int)below(3); m; m--)
				spoil(&p[i]);
		}
		if (!expect(p, k->channels, &e))
			continue;
		check(p, k, &c, &e, t);
		seen[e.verdict]++;
		channels_end(&c);
		for (int i = 0; i < k->channels; i++)
			text_free(&t[i]);
	}
	print_message("%d agree, %d disagree, %d cannot tell\n", seen[VERDICT_AGREE],
	    seen[VERDICT_DISAGREE], seen[VERDICT_CANNOT_TELL]);
	assert_true(seen[VERDICT_DISAGREE] > n / 100);
	assert_true(seen[VERDICT_CANNOT_TELL] > n / 100);
	assert_true(seen[VERDICT_AGREE] > n / 100);
}

static void two_channels(void **state)
{
	rounds(&(struct kind){.channels = 2}, 3000);
}

static void three_channels(void **state)
{
	rounds(&(struct kind){.channels = 3}, 1000);
}

static void partners(void **state)
{
	rounds(&(struct kind){.channels = 3, .partners = true}, 1000);
	rounds(&(struct kind){.channels = 4, .partners = true}, 200);
}

static void signals(void **state)
{
	rounds(&(struct kind){.channels = 2, .signals = true}, 800);
	rounds(&(struct kind){.channels = 3, .signals = true, .partners = true}, 200);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(two_channels),
	    cmocka_unit_test(three_channels),
	    cmocka_unit_test(partners),
	    cmocka_unit_test(signals),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
