/* Loops and repeated programs that two channels go through a different number of times. */
#include "repair.h"

/* Rounds of a loop that are followed at most, to count them. */
enum { ROUNDS_MAX = 1000000 };

/* The kept rungs back from the last one, in which this channel goes on; NULL when there are no
 * more, or some were left out between. */
static const struct wait_rung *rung_before(const struct wait_result *out, size_t channel, size_t *i)
{
	while (*i) {
		const struct wait_rung *r = &out->rung[--*i];

		if (r->repeat)
			return NULL;
		if (r->channel[channel].takes_part)
			return r;
	}
	return NULL;
}

/* One round of the loop: the codes that a met since it stood at this code before. */
struct loop {
	const struct wait_code *code[64];
	size_t n;
	const struct wait_code *mate; /* where b was when a stood at this code before */
};

static bool find_loop(
    const struct wait_result *out, const struct wait_code *here, size_t a, size_t b, struct loop *l)
{
	size_t i = out->rungs - 1;
	const struct wait_rung *r;

	l->n = 0;
	while (l->n < sizeof l->code / sizeof l->code[0] && (r = rung_before(out, a, &i))) {
		l->code[l->n++] = r->channel[a].code;
		if (r->channel[a].code != here)
			continue;
		l->mate = r->channel[b].code;
		return l->mate && r->channel[b].takes_part;
	}
	return false;
}

/* Rounds that a still goes through; w then stands behind them. 0 when it does not leave after a
 * whole one. */
static uint64_t rounds(struct wait_walk *w, const struct loop *l)
{
	for (uint64_t n = 0; n < ROUNDS_MAX; n++) {
		for (size_t k = 0; k < l->n; k++) {
			/* code[n - 1] is the one at which it stands now, code[0] the one before */
			if (wait_walk_code(w) != l->code[l->n - 1 - k])
				return k ? 0 : n;
			repair_next(w);
		}
	}
	return 0;
}

static uint64_t visits(const struct product *p, size_t channel, const struct wait_code *code)
{
	return p->visits[channel][code - p->walk[channel].f->code];
}

/* The code belongs to a program that is called. */
static bool called(const struct wait_flow *f, const struct wait_code *code)
{
	for (uint32_t i = 0; i < f->instrs; i++)
		if (f->instr[i].op == WAIT_OP_CODE && &f->code[f->instr[i].a] == code)
			return wait_flow_unit_of(f, i) != 0;
	return false;
}

int repair_repeats(const struct product *p, struct wait_result *out, size_t a, size_t b)
{
	const struct wait_code *here = wait_walk_code(&p->walk[a]);
	struct ahead ha, hb;
	struct wait_walk w;
	struct loop l;
	uint64_t more;
	bool ok;

	if (!here || !find_loop(out, here, a, b, &l))
		return 0;
	if (!wait_walk_copy(&w, &p->walk[a]))
		return -1;
	more = rounds(&w, &l);
	ok = repair_ahead(&ha, p, &w, a, b);
	wait_walk_end(&w);
	if (!ok || !repair_ahead(&hb, p, &p->walk[b], b, a))
		return -1;
	/* a mate that is written once and is one short may just as well lack a code */
	if (more < 2 && visits(p, b, l.mate) < 2 && !called(p->walk[b].f, l.mate))
		return 0;
	if (!more || !repair_whole(repair_agree(&ha, 0, &hb, 0)))
		return 0;
	out->repair = FINDING_WAIT_REPEATS;
	out->channel_a = (int)a;
	out->channel_b = (int)b;
	out->place_a = here->at;
	out->place_b = l.mate->at;
	out->code_a = here->code;
	out->code_b = l.mate->code;
	out->times_a = visits(p, a, here) + more;
	out->times_b = visits(p, b, l.mate);
	return 1;
}
