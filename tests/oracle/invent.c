#include "job.h"

#include <string.h>

enum { CODES = 4, DEPTH = 3 };

/* So that spin has few states to search: with more channels they multiply. */
static int written_max(const struct job *j)
{
	return j->channels == 2 ? 120 : j->channels == 3 ? 50 : 35;
}

static int run_max(const struct job *j)
{
	return j->channels == 2 ? 300 : j->channels == 3 ? 100 : 60;
}

/* What the place at hand allows. */
struct maker {
	struct job *job;
	struct tree *t;
	uint64_t *seed;
	int unit, depth, loops;
	bool quiet;   /* no wait code: it would stand in one branch only */
	bool unknown; /* inside a loop that may run any number of times */
};

uint32_t job_below(uint64_t *seed, uint32_t n)
{
	*seed ^= *seed >> 12;
	*seed ^= *seed << 25;
	*seed ^= *seed >> 27;
	return (uint32_t)(*seed * 0x2545F4914F6CDD1Du >> 33) % n;
}

static uint32_t below(struct maker *m, uint32_t n)
{
	return job_below(m->seed, n);
}

int16_t job_node(struct tree *t, const struct node *from)
{
	if (t->nodes == JOB_NODES)
		return 0;
	t->node[t->nodes] = *from;
	return (int16_t)t->nodes++;
}

static struct term invent_term(struct maker *m)
{
	struct term t = {0};

	if (below(m, 8) == 0) {
		t.unknown = true;
		return t;
	}
	t.add = (int8_t)below(m, 3);
	if (below(m, 3))
		t.var = (uint8_t)(1 + below(m, JOB_VARS));
	if (t.var && below(m, 4) == 0)
		t.plus = (uint8_t)(1 + below(m, JOB_VARS));
	return t;
}

static struct cond invent_cond(struct maker *m)
{
	/* in a macro, likely one of its arguments */
	uint32_t vars = m->unit ? JOB_ARGS : JOB_VARS;
	struct cond c = {.left = {.var = (uint8_t)(1 + below(m, vars))}};

	if (below(m, 4) == 0)
		c.left = invent_term(m);
	c.left.unknown = below(m, 3) == 0;
	c.relation = (uint8_t)below(m, REL_COUNT);
	c.right = (int8_t)below(m, 3);
	return c;
}

static int16_t list(struct maker *m, uint32_t most);

/* A part that is entered under a condition: most say nothing where nobody knows whether it is. */
static int16_t branch(struct maker *m, const struct node *n, uint32_t most)
{
	bool quiet = m->quiet;
	int16_t first;

	m->quiet = quiet || below(m, 4) < (n->cond.left.unknown ? 3u : 1u);
	first = list(m, most);
	m->quiet = quiet;
	return first;
}

static int16_t loop_body(struct maker *m, struct node *n, bool unknown)
{
	bool was = m->unknown;
	int16_t first;

	m->unknown = was || unknown;
	m->loops++;
	first = n->kind == NODE_LOOP || n->kind == NODE_ENDLESS ? list(m, 3) : branch(m, n, 2);
	m->loops--;
	m->unknown = was;
	return first;
}

/* A set value is small and comes from no variable: a loop could count it up for ever. */
static struct term invent_value(struct maker *m)
{
	struct term t = {.add = (int8_t)below(m, 3), .unknown = below(m, 4) == 0};

	return t;
}

static void invent_wait(struct maker *m, struct node *n)
{
	unsigned all = (1u << m->job->channels) - 1;

	n->code = (uint8_t)(1 + below(m, CODES));
	n->partners = (uint8_t)all;
	while (m->job->list != LIST_NONE && below(m, 2)) {
		n->partners = (uint8_t)(1 + below(m, all));
		if (__builtin_popcount(n->partners) >= 2)
			break;
		n->partners = (uint8_t)all;
	}
}

static void invent_call(struct maker *m, struct node *n)
{
	n->unit = (uint8_t)(m->unit + 1 + (int)below(m, (uint32_t)(m->t->units - 1 - m->unit)));
	n->times = below(m, 3) ? 1 : (uint8_t)(1 + below(m, 3));
	if (n->kind != NODE_MACRO)
		return;
	/* Whether a repeated call finds its arguments again or what it left is not agreed. */
	n->times = 1;
	n->args = (uint8_t)(1 + below(m, JOB_ARGS));
	for (int i = 0; i < n->args; i++)
		n->arg[i] = invent_term(m);
}

static enum node_kind draw_kind(struct maker *m)
{
	static const uint8_t weight[NODE_KINDS] = {[NODE_MOVE] = 6,
	    [NODE_WAIT] = 40,
	    [NODE_SIGNAL] = 40,
	    [NODE_SET] = 10,
	    [NODE_CALL] = 9,
	    [NODE_MACRO] = 7,
	    [NODE_LOOP] = 8,
	    [NODE_WHILE] = 3,
	    [NODE_UNTIL] = 3,
	    [NODE_ENDLESS] = 4,
	    [NODE_SKIP] = 8,
	    [NODE_EITHER] = 7,
	    [NODE_JUMP] = 2,
	    [NODE_CHOOSE] = 3,
	    [NODE_LEAVE] = 6,
	    [NODE_THEN] = 5,
	    [NODE_STOP] = 1};
	uint32_t sum = 0, at;
	int k = 0;

	for (int i = 0; i < NODE_KINDS; i++)
		sum += weight[i];
	at = below(m, sum);
	for (; at >= weight[k]; k++)
		at -= weight[k];
	return (enum node_kind)k;
}

static bool fits(const struct maker *m, enum node_kind k)
{
	const unsigned plain = 1u << NODE_MOVE | 1u << NODE_WAIT | 1u << NODE_SIGNAL |
	                       1u << NODE_SET | 1u << NODE_CALL | 1u << NODE_LOOP;

	if (m->job->plain && !(plain >> k & 1))
		return false;
	switch (k) {
	case NODE_WAIT:
		return !m->quiet;
	case NODE_STOP: /* a program with M30 that is not called for certain is a main program */
		return !m->quiet && m->unit == 0;
	case NODE_SIGNAL:
		return m->job->signals && !m->quiet && !m->unknown;
	case NODE_CALL:
	case NODE_MACRO:
		return m->unit + 1 < m->t->units && !m->quiet && !m->unknown;
	case NODE_LOOP:
	case NODE_WHILE:
	case NODE_UNTIL:
		return m->depth < DEPTH && m->loops < JOB_LOOPS;
	case NODE_ENDLESS:
		return !m->unknown && !m->quiet && m->unit == 0 && m->depth == 0 &&
		       !m->job->signals;
	case NODE_SKIP:
	case NODE_EITHER:
	case NODE_JUMP:
		return m->depth < DEPTH;
	/* Where it leads is not known, and what an unknown channel may do is told for two only. In
	   a program that meets nobody it does not matter. */
	case NODE_CHOOSE:
		return m->unit == 0 && !m->unknown && m->depth < DEPTH && m->job->channels == 2;
	case NODE_LEAVE:
		return m->loops > 0;
	default:
		return true;
	}
}

static void invent_parts(struct maker *m, struct node *n)
{
	m->depth++;
	switch (n->kind) {
	case NODE_LOOP:
		n->times = (uint8_t)(1 + below(m, 3));
		n->body = loop_body(m, n, false);
		break;
	case NODE_WHILE:
	case NODE_UNTIL:
		/* a known condition that nothing changes would run for ever or not at all */
		n->cond.left.unknown = true;
		n->body = loop_body(m, n, true);
		break;
	case NODE_ENDLESS:
		n->body = loop_body(m, n, true);
		break;
	case NODE_SKIP:
	case NODE_JUMP:
		n->body = branch(m, n, 3);
		break;
	case NODE_EITHER:
	case NODE_CHOOSE:
		n->body = branch(m, n, 2);
		n->other = below(m, 2) ? n->body : branch(m, n, 2);
		break;
	}
	m->depth--;
}

static int16_t invent_node(struct maker *m)
{
	struct node n = {.times = 1};

	do
		n.kind = (uint8_t)draw_kind(m);
	while (!fits(m, n.kind));
	n.form = (uint8_t)below(m, LOOP_FORMS);
	n.var = (uint8_t)(1 + below(m, JOB_VARS));
	n.from = (uint8_t)below(m, (uint32_t)m->job->channels);
	n.cond = invent_cond(m);
	n.value = invent_value(m);
	if (n.kind == NODE_SIGNAL)
		n.code = (uint8_t)(1 + below(m, 4) / 3);
	if (n.kind == NODE_WAIT)
		invent_wait(m, &n);
	if (n.kind == NODE_CALL || n.kind == NODE_MACRO)
		invent_call(m, &n);
	if (below(m, 14) == 0)
		n.slash = (uint8_t)(1 + below(m, JOB_LEVELS));
	invent_parts(m, &n);
	return job_node(m->t, &n);
}

static int16_t list(struct maker *m, uint32_t most)
{
	int16_t first = 0, last = 0;

	for (uint32_t i = 1 + below(m, most); i > 0; i--) {
		int16_t n = invent_node(m);

		if (n && last)
			m->t->node[last].next = n;
		else if (n)
			first = n;
		last = n ? n : last;
	}
	return first;
}

/* The main program begins with some variables set, so that some conditions are known. */
static void settings(struct maker *m)
{
	int16_t main = m->t->unit[0];

	for (uint8_t v = JOB_VARS; v > 0; v--) {
		struct node n = {.kind = NODE_SET, .var = v, .times = 1, .next = main};

		n.value.add = (int8_t)below(m, 3);
		n.value.unknown = below(m, 5) == 0;
		/* What a program that begins again finds in a variable is not agreed. */
		if (m->job->again || below(m, 4))
			main = job_node(m->t, &n);
	}
	m->t->unit[0] = main;
}

/* Nodes as the model writes them out, an estimate of the steps of a run, wait codes. */
struct size {
	int written, run, codes;
};

static void measure(const struct tree *t, int16_t n, int times, struct size *s)
{
	for (; n && s->written < 200 && s->run < 1000; n = t->node[n].next) {
		const struct node *v = &t->node[n];
		int more = times * v->times;

		s->written++;
		s->run += times;
		s->codes += v->kind == NODE_WAIT;
		for (int i = v->kind == NODE_LOOP && v->form == LOOP_WRITTEN_OUT ? v->times : 1; i;
		     i--)
			measure(t, v->body, more, s);
		measure(t, v->other, more, s);
		if (v->kind == NODE_CALL || v->kind == NODE_MACRO)
			measure(t, t->unit[v->unit], more, s);
	}
}

static void invent_tree(struct job *j, uint64_t *seed)
{
	struct maker m = {.job = j, .t = &j->tree[0], .seed = seed};

	memset(m.t, 0, sizeof *m.t);
	m.t->nodes = 1;
	m.t->units = 1 + (int)below(&m, JOB_UNITS);
	m.t->again = j->again && below(&m, 8) != 0;
	for (m.unit = m.t->units - 1; m.unit >= 0; m.unit--)
		m.t->unit[m.unit] = list(&m, m.unit ? 3 : 6);
	m.unit = 0;
	settings(&m);
}

static bool small(const struct job *j)
{
	const struct tree *t = &j->tree[0];
	struct size s = {0};

	measure(t, t->unit[0], 1, &s);
	return t->nodes < JOB_NODES - 20 && s.written <= written_max(j) && s.run <= run_max(j) &&
	       s.codes > 0;
}

unsigned job_levels(const struct job *j, int c)
{
	unsigned levels = 0;

	for (int i = 1; i < j->tree[c].nodes; i++)
		levels |= 1u << j->tree[c].node[i].slash;
	return levels & ~1u;
}

int job_settings(const struct job *j)
{
	return j->separate ? 16 : 8;
}

unsigned job_on(const struct job *j, int setting, int c)
{
	return j->separate ? ((unsigned)setting >> 2 * c & 3) << 1 : (unsigned)setting << 1;
}

void job_invent(struct job *j, uint64_t seed)
{
	uint64_t random = seed * 0x9E3779B97F4A7C15u | 1;

	for (int i = 0; i < 8; i++)
		job_below(&random, 2);
	do {
		memset(j, 0, sizeof *j);
		j->seed = seed;
		j->channels = job_below(&random, 3) ? 2 : 3 + (int)job_below(&random, 2);
		if (j->channels > 2)
			j->list = job_below(&random, 3);
		j->plain = job_below(&random, 5) == 0;
		j->again = job_below(&random, j->list ? 3 : 7) == 0;
		j->signals = !j->again && job_below(&random, 3) == 0;
		if (j->plain && j->list != LIST_NONE)
			j->again = true;
		if (j->plain)
			j->signals = !j->again;
		j->separate = j->channels == 2 && job_below(&random, 6) == 0;
		invent_tree(j, &random);
	} while (!small(j));
	for (int i = 1; j->separate && i < j->tree[0].nodes; i++)
		j->tree[0].node[i].slash %= 3;
	for (int c = 1; c < j->channels; c++) {
		j->tree[c] = j->tree[0];
		/* the same, written another way */
		for (int i = 1; i < j->tree[c].nodes; i++)
			j->tree[c].node[i].form = (uint8_t)job_below(&random, LOOP_FORMS);
	}
	for (uint32_t i = job_below(&random, 10), n = i < 2 ? 0 : i < 8 ? 1 : 2; n; n--)
		job_spoil(j, &random);
}
