/*
 * Preloaded into the carrier by tests: a mounted share that refuses renames onto a name that is there, as
 * a network's file system does on behalf of its server.
 *
 * YOKE_TEST_HELD: NAME=ERRNO, nothing is renamed onto that name. YOKE_TEST_REPLACES_NOT: set, nothing is
 * renamed onto any name.
 */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int refusal(int dir, const char *to)
{
	const char *held = getenv("YOKE_TEST_HELD");
	size_t n = strlen(to);

	if (faccessat(dir, to, F_OK, AT_SYMLINK_NOFOLLOW))
		return 0;
	if (held && !strncmp(held, to, n) && held[n] == '=')
		return atoi(held + n + 1);
	return getenv("YOKE_TEST_REPLACES_NOT") ? EEXIST : 0;
}

int renameat(int from_dir, const char *from, int to_dir, const char *to)
{
	int (*real)(int, const char *, int, const char *) = dlsym(RTLD_NEXT, "renameat");
	int e = refusal(to_dir, to);

	if (!e)
		return real(from_dir, from, to_dir, to);
	errno = e;
	return -1;
}
