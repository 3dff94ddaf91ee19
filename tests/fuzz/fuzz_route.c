/*
 * Goal: no method and path trips the API's table; a value that it hands on is text, fits, and comes
 * back equal when every byte of it is percent-encoded.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "input.h"
#include "route.h"

static void check_value(const char *value)
{
	static char encoded[3 * ROUTE_VALUE_MAX + 1], again[ROUTE_VALUE_MAX + 1];
	size_t n = strlen(value);

	must(n <= ROUTE_VALUE_MAX && !strchr(value, '\n'));
	must_be_plain(value, n);
	for (size_t i = 0; i < n; i++)
		snprintf(encoded + 3 * i, 4, "%%%02x", (unsigned)(unsigned char)value[i]);
	must(route_decode(encoded, 3 * n, 1, again, ROUTE_VALUE_MAX) == 0);
	must(strcmp(again, value) == 0);
	must(n == 0 || route_decode(encoded, 3 * n, 0, again, n - 1) == -1);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct route r;
	static char out[ROUTE_VALUE_MAX + 1];
	struct input in = {data, size};
	bool plus = input_byte(&in) & 1;
	char *method = input_string(&in), *path = input_string(&in);

	if (route_find(method, path, &r) == ROUTE_FOUND) {
		must(r.verb < API_COUNT && r.values <= ROUTE_VALUES);
		for (size_t i = 0; i < r.values; i++) {
			must(r.value[i][0] != '\0');
			check_value(r.value[i]);
		}
	}
	if (route_decode((const char *)in.at, in.left, plus, out, ROUTE_VALUE_MAX) == 0)
		check_value(out);
	free(method);
	free(path);
	return 0;
}
