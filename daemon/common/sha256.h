/* SHA-256 (FIPS 180-4) over libcrypto, which uses the processor's own instructions where there are
 * any. */
#ifndef SHA256_H
#define SHA256_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/limits.h"

struct sha256;

/* Begin a sum. The caller frees it. NULL when memory runs out or libcrypto has no SHA-256. */
struct sha256 *sha256_new(void);

/* Add n bytes. 0, or -1 when libcrypto fails (sticky: sha256_end fails too). */
int sha256_add(struct sha256 *s, const void *bytes, size_t n);

/* The sum of everything added; afterwards s stands at the beginning of a new sum. 0, or -1. */
int sha256_end(struct sha256 *s, uint8_t sum[YOKE_SHA_SIZE]);

/* Free; NULL is allowed. */
void sha256_free(struct sha256 *s);

/* The sum of n bytes at once. 0, or -1 when libcrypto fails. bytes may be NULL when n is 0. */
int sha256_of(const void *bytes, size_t n, uint8_t sum[YOKE_SHA_SIZE]);

/* Lower-case hexadecimal, NUL-terminated. */
void sha256_hex(const uint8_t sum[YOKE_SHA_SIZE], char hex[YOKE_SHA_HEX + 1]);

/* True and sum filled when hex is exactly YOKE_SHA_HEX hexadecimal digits, of either case. */
bool sha256_parse(const char *hex, uint8_t sum[YOKE_SHA_SIZE]);

#endif
