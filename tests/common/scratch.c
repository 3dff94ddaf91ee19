#include "scratch.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <cmocka.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

int scratch_setup(void **state)
{
	char *path = strdup("/tmp/yoke-test-XXXXXX");

	if (!path || !mkdtemp(path))
		return -1;
	*state = path;
	return 0;
}

static int drop(const char *path, const struct stat *st, int type, struct FTW *ftw)
{
	return remove(path);
}

int scratch_teardown(void **state)
{
	int result = nftw(*state, drop, 8, FTW_DEPTH | FTW_PHYS);

	free(*state);
	return result;
}

const char *scratch_path(void **state, const char *name)
{
	static char ring[4][4096];
	static unsigned turn;
	char *path = ring[turn++ % 4];

	assert_true(
	    snprintf(path, sizeof(ring[0]), "%s/%s", (char *)*state, name) < (int)sizeof(ring[0]));
	return path;
}

const char *scratch_bytes(void **state, const char *name, const void *bytes, size_t n)
{
	const char *path = scratch_path(state, name);
	FILE *f = fopen(path, "wb");

	assert_non_null(f);
	assert_int_equal(fwrite(bytes, 1, n, f), n);
	assert_int_equal(fclose(f), 0);
	return path;
}

const char *scratch_file(void **state, const char *name, const char *content)
{
	return scratch_bytes(state, name, content, strlen(content));
}
