/*
 * Random expressions over + - * / ** and brackets, a line each, with what they come to here:
 *
 *     TEXT <tab> exact|near|unknown|alarm <tab> NUM <tab> DEN <tab> REAL <tab> OFF
 *
 * usage: print_expr SEED COUNT. For expr_reference.py, which computes them too.
 */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "expr.h"

static uint64_t seed;

static unsigned draw(unsigned below)
{
	seed = seed * 6364136223846793005u + 1442695040888963407u;
	return (unsigned)(seed >> 33) % below;
}

static char text[4096];
static size_t length;

static void add(const char *s)
{
	size_t n = strlen(s);

	if (length + n >= sizeof(text))
		abort();
	memcpy(text + length, s, n + 1);
	length += n;
}

static void add_number(void)
{
	static const char *const odd[] = {"0", "0.1", ".5", "7.", "0.001", "123456789", "1.0625"};
	char s[32];

	if (draw(4) == 0) {
		add(odd[draw(sizeof(odd) / sizeof(odd[0]))]);
		return;
	}
	snprintf(s, sizeof(s), draw(2) ? "%u" : "%u.%u", draw(100), draw(1000));
	add(s);
}

/* Brackets at most this deep. */
static void add_sum(unsigned depth)
{
	static const char *const operators[] = {"+", "-", " * ", "/", " + ", " - ", "*", " / "};
	unsigned more = draw(4);

	for (unsigned i = 0; i <= more; i++) {
		if (i)
			add(operators[draw(sizeof(operators) / sizeof(operators[0]))]);
		if (draw(6) == 0)
			add("-");
		if (depth && draw(2)) {
			add("[");
			add_sum(depth - 1);
			add("]");
		} else {
			add_number();
		}
		if (draw(12) == 0)
			add(draw(2) ? "**2" : "**3");
	}
}

int main(int argc, char **argv)
{
	static const char *const kind[] = {[NC_VALUE_UNKNOWN] = "unknown",
	    [NC_VALUE_EXACT] = "exact",
	    [NC_VALUE_NEAR] = "near",
	    [NC_VALUE_VACANT] = "vacant",
	    [NC_VALUE_ALARM] = "alarm"};
	const struct profile profile = {.name = ""};

	if (argc != 3) {
		fprintf(stderr, "usage: %s SEED COUNT\n", argv[0]);
		return 2;
	}
	seed = strtoull(argv[1], NULL, 10);
	for (unsigned long i = strtoul(argv[2], NULL, 10); i; i--) {
		struct nc_pool pool = {0};
		size_t used = 0;
		struct nc_value v;
		int64_t e;

		length = 0;
		add_sum(1 + draw(3));
		e = nc_expr_sum(&pool, text, length, &used);
		if (e < 0 || used != length) {
			fprintf(stderr, "not read: %s\n", text);
			return 1;
		}
		v = nc_expr_eval(&pool, (uint32_t)e, &profile, NULL, NULL);
		printf("%s\t%s\t%" PRId64 "\t%" PRId64 "\t%.17g\t%.17g\n", text, kind[v.kind],
		    v.num, v.den, v.real, v.off);
		nc_pool_free(&pool);
	}
	return 0;
}
