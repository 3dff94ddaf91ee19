/* Which verb a method and path name, and the values in the path. */
#ifndef ROUTE_H
#define ROUTE_H

#include <stddef.h>
#include "yoke/api.h"

enum { ROUTE_VALUES = 2, ROUTE_VALUE_MAX = 512 };

struct route {
	enum api_verb verb;
	char value[ROUTE_VALUES][ROUTE_VALUE_MAX + 1];
	size_t values;
};

enum route_result {
	ROUTE_FOUND = 0,
	ROUTE_NO_PATH,   /* no verb has this path */
	ROUTE_NO_METHOD, /* one has, with another method */
	ROUTE_BAD,       /* wrong percent-encoding, not UTF-8, control characters, or too long */
};

/* path: as it came, still percent-encoded, without the query. */
enum route_result route_find(const char *method, const char *path, struct route *out);

/* Decode n bytes of percent-encoding. plus: '+' is a blank, as in a query. 0, -1 as ROUTE_BAD. out
 * holds max + 1 bytes. */
int route_decode(const char *s, size_t n, int plus, char *out, size_t max);

#endif
