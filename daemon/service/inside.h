/* What the files of the service share: its one value, and who does what. Private to this folder. */
#ifndef INSIDE_H
#define INSIDE_H

#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include <uv.h>
#include "api.h"
#include "conf.h"
#include "dispatch.h"
#include "intake.h"
#include "ledger.h"
#include "vault.h"
#include "yoke/carry.h"

struct arrive;
struct seal;
struct backup;
struct refusals;
struct later;
struct retry;
struct more_program;

/* A configured machine and what is going on with it just now. What must survive is in the vault. */
struct service_machine {
	const struct conf_machine *conf;
	struct carry_order carrying;    /* the order that its carrier has; id 0: none */
	struct carry_progress progress; /* the last one told */
	bool has_progress;
	bool granted;       /* a step was allowed after which the order is not begun again by itself:
	                       the machine holds something else then, or has executed something */
	const char *halted; /* why it is to wait again, unless such a step was allowed; or NULL */
	bool unkept;        /* an old program could not be kept: nothing may go over it */
	bool why_passes;    /* what is in why_not may be different another time */
	char clash[512];    /* whose program the order would go over, "" for nobody's */
	char why_not[512];  /* why a step of the order was not granted, "" when none was refused */
	uint64_t cancelled; /* the order that a person does not want any more, */
	char cancelled_by[128]; /* and who that is */
	uint64_t unsettled;     /* an order without a recorded outcome and without a carrier: see
	                           recover.h */
	/* Of each channel of the order, as it lies in the vault: the program that it wants there, and what
	 * was believed to be there before it. */
	struct sha program[YOKE_CHANNELS_MAX];
	bool has_before[YOKE_CHANNELS_MAX];
	struct sha before[YOKE_CHANNELS_MAX];
	struct more_program *more; /* that came in one stream with others, in this order: more.h */
	size_t mores;
	bool has_copy[YOKE_CHANNELS_MAX]; /* brought from the machine in this order */
	struct sha copy[YOKE_CHANNELS_MAX];
	struct retry *retry; /* persons' orders that are tried again, one entry each: see retry.h */
	size_t retries;
	uint64_t hangs_since; /* loop time, ms, since which an abandoned carrier hangs on it; 0: none */
	bool listening;      /* its carrier listens between orders */
	bool away;           /* and a line cannot be reached just now */
	unsigned listen_tries;
	uint64_t listens_since; /* loop time, ms, since which the carrier hears or sees; 0: not yet */
	bool differs[YOKE_CHANNELS_MAX]; /* by the item of the carrier that looks at a share: it found
	                                    something else than what was carried */
	uint64_t listen_at; /* loop time, ms, before which listening is not tried again */
	struct {            /* the last call that made an order */
		uint64_t order; /* 0: none */
		uint64_t at;    /* loop time, ms */
		int channel;    /* of the profile: whose line it came over */
	} call;
	bool asked[YOKE_CHANNELS_MAX]; /* by the profile's channel: the control asked while it was
	                                  listened to */
	struct later *later; /* what came and could not be recorded yet: see later.h */
	unsigned tries;      /* of an automatic order, since the last success */
	uint64_t not_before; /* loop time, ms, of the next try, or of the next look at unsettled */
};

struct service {
	uv_loop_t *loop;
	const struct conf *conf;
	struct vault *vault;
	struct ledger *ledger;
	struct refusals *refusals;
	struct intake *intake;
	struct dispatch *dispatch;
	struct api *api;
	struct seal *seal;
	const char *carrier; /* the path of yoke-carrier */
	struct arrive *arrive;
	struct service_machine *machine;
	size_t machines;
	uv_timer_t pulse; /* once a second: watchdog, queues */
	uv_signal_t term, interrupt;
	bool reconfigured; /* what stands was decided under another configuration: judged anew as it
	                      is found */
	struct {
		int64_t ahead_us; /* of the wall's time before the clock that nobody can set */
		bool known;
	} clock;
	struct {
		uint64_t free;  /* bytes that the vault may still have */
		bool low, told; /* told: the trail says the same */
		unsigned pulses;
	} room;
	struct backup *backup; /* under way, or NULL */
	bool stopping, pulse_open, signals_open;
};

/* The configured machine of this name, or NULL. */
struct service_machine *service_machine_find(struct service *s, const char *name);

/* The profile that programs of this area (a machine's name, or "") are checked with. */
const struct profile *service_profile(const struct service *s, const char *area);

#endif
