/* Small mistakes, as they are made at an editor. */
#include "job.h"

enum { TRIES = 40 };

static struct node *pick(struct tree *t, uint64_t *seed, unsigned kinds)
{
	for (int i = 0; i < TRIES; i++) {
		struct node *n = &t->node[1 + (int)job_below(seed, (uint32_t)(t->nodes - 1))];

		if (kinds >> n->kind & 1)
			return n;
	}
	return NULL;
}

static const unsigned codes = 1u << NODE_WAIT | 1u << NODE_SIGNAL;
static const unsigned conditions =
    1u << NODE_SKIP | 1u << NODE_EITHER | 1u << NODE_LEAVE | 1u << NODE_THEN;
static const unsigned repeats = 1u << NODE_CALL | 1u << NODE_LOOP;

static void doubled(struct tree *t, struct node *n)
{
	int16_t copy = job_node(t, n);

	if (copy)
		n->next = copy;
}

static void swapped(struct tree *t, struct node *n)
{
	struct node *next = &t->node[n->next];
	uint8_t code = n->code, partners = n->partners;

	if (!n->next || next->kind != n->kind)
		return;
	n->code = next->code;
	n->partners = next->partners;
	next->code = code;
	next->partners = partners;
}

/* The node becomes the body of a part that is passed over under a condition. */
static void in_a_branch(struct tree *t, struct node *n, uint64_t *seed)
{
	struct node inner = *n;
	int16_t body;

	inner.next = 0;
	body = job_node(t, &inner);
	if (!body)
		return;
	n->kind = NODE_SKIP;
	n->slash = 0;
	n->times = 1;
	n->other = 0;
	n->body = body;
	n->cond = (struct cond){.left = {.var = (uint8_t)(1 + job_below(seed, JOB_VARS)),
	                            .unknown = job_below(seed, 2) == 0},
	    .relation = (uint8_t)job_below(seed, REL_COUNT),
	    .right = (int8_t)job_below(seed, 3)};
}

/* Channel c names other partners than they name it. */
static void other_partners(const struct job *j, int c, struct node *n, uint64_t *seed)
{
	uint8_t set = (uint8_t)(job_below(seed, 1u << j->channels) | 1u << c);

	if (__builtin_popcount(set) >= 2)
		n->partners = set;
}

/* Two rounds in one: the main program does all that it does twice. */
static void twice(struct tree *t)
{
	struct node loop = {.kind = NODE_LOOP, .times = 2, .body = t->unit[0]};
	int16_t n = job_node(t, &loop);

	if (n)
		t->unit[0] = n;
}

void job_spoil(struct job *j, uint64_t *seed)
{
	int c = (int)job_below(seed, (uint32_t)j->channels);
	struct tree *t = &j->tree[c];
	uint32_t how = job_below(seed, 13);
	unsigned kinds = how < 8 ? codes : how < 10 ? repeats : how < 12 ? conditions : ~0u;
	struct node *n = pick(t, seed, kinds);

	if (j->again && job_below(seed, 4) == 0) {
		if (job_below(seed, 2))
			twice(t);
		else
			t->again = !t->again;
		return;
	}
	if (!n)
		return;
	if (j->again && kinds == codes && job_below(seed, 2)) {
		n->kind = NODE_MOVE;
		return;
	}
	if (j->list != LIST_NONE && n->kind == NODE_WAIT && job_below(seed, 3) == 0) {
		other_partners(j, c, n, seed);
		return;
	}
	switch (how) {
	case 0:
	case 1:
		n->kind = NODE_MOVE;
		break;
	case 2:
		doubled(t, n);
		break;
	case 3:
		swapped(t, n);
		break;
	case 4:
	case 5:
		if (n->kind == NODE_SIGNAL && job_below(seed, 2))
			n->from = (uint8_t)((n->from + 1) % j->channels);
		else
			n->code = (uint8_t)(1 + n->code % 2);
		break;
	case 6:
		in_a_branch(t, n, seed);
		break;
	case 7:
		n->slash = n->slash ? 0 : (uint8_t)(1 + job_below(seed, j->separate ? 2 : 3));
		break;
	case 8:
	case 9:
		n->times = (uint8_t)(1 + n->times % 3);
		break;
	case 10:
		n->cond.right = (int8_t)(1 - n->cond.right % 2);
		break;
	case 11:
		n->cond.relation = (uint8_t)((n->cond.relation + 1) % REL_COUNT);
		break;
	case 12:
		if (n->kind == NODE_SET)
			n->value.add = (int8_t)((n->value.add + 1) % 3);
		break;
	}
}
