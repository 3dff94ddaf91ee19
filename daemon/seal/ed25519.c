#include "ed25519.h"

#include <openssl/bio.h>
#include <openssl/err.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <stdlib.h>

struct ed25519 {
	EVP_PKEY *key;
};

static struct ed25519 *hold(EVP_PKEY *key)
{
	struct ed25519 *k = key ? malloc(sizeof(*k)) : NULL;

	if (k)
		k->key = key;
	else
		EVP_PKEY_free(key);
	ERR_clear_error();
	return k;
}

struct ed25519 *ed25519_make(void)
{
	return hold(EVP_PKEY_Q_keygen(NULL, NULL, "ED25519"));
}

struct ed25519 *ed25519_of_seed(const uint8_t seed[ED25519_PRIVATE])
{
	return hold(EVP_PKEY_new_raw_private_key(EVP_PKEY_ED25519, NULL, seed, ED25519_PRIVATE));
}

void ed25519_free(struct ed25519 *k)
{
	if (!k)
		return;
	EVP_PKEY_free(k->key);
	free(k);
}

/* Without this libcrypto would ask for a passphrase at the terminal. */
static int no_passphrase(char *buffer, int size, int writing, void *ctx)
{
	return -1;
}

struct ed25519 *ed25519_read(const char *pem, size_t n)
{
	BIO *bio = n > 0 && n <= ED25519_PEM_MAX ? BIO_new_mem_buf(pem, (int)n) : NULL;
	EVP_PKEY *key = bio ? PEM_read_bio_PrivateKey(bio, NULL, no_passphrase, NULL) : NULL;

	BIO_free(bio);
	if (key && EVP_PKEY_get_base_id(key) != EVP_PKEY_ED25519) {
		EVP_PKEY_free(key);
		key = NULL;
	}
	return hold(key);
}

size_t ed25519_write(const struct ed25519 *k, char out[ED25519_PEM_MAX])
{
	BIO *bio = BIO_new(BIO_s_secmem());
	int n = 0;

	if (bio && PEM_write_bio_PKCS8PrivateKey(bio, k->key, NULL, NULL, 0, NULL, NULL) == 1)
		n = BIO_read(bio, out, ED25519_PEM_MAX);
	BIO_free(bio);
	ERR_clear_error();
	return n > 0 ? (size_t)n : 0;
}

int ed25519_public(const struct ed25519 *k, uint8_t out[ED25519_PUBLIC])
{
	size_t n = ED25519_PUBLIC;

	return EVP_PKEY_get_raw_public_key(k->key, out, &n) == 1 && n == ED25519_PUBLIC ? 0 : -1;
}

int ed25519_sign(
    const struct ed25519 *k, const void *bytes, size_t n, uint8_t out[ED25519_SIGNATURE])
{
	EVP_MD_CTX *ctx = EVP_MD_CTX_new();
	size_t length = ED25519_SIGNATURE;
	bool done = ctx && EVP_DigestSignInit(ctx, NULL, NULL, NULL, k->key) == 1 &&
	            EVP_DigestSign(ctx, out, &length, bytes, n) == 1 &&
	            length == ED25519_SIGNATURE;

	EVP_MD_CTX_free(ctx);
	ERR_clear_error();
	return done ? 0 : -1;
}

bool ed25519_check(const uint8_t public[ED25519_PUBLIC], const void *bytes, size_t n,
    const uint8_t signature[ED25519_SIGNATURE])
{
	EVP_PKEY *key =
	    EVP_PKEY_new_raw_public_key(EVP_PKEY_ED25519, NULL, public, ED25519_PUBLIC);
	EVP_MD_CTX *ctx = key ? EVP_MD_CTX_new() : NULL;
	bool good = ctx && EVP_DigestVerifyInit(ctx, NULL, NULL, NULL, key) == 1 &&
	            EVP_DigestVerify(ctx, signature, ED25519_SIGNATURE, bytes, n) == 1;

	EVP_MD_CTX_free(ctx);
	EVP_PKEY_free(key);
	ERR_clear_error();
	return good;
}
