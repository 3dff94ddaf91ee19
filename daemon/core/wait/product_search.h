/* Every run under one setting of the switches. */
#ifndef WAIT_PRODUCT_SEARCH_H
#define WAIT_PRODUCT_SEARCH_H

#include "product.h"

/* How telling a run is: the most telling one is shown, of equal ones the shortest. */
enum telling {
	TELLS_NOTHING,
	TELLS_GOOD,
	TELLS_LEFT,    /* signals are left over, or programs begin again by themselves */
	TELLS_ENDLESS, /* a channel runs in a loop that never ends */
	TELLS_LOST,
	TELLS_FAILED,
};

/* One run: where it parts last from others, and how many rungs it passes. */
struct outcome {
	enum telling tells;
	enum product_end end;
	uint32_t node; /* PRODUCT_NONE: no condition on unknown data was met */
	uint64_t rungs;
	bool rounds; /* programs began again by themselves */
	bool wide;   /* it may not be possible: not all that was known was kept */
	bool cut;    /* more runs are possible than were looked at */
};

struct search {
	struct outcome shown; /* the most telling run */
	bool fails, good, lost;
	bool cut; /* not every run was looked at */
	uint64_t fewest;
	bool branches;
};

/* Nodes stay in the product until the next search. Without memory p->failed is set. */
void product_search(struct product *p, const uint32_t *on, struct search *out);
/* All channels to a node, with these switches on. */
void product_restore(struct product *p, const uint32_t *on, uint32_t node);
#endif
