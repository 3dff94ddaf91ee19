/*
 * Events: the entries of the audit trail. Nothing changes without one; the state is a fold of them.
 */
#ifndef YOKE_EVENT_H
#define YOKE_EVENT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/limits.h"

/* X(ENUM, name, what it does to the state) */
#define EVENT_LIST(X)                                                                              \
	X(STARTED, "started", "the service started")                                               \
	X(STOPPED, "stopped", "the service stopped")                                               \
	X(CONFIGURED, "configured",                                                                \
	    "the configuration in force, told when it differs from the last")                      \
	X(ARRIVED, "arrived",                                                                      \
	    "a program came in; it is its channel's newest for this job and revision")             \
	X(TURNED_AWAY, "turned-away",                                                              \
	    "a file in the folder is no program: link, device, bad name")                          \
	X(HELD, "held", "a pair or program may not be sent: mate missing or refused")              \
	X(RELEASED, "released", "a pair passed the check and may be sent")                         \
	X(ACCEPTED, "accepted",                                                                    \
	    "a second person stands for a pair, or somebody for it despite a rule")                \
	X(WITHDRAWN, "withdrawn", "a pair may not be sent any more")                               \
	X(QUEUED, "queued", "an order was accepted: send, restore, fetch or drip")                 \
	X(CANCELLED, "cancelled", "an order ended before anything on the machine changed")         \
	X(MOVED, "moved", "a waiting order was put before the others of its machine")              \
	X(CARRYING, "carrying", "a carrier is about to be started for this order")                 \
	X(STEP, "step",                                                                            \
	    "the carrier is about to do a step that changes the machine, or lets it execute")      \
	X(CARRIED, "carried", "the machine was given both programs")                               \
	X(READ_BACK, "read-back",                                                                  \
	    "the machine's copy was compared with what was sent and is equal")                     \
	X(KEPT, "kept", "the order changed nothing: the machine holds what it held before")              \
	X(SPLIT, "split", "the machine holds halves of two pairs, or one half")                    \
	X(UNKNOWN, "unknown",                                                                      \
	    "it is not known what the machine holds until something is read back")                 \
	X(FETCHED, "fetched", "programs were brought from the machine")                            \
	X(FED, "fed",                                                                              \
	    "all of a program went to a control that executes while it reads; nothing was stored") \
	X(DRIFT, "drift", "what the machine holds is no longer what was carried there")            \
	X(ADOPTED, "adopted",                                                                      \
	    "somebody made what was changed at the machine a revision of the job: it holds that")  \
	X(PROVEN, "proven", "somebody said that the pair on this machine made a good part")        \
	X(UNPROVEN, "unproven",                                                                    \
	    "the machine's last good pair does not count any more: it has none")                   \
	X(EXPORTED, "exported",                                                                    \
	    "a released pair was given to a person on a stick; whether the machine got it is not " \
	    "known")                                                                               \
	X(LOADED, "loaded",                                                                        \
	    "somebody said which pair the machine holds, or what came back on a stick showed it")  \
	X(LOCKED, "locked", "nothing may be sent to this machine")                                 \
	X(UNLOCKED, "unlocked", "sending is possible again")                                       \
	X(OFFLINE, "offline", "the machine's share or line cannot be reached")                     \
	X(ONLINE, "online", "the machine's share or line can be reached again")                    \
	X(ABANDONED, "abandoned",                                                                  \
	    "a carrier could not be ended; the machine takes no order until it is")                \
	X(REFUSED, "refused", "a request was refused")                                             \
	X(BACKED_UP, "backed-up", "a back-up of the vault was written and verified")               \
	X(FROM_BACKUP, "from-backup",                                                              \
	    "the vault was brought back from a back-up: this copy of the trail goes on by itself") \
	X(REPAIRED, "repaired",                                                                    \
	    "the vault was damaged and made anew of what was left; what is lost is told")          \
	X(CLOCK_STEPPED, "clock-stepped",                                                          \
	    "the computer's clock was set: times before and after it cannot be compared")          \
	X(ROOM_LOW, "room-low", "the disk of the vault has little room left")                      \
	X(ROOM_AGAIN, "room-again", "the disk of the vault has room again")                        \
	X(KEYED, "keyed", "the key that signs the trail's checkpoints was made or changed")        \
	X(SEALING, "sealing",                                                                      \
	    "checkpoints of the trail began to be missing, here or in their second place, or are made again")

enum event_kind {
#define X(id, name, why) EVENT_##id,
	EVENT_LIST(X)
#undef X
	    EVENT_COUNT
};

struct sha {
	unsigned char b[YOKE_SHA_SIZE];
};

/* One channel's share of an event. */
struct event_part {
	char channel[YOKE_NAME_MAX + 1];
	bool has_before, has_after;
	struct sha before, after; /* what was there; what is there now, or is meant to be */
};

/* One entry. Strings may be NULL, which is stored as "". */
struct event {
	uint64_t seq;   /* from 1, no gaps; set by the vault */
	int64_t utc_us; /* microseconds since 1970 UTC */
	enum event_kind kind;
	const char *who;  /* "anna (uid 1002)", "owner anna (uid 1002)", "service" */
	const char *from; /* "folder", "socket", "service", "carrier", "line", "stick" */
	const char
	    *machine; /* or, for arrived, held and released, the folder's machine, "" for none */
	const char *job, *revision;
	uint64_t order;      /* the seq of the order's queued event, 0 for none */
	const char *outcome; /* one word or short phrase: "send", "restore", "drip"; "agree"; an
	                        error's name */
	const char *text;    /* one sentence for a person */
	const char *detail;  /* a JSON object: findings, figures, path; "" for none */
	struct event_part part[YOKE_CHANNELS_MAX];
	uint32_t parts;
};

/* Name of a kind and what it does; event_by_name gives EVENT_COUNT for an unknown name. */
const char *event_name(enum event_kind k);
const char *event_why(enum event_kind k);
enum event_kind event_by_name(const char *name);

#endif
