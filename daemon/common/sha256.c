#include "sha256.h"

#include <openssl/evp.h>
#include <stdlib.h>

struct sha256 {
	EVP_MD_CTX *ctx;
	bool failed;
};

static int restart(struct sha256 *s)
{
	s->failed = EVP_DigestInit_ex(s->ctx, EVP_sha256(), NULL) != 1;
	return s->failed ? -1 : 0;
}

struct sha256 *sha256_new(void)
{
	struct sha256 *s = calloc(1, sizeof(*s));

	if (!s)
		return NULL;
	s->ctx = EVP_MD_CTX_new();
	if (!s->ctx || restart(s) < 0) {
		sha256_free(s);
		return NULL;
	}
	return s;
}

int sha256_add(struct sha256 *s, const void *bytes, size_t n)
{
	if (!s->failed && n > 0 && EVP_DigestUpdate(s->ctx, bytes, n) != 1)
		s->failed = true;
	return s->failed ? -1 : 0;
}

int sha256_end(struct sha256 *s, uint8_t sum[YOKE_SHA_SIZE])
{
	bool ended = !s->failed && EVP_DigestFinal_ex(s->ctx, sum, NULL) == 1;

	if (restart(s) < 0)
		return -1;
	return ended ? 0 : -1;
}

void sha256_free(struct sha256 *s)
{
	if (!s)
		return;
	EVP_MD_CTX_free(s->ctx);
	free(s);
}

int sha256_of(const void *bytes, size_t n, uint8_t sum[YOKE_SHA_SIZE])
{
	return EVP_Digest(n ? bytes : "", n, sum, NULL, EVP_sha256(), NULL) == 1 ? 0 : -1;
}

void sha256_hex(const uint8_t sum[YOKE_SHA_SIZE], char hex[YOKE_SHA_HEX + 1])
{
	static const char digit[] = "0123456789abcdef";

	for (size_t i = 0; i < YOKE_SHA_SIZE; i++) {
		hex[2 * i] = digit[sum[i] >> 4];
		hex[2 * i + 1] = digit[sum[i] & 15];
	}
	hex[YOKE_SHA_HEX] = '\0';
}

static int nibble(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	if (c >= 'a' && c <= 'f')
		return c - 'a' + 10;
	if (c >= 'A' && c <= 'F')
		return c - 'A' + 10;
	return -1;
}

bool sha256_parse(const char *hex, uint8_t sum[YOKE_SHA_SIZE])
{
	uint8_t read[YOKE_SHA_SIZE];

	for (size_t i = 0; i < YOKE_SHA_SIZE; i++) {
		int high = nibble(hex[2 * i]);
		int low = high < 0 ? -1 : nibble(hex[2 * i + 1]);

		if (low < 0)
			return false;
		read[i] = (uint8_t)(high << 4 | low);
	}
	if (hex[YOKE_SHA_HEX] != '\0')
		return false;
	for (size_t i = 0; i < YOKE_SHA_SIZE; i++)
		sum[i] = read[i];
	return true;
}
