#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <stdbool.h>
#include <stdlib.h>
#include "hash.h"

struct hash {
	EVP_MD *kind; /* fetched once: looking it up costs more than hashing one event */
	EVP_MD_CTX *ctx;
	bool failed;
};

struct hash *hash_new(void)
{
	struct hash *h = calloc(1, sizeof(*h));

	/* Fetching from a library that had no memory to begin with ends in a fault of its own. */
	if (!h || !OSSL_LIB_CTX_get0_global_default())
		goto fail;
	h->kind = EVP_MD_fetch(NULL, "SHA2-256", NULL);
	h->ctx = EVP_MD_CTX_new();
	if (!h->kind || !h->ctx)
		goto fail;
	hash_start(h);
	return h;
fail:
	hash_free(h);
	return NULL;
}

void hash_free(struct hash *h)
{
	if (!h)
		return;
	EVP_MD_CTX_free(h->ctx);
	EVP_MD_free(h->kind);
	free(h);
}

void hash_start(struct hash *h)
{
	h->failed = EVP_DigestInit_ex2(h->ctx, h->kind, NULL) != 1;
}

void hash_add(struct hash *h, const void *bytes, size_t n)
{
	if (!h->failed && n > 0 && EVP_DigestUpdate(h->ctx, bytes, n) != 1)
		h->failed = true;
}

void hash_add_u32(struct hash *h, uint32_t x)
{
	unsigned char b[4] = {x >> 24, x >> 16 & 0xff, x >> 8 & 0xff, x & 0xff};

	hash_add(h, b, sizeof(b));
}

void hash_add_u64(struct hash *h, uint64_t x)
{
	hash_add_u32(h, x >> 32);
	hash_add_u32(h, x & 0xffffffff);
}

int hash_end(struct hash *h, struct sha *out)
{
	if (!h->failed && EVP_DigestFinal_ex(h->ctx, out->b, NULL) != 1)
		h->failed = true;
	return h->failed ? -1 : 0;
}
