/*
 * The private key that signs the trail: a file with PKCS #8 in PEM (RFC 8410) that is the service's alone,
 * or a credential. Only a file can be made or replaced here; a credential's is its administrator's to
 * change.
 */
#ifndef SEAL_KEY_H
#define SEAL_KEY_H

#include <stdbool.h>
#include <stddef.h>
#include "ed25519.h"

/* Read the key that lies at place. NULL with one line in why; *missing: there is no such file. */
struct ed25519 *seal_key_read(const char *place, bool *missing, char *why, size_t n);

/* Whether a place is a file, which can be written. */
bool seal_key_is_file(const char *place);

/*
 * Replacing takes two steps, so that the trail can name the key between them: prepare writes it durably
 * beside its place, as PATH.new with mode 0600; accept puts it there. 0, or -1 with why. A key that was
 * prepared and not accepted: pending reads it (NULL: there is none, or it cannot be used), and drop removes it.
 */
int seal_key_prepare(const char *place, const struct ed25519 *key, char *why, size_t n);
int seal_key_accept(const char *place, char *why, size_t n);
struct ed25519 *seal_key_pending(const char *place);
void seal_key_drop(const char *place);

/* The key before the one that a credential holds: the credential NAME.old. NULL: there is none. */
struct ed25519 *seal_key_old(const char *place);

#endif
