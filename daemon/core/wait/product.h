/*
 * The product of the channels under one setting of the switches: where all of them stand together,
 * who goes on, and every way in which a run can end.
 */
#ifndef WAIT_PRODUCT_H
#define WAIT_PRODUCT_H

#include "meet.h"
#include "product_index.h"
#include "walk.h"

#define PRODUCT_NONE UINT32_MAX

/* How a run ends. */
enum product_end {
	PRODUCT_GOES,   /* it does not yet */
	PRODUCT_GOOD,   /* all have ended, or all begin again together */
	PRODUCT_ROUNDS, /* it goes on for ever */
	PRODUCT_FAILS,  /* a channel stands for ever */
	PRODUCT_LOST,   /* it could not be followed */
};

/* The stops that a channel can come to from a condition on unknown data. */
struct way {
	struct piece piece;
	uint64_t steps; /* of the shortest run to it */
	uint32_t from;  /* the condition before it, by index; PRODUCT_NONE: the first */
	uint32_t to[2]; /* of a condition: the ways behind it when it is false, and when true */
	uint8_t yes;    /* how that was taken */
	uint8_t kind;   /* wait_walk_kind */
	bool wide;      /* more may be possible here than is: not all that was known was kept */
};

struct ways {
	struct wait_walk walk, other; /* scratch */
	struct wait_bytes bytes;
	struct way *v; /* conditions and stops, in the order in which they were found */
	size_t n, cap;
	struct index index;
	struct way_site *site; /* by instruction */
};

/* Where all channels stand behind a choice. */
struct node {
	struct piece piece;
	uint32_t parent; /* the node before it on the shortest run */
	uint64_t rungs;  /* passed on that run */
	uint64_t steps[YOKE_CHANNELS_MAX];
	bool done;
	bool wide; /* as in a way */
};

/* Nodes in which all channels stand at the same instructions. */
struct node_site {
	uint64_t hash;
	uint32_t first; /* index + 1; 0: free */
	uint32_t n;
};

struct edge {
	uint32_t from, to; /* to PRODUCT_NONE: the run ends */
	uint32_t moved;    /* channels that went on on the way */
};

struct nodes {
	struct wait_bytes bytes;
	struct node *v;
	size_t n, cap;
	struct index index;
	uint32_t *heap; /* nodes to look at, fewest rungs first; with their rungs then */
	uint64_t *key;
	size_t heaped, heap_cap;
	struct edge *edge;
	size_t edges, edge_cap;
	struct node_site *site; /* by hash */
	size_t sites, site_slots;
};

struct product {
	const struct profile *profile;
	const int *number;
	size_t n;
	struct wait_walk walk[YOKE_CHANNELS_MAX];
	uint64_t *live[YOKE_CHANNELS_MAX];
	struct wait_signals signals;
	uint64_t rungs;                    /* of the run at hand */
	uint32_t group[YOKE_CHANNELS_MAX]; /* who went on together in the last step, in order */
	size_t groups;
	uint32_t open;   /* channels that stand at a condition on unknown data */
	uint64_t states; /* visited so far, over all settings */
	uint64_t steps;  /* of all channels so far, over all settings */
	uint64_t budget; /* steps at most */
	bool failed;     /* no memory */
	/* a place of this run, to find one that goes on for ever by */
	struct wait_walk mark[YOKE_CHANNELS_MAX];
	struct wait_signals mark_signals;
	uint64_t since, due;
	uint32_t moved; /* since the mark */
	bool marked;
	struct ways ways[YOKE_CHANNELS_MAX];
	struct nodes nodes;
	uint64_t *visits[YOKE_CHANNELS_MAX]; /* of the run shown: how often each code was passed */
};

/* product.c. False without memory. */
bool product_begin(struct product *p, const struct profile *profile, struct wait_flow *const *flow,
    const int *number, size_t n);
void product_free(struct product *p);
/* All channels to the first place at which they stand, with these switches on. */
void product_start(struct product *p, const uint32_t *on);
/* Who goes on now: the set of them, with the groups that go on together, in order; their rungs and
 * signals are counted. 0: nobody can. */
uint32_t product_meet(struct product *p);
/* These go on, to where they stand next. */
void product_go(struct product *p, uint32_t set);
/* Nobody can go on: what that means. */
enum product_end product_judge(const struct product *p);
/* The known channels that stand at a code and can never go on, whatever the others do. */
uint32_t product_stuck(const struct product *p);
/* The channels that stand at a code and do not go on now. */
uint32_t product_waiting(const struct product *p);
/* On, until the run ends or needs a choice (PRODUCT_GOES). *moved: who went on. */
enum product_end product_run(struct product *p, uint32_t *moved);

/* product_ways.c. Every stop that w can come to; w stands at a condition. steps: added to. False
 * without memory. */
bool ways_find(struct ways *s, const struct wait_walk *w, uint64_t *steps);
void ways_free(struct ways *s);
/* Take w, which stands at the condition that the ways were found from, to the i-th of them.
 * Calls chosen for each condition on the way. False without memory. */
typedef bool ways_chosen_fn(void *ctx, uint32_t at, bool yes);
bool ways_walk(
    const struct ways *s, uint32_t i, struct wait_walk *w, ways_chosen_fn *chosen, void *ctx);

/* product_nodes.c */
void nodes_clear(struct nodes *s);
void nodes_free(struct nodes *s);
/* The node with these bytes, which end the store's bytes from at on and are given back when it is
 * there already; PRODUCT_NONE when the store is full or without memory (then *failed). */
uint32_t nodes_add(struct nodes *s, size_t at, const struct node *as, bool *failed);
/* The site with this hash; NULL without memory. */
struct node_site *nodes_site(struct nodes *s, uint64_t hash);
/* The next node to look at, or PRODUCT_NONE. */
uint32_t nodes_next(struct nodes *s);
/* False when there is no room for one more, or no memory (then *failed). */
bool nodes_edge(struct nodes *s, const struct edge *edge, bool *failed);

/* product_graph.c, over the edges. -1 without memory; else whether a run can go round for ever,
 * over nodes that are not barred only. */
int graph_loops(const struct nodes *s, const uint8_t *barred);
/* For each node the channels that go on on some way from it; with ends, an end counts as if all
 * did. NULL without memory. The caller frees. */
uint8_t *graph_goes(const struct nodes *s, uint32_t all, bool ends);

#endif
