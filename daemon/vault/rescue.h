/*
 * What keeps the vault when something happens to it: back-ups while it is served, bringing one back, and
 * repair. None of them deletes anything: what is in the way is moved aside, beside the vault.
 */
#ifndef RESCUE_H
#define RESCUE_H

#include <stdatomic.h>
#include "vault.h"

enum { RESCUE_PATH = 2 * YOKE_PATH_MAX };

/* A vault's content in short. */
struct rescue_content {
	uint64_t events, programs;
	struct sha head; /* hash of the last entry */
	int64_t bytes;   /* of the file */
};

/*
 * Copy the vault at path, which may be open and in use, into a new file: one state of it, in a single file
 * that needs no log, mode 0600. It is written as TO.part, verified (chain, replay, every program), flushed
 * and then renamed; a TO.part that was left behind is begun anew. Never overwrites TO. For another thread
 * than the vault's: it holds up neither side. stop: set to end early. 0 and *out; -1 with one line in why.
 */
int rescue_backup(const char *path, const char *to, atomic_bool *stop, struct rescue_content *out,
    char *why, size_t n);

/*
 * Make the vault at path of a back-up. Refused while somebody has it open, when the file does not verify, and
 * when a vault is there already, unless set_aside: then that one is moved aside first, and aside
 * (RESCUE_PATH bytes) says where; "" for none. The trail goes on with the event from-backup. What was waiting
 * is cancelled, and what the machines hold is not known: it may have changed since the back-up. *out: what
 * the back-up held. 0; -1 with one line in why.
 */
int rescue_bring(const char *file, const char *path, bool set_aside, const struct vault_by *by,
    struct rescue_content *out, char *aside, char *why, size_t n);

/* What a repair saved, and what it could not. */
struct rescue_repair {
	uint64_t events;               /* entries of the trail, from the first on without a gap */
	uint64_t lost_from, lost_to;   /* entries that are known to have been there; 0: none */
	uint64_t programs, lost_programs;
	uint64_t checkpoints, lost_checkpoints;
	bool good;      /* the new vault verifies */
	char text[512]; /* what verify said */
};

/*
 * Make a new vault at path of what is left of the one there: the longest beginning of the trail that fits its
 * hashes, its state by replay, every program that has its SHA-256, the checkpoints of that trail. The damaged files are read,
 * not opened, and moved aside (aside, RESCUE_PATH bytes). The trail goes on with the event repaired; when
 * entries are missing, what was waiting is cancelled and what the machines hold is not known. say is called
 * with one line for each thing that is lost. 0 and *out; -1 with one line in why, and nothing was changed.
 */
int rescue_repair(const char *path, const struct vault_by *by, struct rescue_repair *out,
    void (*say)(void *ctx, const char *line), void *ctx, char *aside, char *why, size_t n);

#endif
