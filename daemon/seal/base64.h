/* Base64, RFC 4648 section 4, with padding. */
#ifndef SEAL_BASE64_H
#define SEAL_BASE64_H

#include <stddef.h>
#include "yoke/text.h"

/* Characters that n bytes take. */
#define BASE64_LENGTH(n) (((n) + 2) / 3 * 4)

/* Append n bytes in base64. */
void base64_put(struct text *t, const void *bytes, size_t n);

/*
 * Read n characters, which must be exactly what base64_put would write: no blanks, no line ends, padding
 * in full, no bits left over. out takes n / 4 * 3 bytes. Returns the number of bytes, or -1.
 */
long base64_read(const char *s, size_t n, void *out);

#endif
