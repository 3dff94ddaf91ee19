/* Ed25519 signatures, RFC 8032, through libcrypto; private keys as PKCS #8 in PEM, RFC 8410. */
#ifndef SEAL_ED25519_H
#define SEAL_ED25519_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
	ED25519_PUBLIC = 32,    /* bytes */
	ED25519_PRIVATE = 32,
	ED25519_SIGNATURE = 64,
	ED25519_PEM_MAX = 4096, /* of a file with a private key; one has 119 bytes */
};

/* A private key. */
struct ed25519;

/* A new one, or that of a seed (RFC 8032 5.1.5). NULL when libcrypto fails. The caller frees it. */
struct ed25519 *ed25519_make(void);
struct ed25519 *ed25519_of_seed(const uint8_t seed[ED25519_PRIVATE]);
void ed25519_free(struct ed25519 *k); /* NULL does nothing */

/* From n bytes of PEM. NULL when it is none, is of another kind or wants a passphrase. */
struct ed25519 *ed25519_read(const char *pem, size_t n);

/* As PEM into out; its length, or 0 when it cannot be written. Whoever has it wipes it. */
size_t ed25519_write(const struct ed25519 *k, char out[ED25519_PEM_MAX]);

/* Its public half. 0, -1. */
int ed25519_public(const struct ed25519 *k, uint8_t out[ED25519_PUBLIC]);

/* Sign n bytes. 0; -1 when libcrypto failed. */
int ed25519_sign(
    const struct ed25519 *k, const void *bytes, size_t n, uint8_t out[ED25519_SIGNATURE]);

/* Whether the signature over n bytes is that of the key. A failure of libcrypto is a no. */
bool ed25519_check(const uint8_t public[ED25519_PUBLIC], const void *bytes, size_t n,
    const uint8_t signature[ED25519_SIGNATURE]);

#endif
