#include "secret.h"

#include <string.h>
#include <sys/prctl.h>
#include <unistd.h>
#include "secret_open.h"

/* Where it lies, and an open descriptor to it; -1 with the fault set. */
static int open_secret(
    const char *text, const char *what, uint32_t item, char *path, struct fault *f)
{
	char why[2 * YOKE_PATH_MAX];
	int fd = secret_open(text, what, path, why, sizeof(why));

	if (fd < 0)
		return fault_set(f, CARRY_ERROR_SECRET, item, "%s", why);
	prctl(PR_SET_DUMPABLE, 0);
	return fd;
}

int secret_path(const char *place, const char *what, uint32_t item, char *path, struct fault *f)
{
	int fd = open_secret(place, what, item, path, f);

	if (fd < 0)
		return -1;
	close(fd);
	return 0;
}

int secret_read(const char *place, const char *what, uint32_t item, char *out, struct fault *f)
{
	char path[YOKE_PATH_MAX + 1];
	int fd = open_secret(place, what, item, path, f);
	size_t n = 0;
	ssize_t got;

	if (fd < 0)
		return -1;
	while (n < SECRET_MAX + 1 && (got = read(fd, out + n, SECRET_MAX + 1 - n)) > 0)
		n += (size_t)got;
	close(fd);
	while (n && n <= SECRET_MAX && (out[n - 1] == '\n' || out[n - 1] == '\r'))
		n--;
	if (n && n <= SECRET_MAX && !memchr(out, '\n', n) && !memchr(out, '\r', n) &&
	    !memchr(out, '\0', n)) {
		out[n] = '\0';
		return 0;
	}
	explicit_bzero(out, SECRET_MAX + 1);
	return fault_set(f, CARRY_ERROR_SECRET, item,
	    "the %s in %s is not one line of 1 to %d characters", what, path, SECRET_MAX);
}
