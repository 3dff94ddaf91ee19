#include <stdio.h>
#include "db.h"
#include "open.h"

int vault_verify_file(
    const char *path, bool programs, struct vault_verdict *out, char *why, size_t n)
{
	struct vault *v = open_reader(path, why, n);
	int r;

	if (!v)
		return -1;
	r = vault_verify(v, programs, out);
	if (r < 0)
		snprintf(why, n, "%s", vault_error(v));
	vault_close(v);
	return r;
}
