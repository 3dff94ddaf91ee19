/*
 * A proof that an entry is in a trail, as a file of text for somebody who has nothing of the trail but a
 * public key:
 *
 *   yoke proof 1
 *   event BASE64         the entry's bytes, see leaf.h
 *   path BASE64          for each hash of the inclusion proof, in order (tree.h)
 *   (an empty line)
 *   the checkpoint, a signed note (checkpoint.h, note.h)
 */
#ifndef SEAL_PROOF_H
#define SEAL_PROOF_H

#include "checkpoint.h"
#include "leaf.h"
#include "tree.h"

enum { PROOF_MAX = 96 << 20 }; /* bytes of a file: an entry's text has at most 64 MiB */

/* Append the proof of an entry's bytes. note: the checkpoint, as it was signed. */
void proof_write(struct text *out, const void *leaf, size_t n, const struct sha *path, size_t paths,
    const char *note);

/* What a proof says when it holds. The leaf's texts belong to bytes, which proof_free frees. */
struct proof {
	char *bytes;
	struct leaf leaf;
	struct checkpoint checkpoint;
	struct note_key key; /* who signed */
};

/*
 * Read n bytes and check them against keys: form, signature, tree. True and *out, or false with one line
 * in why (size why_n). Free *out in either case. Whatever is given, nothing beyond it is read.
 */
bool proof_check(const char *s, size_t n, const struct note_key *keys, size_t keys_n,
    struct proof *out, char *why, size_t why_n);
void proof_free(struct proof *p);

#endif
