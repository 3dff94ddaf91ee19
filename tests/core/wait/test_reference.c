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
#include "invented.h"

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
		i->what >= IF_UNKNOWN
		    ? run_items(r, l, u, s, depth + 1, invented_block(u, i), i->items)
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
			    : run_items(r, l, u, s, depth + 1, invented_block(u, i), i->items);
	else {
		if (i->what == IF_KNOWN && l->known[i->local])
			over = l->v[i->local] == i->value;
		else
			over = ask(r);
		if (!over)
			run_items(r, l, u, s, depth + 1, invented_block(u, i), i->items);
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
		invented_write(&p[i], &t[i]);
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
				invented_make(&p[i], k, i);
			} else {
				p[i] = p[0];
				invented_adapt(&p[i], i);
			}
			for (int m = (int)invented_below(3); m; m--)
				invented_spoil(&p[i]);
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
	rounds(&(struct kind){.channels = 2}, 800);
}

static void three_channels(void **state)
{
	rounds(&(struct kind){.channels = 3}, 250);
}

static void partners(void **state)
{
	rounds(&(struct kind){.channels = 3, .partners = true}, 250);
	rounds(&(struct kind){.channels = 4, .partners = true}, 120);
}

static void signals(void **state)
{
	rounds(&(struct kind){.channels = 2, .signals = true}, 500);
	rounds(&(struct kind){.channels = 3, .signals = true, .partners = true}, 120);
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
