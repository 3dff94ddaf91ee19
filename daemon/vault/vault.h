/*
 * The vault: every program ever seen, every pair, every event. The only home of SQLite.
 *
 * Programs are kept by SHA-256, exactly as they came. Every change of state and its event are one
 * transaction (WAL, synchronous=FULL). State tables are a fold of the events: vault_verify replays
 * them and compares. Each event holds SHA-256(previous event's hash || this event's fields in a
 * fixed, length-prefixed order), so that an edited, removed or reordered entry is found. One
 * thread, one connection; a connection never crosses fork.
 *
 * A write that fails (disk full, read-only, damaged) changes nothing, returns -1 with the reason in
 * vault_error, and leaves the vault usable for reading; later writes are tried again.
 */
#ifndef VAULT_H
#define VAULT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/event.h"

struct vault;

/*
 * Open or create the vault at path. NULL on failure, with one line in why (size n). One process at
 * a time: PATH.lock is held until vault_close. What cannot be written is not opened.
 */
struct vault *vault_open(const char *path, char *why, size_t n);
void vault_close(struct vault *v);

/* Why the last call that returned -1 failed. Belongs to the vault. */
const char *vault_error(const struct vault *v);

/* --- Programs --- */

struct vault_stage;

/*
 * Take a program's bytes in pieces, before anything is decided; its hash is known at the end only.
 * Pieces are durable when vault_stage_keep returns (inside vault_begin: when vault_commit does); a
 * stage that was not kept leaves nothing behind after the next open. Several stages may be open at
 * once; each takes at most 1 MiB of memory. keep: 0 and the program is in the vault (also when it
 * was there already); sha is the caller's SHA-256 of the bytes and refused when it is not; it and
 * size are stored. Both keep and drop free the stage. After add has failed, or after a rollback of
 * the transaction in which it was called, only drop is left: read the program again.
 */
struct vault_stage *vault_stage_new(struct vault *v);
int vault_stage_add(struct vault_stage *s, const void *bytes, size_t n);
int vault_stage_keep(struct vault_stage *s, const struct sha *sha);
void vault_stage_drop(struct vault_stage *s);

/* Size of a program, or -1 when it is not in the vault. */
int64_t vault_program_size(struct vault *v, const struct sha *sha);

/* Hand the bytes of a program to fn in pieces, in order, and check them against sha. 0; -1 missing
 * or damaged. */
int vault_program_read(struct vault *v, const struct sha *sha,
    int (*fn)(void *ctx, const void *bytes, size_t n), void *ctx);

/* --- What happens in the shop --- */

/* Who did it, from where, and when; part of every event. */
struct vault_by {
	int64_t utc_us;
	const char *who;
	const char *from;
};

/* What an event is about. Unused fields are NULL or zero. */
struct vault_about {
	const char *machine; /* or the folder's machine, "" for none */
	const char *job, *revision;
	uint64_t order;
	const char *outcome, *text, *detail;
	const struct event_part *part;
	uint32_t parts;
};

/*
 * Each records one event, folds it into the state in the same transaction and returns its seq, or 0
 * on failure (vault_error). What each does to the state stands in yoke/event.h and, to the letter,
 * in fold.c. From cancelled to fetched, machine, job and revision that are left out are the
 * order's. Refused: names longer than YOKE_NAME_MAX, an order that is not there or is another
 * machine's.
 */
uint64_t vault_record_started(
    struct vault *v, const struct vault_by *by, const char *text, const char *detail);
uint64_t vault_record_stopped(struct vault *v, const struct vault_by *by);
uint64_t vault_record_configured(struct vault *v, const struct vault_by *by, const char *detail);
/* parts[0]: the channel, after = the program, which must be in the vault; text = its path, outcome
 * = its program number, "O4417", or "". With an order it came from a machine and is no file's
 * newest. */
uint64_t vault_record_arrived(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_turned_away(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* outcome = the verdict's name, parts = what is there, detail = report. */
uint64_t vault_record_held(struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_released(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* outcome = VAULT_SECOND, VAULT_FOR_RELEASE, or the rule despite which; then text = why, and is needed.
 * parts: the pair's programs. Refused: they are not what stands, or it was withdrawn. */
uint64_t vault_record_accepted(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* text = why, and is needed. Refused: there is no such pair, or it was withdrawn before. */
uint64_t vault_record_withdrawn(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* Refused for what was withdrawn, unless it is a fetch or an inspection. outcome = "send" | "restore" | "fetch" | "inspect" | "drip"; parts = what shall be there, or be
 * executed. The seq is the order's id. */
uint64_t vault_record_queued(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_moved(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_cancelled(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* Refused: the order is over, the machine is busy with another one, or is locked (send, restore,
 * drip). */
uint64_t vault_record_carrying(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* outcome = the step's name. After it the machine's content is uncertain until an outcome is
 * recorded; not after "feed", the one step of a drip. */
uint64_t vault_record_step(struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* outcome = "done" (or "none"), or the error for which nothing was compared: then the order fails,
 * and the machine holds the pair, not read back. */
uint64_t vault_record_carried(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* parts: before = what it was compared with. Ends doubt when that is the last certain content. */
uint64_t vault_record_read_back(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* The machine is as sure or unsure as before the order. outcome = "again": the order is queued
 * again. parts after an inspection = what was read: equal to the last certain content ends doubt.
 */
uint64_t vault_record_kept(struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_split(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_unknown(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* parts: after = what was fetched. Ends the order; equal to the last certain content ends doubt. */
uint64_t vault_record_fetched(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* Ends a drip; the machine is as sure or unsure of what it holds as before. Refused for any other
 * order, as is for a drip what would say that the machine holds something else. */
uint64_t vault_record_fed(struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_drift(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* parts: after = what the machine holds, before = what was carried there. The machine holds job and
 * revision then, read back. Refused: it has not drifted, or what it holds is not certain. */
uint64_t vault_record_adopted(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* text = why. Refused: the machine has no last good pair. */
uint64_t vault_record_unproven(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* The pair that the machine's state names as loaded. Refused: none is certain, it has drifted, or
 * a names another one. */
uint64_t vault_record_proven(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* parts: after = the pair's programs, which must be in the vault. Refused: the machine is locked. */
uint64_t vault_record_exported(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/*
 * outcome = "said" (who says that it is so) or "seen" (on a stick that came back); parts = the pair.
 * Refused: it is neither the pair that was last given out on a stick nor the one that the machine is
 * known to hold.
 */
uint64_t vault_record_loaded(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_locked(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_unlocked(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_offline(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_online(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_abandoned(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_refused(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* Of the vault itself (rescue.h): text says what; the detail of repaired has "lost_programs", a list of
 * SHA-256 that verify does not look for any more. */
uint64_t vault_record_backed_up(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_from_backup(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_repaired(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* Of the computer that it is on: its clock was set; its disk fills up, or has room again. */
uint64_t vault_record_clock_stepped(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_room_low(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
uint64_t vault_record_room_again(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* outcome = the new key, as vault_key_text gives it. In one transaction with the checkpoint that it signs:
 * see vault_seal.h. */
uint64_t vault_record_keyed(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);
/* outcome = "failed" | "again" | "copy-failed" | "copy-again" */
uint64_t vault_record_sealing(
    struct vault *v, const struct vault_by *by, const struct vault_about *a);

/*
 * Put several records (and stages) into one transaction: all or nothing. Nested begins count. When
 * anything inside fails or is rolled back, nothing more can be recorded until the outermost begin
 * is left, and its vault_commit returns -1. Begin: 0, or -1 and nothing is to be left. Commit ends
 * the transaction also when it returns -1.
 */
int vault_begin(struct vault *v);
int vault_commit(struct vault *v);
void vault_rollback(struct vault *v);

/* --- Questions. Results are plain values; strings inside are fixed arrays. --- */

struct vault_part {
	char channel[YOKE_NAME_MAX + 1];
	bool present;
	struct sha sha;
};

/* The newest arrival of one job and revision, per channel. */
struct vault_slot {
	char area[YOKE_NAME_MAX + 1]; /* the folder's machine, "" for none */
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1], channel[YOKE_NAME_MAX + 1];
	char path[YOKE_PATH_MAX + 1]; /* below the watched folder, made visible */
	char who[128];
	struct sha sha;
	uint64_t seq; /* of the arrival */
};

enum vault_pair_state {
	VAULT_HELD = 0,
	VAULT_RELEASED,
	VAULT_WITHDRAWN, /* for good: a change needs another revision */
};

struct vault_pair {
	char area[YOKE_NAME_MAX + 1];
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
	enum vault_pair_state state;
	char verdict[16];
	struct vault_part part[YOKE_CHANNELS_MAX];
	uint32_t parts;
	uint64_t seq; /* of the held or released event */
	int64_t utc_us;
	char who[128];  /* who dropped the last of them; who withdrew it */
	char text[512]; /* the finding that holds it, in one sentence; why it was withdrawn; "" when
	                   released */
};

/* Somebody stands for a pair. */
struct vault_acceptance {
	char rule[40]; /* the rule despite which, or VAULT_SECOND or VAULT_FOR_RELEASE */
	char who[128];
	char text[512]; /* why */
	uint64_t seq;
	int64_t utc_us;
};

#define VAULT_SECOND "second-person"    /* another than those who dropped it */
#define VAULT_FOR_RELEASE "for-release" /* one who may release, for those who may not */

struct vault_withdrawal {
	char who[128], text[512];
	uint64_t seq;
	int64_t utc_us;
};

enum vault_order_state {
	VAULT_QUEUED = 0,
	VAULT_CARRYING,
	VAULT_DONE,
	VAULT_FAILED,
	VAULT_CANCELLED
};

struct vault_order {
	uint64_t id;
	enum vault_order_state state;
	char act[16]; /* send, restore, fetch, inspect, drip */
	char machine[YOKE_NAME_MAX + 1];
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
	struct vault_part part[YOKE_CHANNELS_MAX];
	uint32_t parts;
	char who[128];
	char step[64]; /* the last step recorded, "" before the first */
	uint64_t seq;  /* of the last event */
	int64_t utc_us;
	char text[512];
	int64_t rank; /* below 0: somebody put it before the others that wait; the lowest goes
	                 first */
};

enum vault_content {       /* what the machine holds */
	VAULT_NOTHING = 0, /* nothing was ever carried */
	VAULT_LOADED,
	VAULT_SPLIT,
	VAULT_UNKNOWN,
};

enum vault_stick_state {
	VAULT_STICK_NONE = 0,
	VAULT_STICK_OUT,  /* a pair was given out on a stick: the machine may hold it by now */
	VAULT_STICK_SAID, /* somebody said that it was loaded: what the machine holds rests on that */
};

/* The pair that was last given out for a machine on a stick. */
struct vault_stick {
	enum vault_stick_state state;
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1];
	struct vault_part part[YOKE_CHANNELS_MAX];
	uint32_t parts;
	int64_t utc_us; /* when it was given out, or said to be loaded */
	char who[128];  /* by whom */
};

struct vault_machine {
	char name[YOKE_NAME_MAX + 1];
	enum vault_content content;
	char job[YOKE_NAME_MAX + 1], revision[YOKE_NAME_MAX + 1]; /* loaded, "" otherwise */
	/* The pair that was last loaded for certain: job and revision, or while the content is
	 * unknown the ones that it may still be. */
	char last_job[YOKE_NAME_MAX + 1], last_revision[YOKE_NAME_MAX + 1];
	struct vault_part part[YOKE_CHANNELS_MAX]; /* what each channel is believed to hold */
	uint32_t parts;
	bool read_back, proven, drift, locked, offline, abandoned;
	uint64_t order;   /* order under way, 0 none */
	int64_t since_us; /* of content, job and revision */
	char by[128];     /* who asked for it */
	char lock_text[512];
	char text[512]; /* last outcome in one sentence */
	bool has_good;  /* last good pair */
	char good_job[YOKE_NAME_MAX + 1], good_revision[YOKE_NAME_MAX + 1];
	struct vault_part good[YOKE_CHANNELS_MAX];
	uint32_t goods;
	int64_t good_us;
	char good_by[128];
	struct vault_stick stick;
};

/* Lists: fn is called for each row; it returns 0 to go on. 0, -1 on failure, or what fn returned.
 */
int vault_slots(struct vault *v, const char *area, const char *job, const char *revision,
    int (*fn)(void *ctx, const struct vault_slot *s), void *ctx);
int vault_pairs(
    struct vault *v, const char *job, int (*fn)(void *ctx, const struct vault_pair *p), void *ctx);
int vault_orders(struct vault *v, const char *machine, bool open_only,
    int (*fn)(void *ctx, const struct vault_order *o), void *ctx);
int vault_machines(struct vault *v, int (*fn)(void *ctx, const struct vault_machine *m), void *ctx);

/* Who stands for exactly these programs of this job and revision. As the lists above. */
int vault_acceptances(struct vault *v, const struct vault_pair *pair,
    int (*fn)(void *ctx, const struct vault_acceptance *a), void *ctx);

/*
 * Whether one of these programs was withdrawn at this job and revision, in the machine's folder or in
 * that of all: 1 and *out; 0 not; -1 failure.
 */
int vault_withdrawn(struct vault *v, const char *machine, const char *job, const char *revision,
    const struct vault_part *part, uint32_t parts, struct vault_withdrawal *out);

/* One row: 1 found, 0 not, -1 failure. revision NULL or "": the newest released one. */
int vault_pair(struct vault *v, const char *area, const char *job, const char *revision,
    struct vault_pair *out);
int vault_order(struct vault *v, uint64_t id, struct vault_order *out);
int vault_machine(struct vault *v, const char *name,
    struct vault_machine *out); /* always 1: an unknown name is empty */

/*
 * Whether this key (area, job, revision) was ever released with a program that is not its channel's
 * newest arrival: 1 and *out, the newest such release; 0 not; -1 failure. Asked after the arrival
 * was recorded.
 */
int vault_was_released(struct vault *v, const char *area, const char *job, const char *revision,
    struct vault_pair *out);

/* The program that last arrived from this path: 1 and *sha; 0 none; -1 failure. An arrived event's
 * text is its path. */
int vault_path(struct vault *v, const char *path, struct sha *sha);

/*
 * A newest arrival of another job than this one, in the same area and channel, with this program
 * number: 1 and *out; 0 none; -1 failure. An arrived event's outcome is its program number,
 * "O4417", or "".
 */
int vault_number_user(struct vault *v, const char *area, const char *channel, uint32_t number,
    const char *job, struct vault_slot *out);

/* The report (detail) of an event, as JSON text: the caller frees. NULL when missing or on failure.
 */
char *vault_event_detail(struct vault *v, uint64_t seq);

struct vault_filter {
	const char *job, *machine, *who, *kind; /* NULL: any; who matches a part */
	const char *text; /* NULL: any; a part of outcome, text or detail, case of a to z alike */
	int64_t from_us, to_us;                 /* from_us <= utc_us < to_us; 0: open */
	uint64_t after_seq;                     /* only later ones */
	uint64_t limit;                         /* 0: no limit */
	bool oldest_first;
};
int vault_events(struct vault *v, const struct vault_filter *f,
    int (*fn)(void *ctx, const struct event *e, const struct sha *hash), void *ctx);

/* What vault_verify found. */
struct vault_verdict {
	bool good;
	uint64_t events;    /* checked */
	uint64_t first_bad; /* seq of the first entry that does not fit, 0 when good or when it is
	                       the state or a program */
	struct sha head;    /* hash of the last event */
	uint64_t checkpoints, sealed; /* how many, and how many entries the last of them sealed */
	int64_t first_sealed_s, sealed_s; /* when the first and the last were made */
	uint64_t unsigned_key; /* the entry of the last change of key that the key before did not sign,
	                          0 for none */
	char text[512];     /* what does not fit, or what was checked */
};

/*
 * Recompute the chain and the tree over it, check every checkpoint's root and signature, replay the state
 * into a scratch database and compare table by table; with
 * programs = true also every program's bytes against its SHA-256. 0 and *out, or -1 when the vault
 * cannot be read.
 */
int vault_verify(struct vault *v, bool programs, struct vault_verdict *out);

/*
 * The same over a connection of its own, for another thread than the vault's: it holds up neither
 * side. why (size n) says what failed when -1 is returned.
 */
int vault_verify_file(
    const char *path, bool programs, struct vault_verdict *out, char *why, size_t n);

/* "nothing", "loaded", "split", "unknown"; "queued", ...; "held", "released". */
const char *vault_content_name(enum vault_content c);
const char *vault_order_state_name(enum vault_order_state s);
const char *vault_pair_state_name(enum vault_pair_state s);

#endif
