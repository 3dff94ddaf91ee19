/*
 * Wait codes as executed: each channel's flow, followed, and the flows compared.
 *
 * Here control flow is straight text, subprogram calls with constant repeats, program end and block
 * skip; a program whose flow cannot be followed is "cannot tell", never "agree". For straight
 * channels the check is the CSP law (c->P)||(d->Q) = STOP for c != d (Hoare, Communicating
 * Sequential Processes, 2.2): equal sequences or a deadlock at the first difference.
 */
#ifndef WAIT_H
#define WAIT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "nc.h"
#include "yoke/pair.h"
#include "yoke/profile.h"

struct wait_place {
	uint64_t line;
	uint32_t col;
	int64_t sequence; /* N number of the block, -1 without */
};

/* One wait code in the text. */
struct wait_code {
	uint32_t code; /* 203 for M203 */
	uint8_t skip;  /* skip level of its block, 0 none */
	struct wait_place at;
};

struct wait_flow;

struct wait_flow *wait_flow_new(const struct profile *profile);
/* Take one block. 0, -1 without memory. */
int wait_flow_block(struct wait_flow *f, const struct nc_block *b);
/*
 * Blocks that hold nothing but sequence numbers and plain words that cannot matter to the flow:
 * count of them with N first, first + step, .. (first -1: none of them has one), last_line: of the
 * last. As if each had been given to wait_flow_block. 0, -1 without memory.
 */
int wait_flow_plain(
    struct wait_flow *f, int64_t first, uint32_t step, uint64_t count, uint64_t last_line);
/*
 * The end: resolves calls, and must come before any question below. Adds findings about flow to
 * list, under file and channel: sub-missing, sub-recursive, call-deep, flow-unfollowed,
 * wait-after-end, end-missing. Text before the first program number belongs to the first program,
 * which is the main program; text after a second % is not executed. A jump, macro call or computed
 * word that cannot change which wait codes are met is no finding. 0, -1 without memory.
 */
int wait_flow_finish(struct wait_flow *f, struct findings *list, const char *file, int channel);
void wait_flow_free(struct wait_flow *f);

/* Skip levels that stand before any block that matters to the flow, as a bit set: bit 1 for / and
 * /1 .. bit 9. */
uint32_t wait_flow_skips(const struct wait_flow *f);

/* How many wait codes stand in the text, and the i-th. */
size_t wait_flow_codes(const struct wait_flow *f);
const struct wait_code *wait_flow_code(const struct wait_flow *f, size_t i);

/* What a meeting, or the failure of one, looks like in one channel. With neither end nor code it
 * was not followed. */
struct wait_stop {
	bool at_end;                  /* the channel has ended */
	const struct wait_code *code; /* the code at which it waits, or NULL; belongs to the flow */
	uint64_t step;                /* how many wait codes this channel passed before */
};

struct wait_rung {
	struct wait_stop channel[YOKE_CHANNELS_MAX];
	bool meets;      /* all channels wait at the same code (or all have ended) */
	uint64_t repeat; /* how many further meetings were left out after this one */
};

struct wait_result {
	enum verdict verdict;
	uint32_t switches[YOKE_CHANNELS_MAX]; /* skip switches that are on in the run shown, bit set
	                                         as above */
	uint64_t settings;                    /* how many switch settings were examined */
	uint64_t meetings;                    /* meetings passed in the run shown */
	uint64_t fewest; /* meetings passed in the run that passes the fewest */
	size_t rungs;    /* rungs kept: the first and the last of the run, the failing or ending one
	                    last */
	struct wait_rung *rung;
	/*
	 * On disagreement: the likeliest repair and where, in both programs: FINDING_WAIT_MISSING,
	 * _DOUBLED, _SWAPPED, _DIFFERS, _SKIPPED, _AFTER_END, or FINDING_END_DIFFERS. When it
	 * cannot be told: why, and where in channel_a: FINDING_FLOW_UNFOLLOWED (wait_flow_finish
	 * has said so already), _RUN_LONG or _SKIP_MANY (told here only; line 0 where there is no
	 * single place). Otherwise FINDING_COUNT.
	 */
	enum finding_id repair;
	int channel_a, channel_b; /* a: where the repair belongs; b: its mate */
	/* with code 0: of the program's end; line 0: it runs out without one */
	struct wait_place place_a, place_b;
	uint32_t code_a, code_b; /* codes concerned, 0 none */
};

/* Settings of the skip switches that are examined at most. */
enum { WAIT_SETTINGS_MAX = 4096 };

/*
 * Compare the flows of n channels under every setting of the skip switches they use (common or
 * separate by profile). The first setting that fails, with the fewest switches on, is the run
 * shown; a run that fails wins over one that could not be followed. flow must outlive the result. n
 * is 1 to YOKE_CHANNELS_MAX. 0, -1 without memory.
 */
int wait_prove(const struct profile *profile, struct wait_flow *const *flow, size_t n,
    struct wait_result *out);
void wait_result_free(struct wait_result *r);

#endif
