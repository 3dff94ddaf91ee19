/*
 * Sealing the trail: its keys, signed checkpoints of the tree over it, and proofs. Private keys are the
 * caller's; the vault keeps the public halves (they come with the events "keyed") and the checkpoints,
 * which are no events: signing changes nothing that is signed.
 *
 * A checkpoint is signed by the key in force, the one that the newest "keyed" event names; the one that
 * ends with such an event also by the key before it, unless that was lost.
 */
#ifndef VAULT_SEAL_H
#define VAULT_SEAL_H

#include "checkpoint.h"
#include "vault.h"

/* A private key's public half as this trail names it. 0; -1 failed, told. */
int vault_key_text(struct vault *v, const struct ed25519 *key, char out[NOTE_KEY_MAX + 1]);

/* The key in force: 1 and *out; 0 the trail has none yet; -1 failed. */
int vault_key(struct vault *v, struct note_key *out);

/* Every key that the trail ever had, the oldest first, with its event and time. As the other lists. */
int vault_keys(struct vault *v,
    int (*fn)(void *ctx, uint64_t seq, int64_t utc_us, const char *key), void *ctx);

/*
 * Sign the trail as it is now, at utc_s: 1 a checkpoint was made; 0 the last one says it already; -1
 * failed: also when key is not the key in force, and when the trail is no longer what the last checkpoint
 * sealed, for that must never be signed. before: the key that was in force before, when the last event is
 * "keyed" and it is there; else NULL.
 */
int vault_seal(
    struct vault *v, const struct ed25519 *key, const struct ed25519 *before, int64_t utc_s);

/* The newest checkpoint: 1 and *out, 0 none, -1 failed. */
int vault_sealed(struct vault *v, struct checkpoint *out);

/* Entries that the trail has. 0 and *out, -1. */
int vault_end(struct vault *v, uint64_t *out);

/* The checkpoints after number, the oldest first, as they were signed. limit 0: all. As the other lists. */
int vault_checkpoints(struct vault *v, uint64_t number, uint64_t limit,
    int (*fn)(void *ctx, uint64_t number, const char *note), void *ctx);

/* The proof of one entry by the newest checkpoint (proof.h), appended. 1; 0 there is no such entry, or no
 * checkpoint that holds it; -1 failed: also when the proof does not hold, for then the trail was changed. */
int vault_prove(struct vault *v, uint64_t seq, struct text *out);

/* The entries after seq, the oldest first, as the bytes that chain and tree hash (leaf.h). As the other
 * lists. */
int vault_leaves(struct vault *v, uint64_t seq,
    int (*fn)(void *ctx, const void *leaf, size_t n), void *ctx);

/* Up to which checkpoint a second place has them; 0 for one that was never told. -1 failed. */
int64_t vault_copied(struct vault *v, const char *place);
int vault_set_copied(struct vault *v, const char *place, uint64_t number);

#endif
