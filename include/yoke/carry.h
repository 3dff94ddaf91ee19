/*
 * What the service and a carrier say to each other: one order in, progress, steps and one outcome
 * back.
 *
 * Messages travel over a SOCK_SEQPACKET pair (descriptor 3 in the carrier), one message a packet: a
 * header, then one of the bodies below, exactly as long as its type says. Both sides check magic,
 * version, type and length before they look at a body, and make every string in it end. Program
 * bytes never travel in a message: they are sealed, read-only memory descriptors (memfd with
 * F_SEAL_WRITE, SHRINK, GROW, SEAL) attached with SCM_RIGHTS.
 */
#ifndef YOKE_CARRY_H
#define YOKE_CARRY_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/event.h"
#include "yoke/limits.h"
#include "yoke/line.h"
#include "yoke/running.h"

enum {
	CARRY_MAGIC = 0x45594f4b,
	CARRY_VERSION = 1,
	CARRY_FD = 3,
	CARRY_TEXT_MAX = 511,
	CARRY_HEARTBEAT_MS = 1000,
	CARRY_LISTEN_HEARTBEAT_MS = 60000, /* in its place for CARRY_LISTEN, which may last for months,
	                                      until it is cancelled */
	CARRY_NOTE_MAX = 159,
	CARRY_MORE_MAX = 400, /* programs of one stream that are handed over one by one, for each channel;
	                         all are in what came as a whole */
};

enum carry_act {
	CARRY_SEND = 0, /* put all programs on the machine, both or neither where the line allows */
	CARRY_FETCH,    /* bring programs from the machine */
	CARRY_INSPECT,  /* look what the machine holds after an interrupted order; remove left-over
	                   temporaries */
	CARRY_LISTEN,   /* hear what a control punches while there is no order, or look at a share from
	                   time to time; until cancelled */
	CARRY_DRIP,     /* one program, over a serial line, to a control that executes it while it
	                   reads it: what the machine holds stays as it is */
	CARRY_TRY,      /* everything of CARRY_SEND but the writing: is it there, is there room, what
	                   would be replaced; no step is asked for */
};

/* True for an act whose items come with programs. */
static inline bool carry_brings(uint32_t act)
{
	return act == CARRY_SEND || act == CARRY_DRIP || act == CARRY_TRY;
}

enum carry_type {
	CARRY_ORDER =
	    1,    /* parent: struct carry_order; one descriptor per item in order, when carry_brings() */
	CARRY_GO, /* parent: struct carry_go: the step is recorded, do it */
	CARRY_CANCEL,   /* parent: empty: stop where nothing has changed, or as soon as both can be
	                   told apart */
	CARRY_PROGRESS, /* carrier: struct carry_progress, at least every heartbeat */
	CARRY_STEP,     /* carrier: struct carry_step: about to do this; waits for CARRY_GO */
	CARRY_CONTENT,  /* carrier: struct carry_content, with one descriptor */
	CARRY_OUTCOME,  /* carrier: struct carry_outcome; the last message */
};

struct carry_header {
	uint32_t magic, version, type, length; /* length: of the body that follows */
};

/* One channel's share of an order. */
struct carry_item {
	char channel[YOKE_NAME_MAX + 1];
	char target[YOKE_PATH_MAX +
	            1]; /* name on the machine, one path component; unused over a serial line */
	struct line line;
	uint64_t size;   /* of the program to send */
	struct sha want; /* its SHA-256 */
	bool has_expect;
	struct sha
	    expect; /* what the machine is believed to hold; for CARRY_INSPECT: before the order */
	bool asked; /* the control said DC1 just before this order, to nobody but who listened */
};

/* A channel of the machine and its word on the line, "" for none: also of channels that the order is
 * not about, since the control may punch one of those. */
struct carry_word {
	char channel[YOKE_NAME_MAX + 1];
	char word[LINE_WORD_MAX + 1];
};

struct carry_order {
	uint64_t id;
	uint32_t act; /* enum carry_act */
	uint32_t items;
	char machine[YOKE_NAME_MAX + 1];
	uint32_t look_ms;       /* CARRY_LISTEN on a share: between two looks, 1 or more */
	struct running running; /* before a program on a share is replaced */
	struct carry_word word[YOKE_CHANNELS_MAX];
	struct carry_item item[YOKE_CHANNELS_MAX];
};

/* X(ENUM, name, what it does to the machine) */
#define CARRY_STEP_LIST(X)                                                                         \
	X(WRITE, "write", "temporaries are written beside the programs")                           \
	X(REPLACE, "replace", "programs are put in place of the old ones")                         \
	X(TRANSMIT, "transmit", "the program goes down the line")                                  \
	X(FEED, "feed", "the program goes down the line and the control executes it")              \
	X(TIDY, "tidy", "left-over temporaries are removed")                                       \
	X(PUT_BACK, "put-back", "old programs are put back")

enum carry_step_kind {
#define X(id, name, why) CARRY_STEP_##id,
	CARRY_STEP_LIST(X)
#undef X
	    CARRY_STEP_COUNT
};

struct carry_step {
	uint32_t step; /* enum carry_step_kind */
	uint32_t item; /* index of the item, or items for all of them */
};

struct carry_go {
	uint32_t step, item; /* as asked */
	uint32_t allowed;    /* 0: do not; end with CARRY_ERROR_CANCELLED or a rollback */
};

/* X(ENUM, name, text); what a phase is called is in daemon/common/phase.h */
#define CARRY_PHASE_LIST(X)                                                                        \
	X(OPEN, "open", "opening the line")                                                        \
	X(KEEP, "keep", "reading what the machine holds")                                          \
	X(WAIT, "wait", "waiting for the control: select the channel and set it to read")          \
	X(SEND, "send", "sending")                                                                 \
	X(HELD, "held", "the control holds the line")                                              \
	X(DRAIN, "drain", "the last characters leave the line")                                    \
	X(FEED_WAIT, "feed-wait",                                                                  \
	    "waiting for the control: select the channel and set it to execute while it reads")    \
	X(FEED, "feed", "dripping: the control executes while it reads")                           \
	X(FEED_HELD, "feed-held",                                                                  \
	    "the control holds the line; it may take as long as it likes")                         \
	X(COMPARE, "compare", "reading back and comparing")                                        \
	X(PUNCH, "punch", "waiting for the control to punch: select the channel and punch")        \
	X(RECEIVE, "receive", "receiving")                                                         \
	X(PLACE, "place", "putting the programs in place")                                         \
	X(LISTEN, "listen", "listening for calls from the machine's keyboard")                     \
	X(AWAY, "away", "listening, but a line cannot be reached just now")

enum carry_phase {
#define X(id, name, text) CARRY_PHASE_##id,
	CARRY_PHASE_LIST(X)
#undef X
	    CARRY_PHASE_COUNT
};

struct carry_progress {
	uint32_t item;
	uint32_t phase;        /* enum carry_phase */
	uint64_t bytes, total; /* program bytes done in this phase */
	uint64_t block;        /* block number reached, 0 unknown */
	uint64_t left_ms;      /* estimate; UINT64_MAX unknown */
};

enum carry_role {
	CARRY_ROLE_OLD = 0, /* what the machine held before it was replaced */
	CARRY_ROLE_COPY,    /* what came back from the machine */
	CARRY_ROLE_RAW,     /* a raw capture that is no program: for the log */
	CARRY_ROLE_UNASKED, /* a text that came while nobody waited for one, or a program on a share that
	                       is no longer what it was: CARRY_LISTEN */
	CARRY_ROLE_GONE,    /* a program on a share is no longer there; no bytes */
	CARRY_ROLE_MORE,    /* a program that came in one stream with others, over a serial line: with
	                       CARRY_FETCH each of them, since who fetches does not know which was
	                       meant; with CARRY_SEND each that was not sent */
};

struct carry_content {
	uint32_t item;
	uint32_t role; /* enum carry_role */
	uint64_t size;
	struct sha sha;
	char note[CARRY_NOTE_MAX + 1]; /* of a raw capture: what is wrong with it; of CARRY_ROLE_MORE:
	                                  its number, "O4417", if it has one; else "" */
};

/* X(ENUM, name, may pass by itself, text: what and what to do) */
#define CARRY_ERROR_LIST(X)                                                                        \
	X(NONE, "none", 0, "done")                                                                 \
	X(OFFLINE, "offline", 1, "the machine's share or line cannot be reached")                  \
	X(MARKER, "marker", 1, "the share's marker file is not there: is the share mounted?")      \
	X(LOGIN, "login", 0, "the server takes neither this user nor this password or key")        \
	X(IDENTITY, "identity", 0,                                                                 \
	    "the server is not known to be the right one: its certificate or key does not fit")    \
	X(SECRET, "secret", 0, "the password or key cannot be read, or others can read it")        \
	X(REFUSED, "refused", 1, "the server or share refused what was asked of it")               \
	X(NO_ANSWER, "no-answer", 1, "the server did not answer in time")                          \
	X(NAME, "name", 0, "the name on the machine is not allowed")                               \
	X(SPACE, "space", 0, "the machine's disk or memory is full")                               \
	X(IO, "io", 1, "reading or writing failed")                                                \
	X(DIFFERS, "differs", 0, "what was read back is not what was sent")                        \
	X(BYTE, "byte", 0, "the program holds a byte that this line cannot carry")                 \
	X(RUNNING, "running", 1, "the machine says that it is running, or does not say")           \
	X(BUSY, "busy", 1, "it is used by another program or order, or by too many")               \
	X(NO_START, "no-start", 1, "the control did not ask (DC1) in time")                        \
	X(STALL, "stall", 0, "the control held the line for too long: is its memory full?")        \
	X(LOST, "lost", 0, "the line was lost")                                                    \
	X(UNPLUGGED, "unplugged", 0, "the serial adapter was unplugged")                           \
	X(DROPPED, "dropped", 0,                                                                   \
	    "the control went off, or the cable is out: its modem line (DSR or DCD) dropped")      \
	X(ALARM, "alarm", 0, "the control said something while it read: look at its screen")       \
	X(BREAK, "break", 0, "the line gave a break: the control lost power or broke off")         \
	X(TIME, "time", 0, "the whole took too long")                                              \
	X(NOTHING, "nothing", 0, "nothing came from the control in time")                          \
	X(FRAMING, "framing", 0, "what came was read with the wrong number of bits or parity")     \
	X(DAMAGED, "damaged", 0, "what came is damaged")                                           \
	X(CHANNEL, "channel", 0, "the control punched another channel than the one that was asked") \
	X(CANCELLED, "cancelled", 0, "cancelled")                                                  \
	X(ORDER, "order", 0, "the order itself is not possible")                                   \
	X(CARRIER, "carrier", 1, "the carrier ended without an outcome")                           \
	X(ABANDONED, "abandoned", 1, "the carrier could not be ended")

enum carry_error {
#define X(id, name, passes, text) CARRY_ERROR_##id,
	CARRY_ERROR_LIST(X)
#undef X
	    CARRY_ERROR_COUNT
};

/* What a channel holds at the end, as far as the carrier knows. */
enum carry_held {
	CARRY_HELD_UNKNOWN = 0, /* bytes may have arrived; nothing was read back */
	CARRY_HELD_OLD,         /* what it held before, untouched or put back */
	CARRY_HELD_NEW,         /* the program of the order */
	CARRY_HELD_OTHER,       /* something else: sha says what */
	CARRY_HELD_ABSENT,      /* nothing */
	CARRY_HELD_STUMP, /* a part of the program of the order, under its number: not to be run */
};

struct carry_channel {
	uint32_t held;     /* enum carry_held */
	uint32_t compared; /* 1: read back and equal to what was sent (canonical form over a serial
	                      line) */
	uint32_t has_sha;
	struct sha sha;       /* of what is held, where it was read */
	uint64_t bytes;       /* program bytes that left us */
	uint64_t block;       /* blocks that left us */
	uint64_t after_dc3;   /* characters that left after DC3 was seen */
	uint64_t held_ms;     /* time held by DC3 */
	uint64_t line_ms;     /* time from the first to the last character */
	uint32_t asked; /* CARRY_LISTEN: 1: the control asks for a program on this line, which is this
	                   channel's alone */
	uint64_t line_errors; /* framing, parity, overrun and break counts of the port, where it
	                         counts */
	uint64_t more;     /* programs of CARRY_ROLE_MORE that came, handed over or not */
	uint64_t left_out; /* characters that came outside of all %, and so in no program */
};

struct carry_outcome {
	uint32_t error; /* enum carry_error */
	uint32_t item;  /* where it happened; items: the order as a whole */
	uint32_t items;
	struct carry_channel channel[YOKE_CHANNELS_MAX];
	char text[CARRY_TEXT_MAX + 1]; /* what happened, one sentence */
};

#endif
