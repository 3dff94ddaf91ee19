#include "secret.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <unistd.h>
#include "secret_place.h"

/* Where it lies, and an open descriptor to it; -1 with the fault set. */
static int open_secret(
    const char *text, const char *what, uint32_t item, char *path, struct fault *f)
{
	const char *folder = getenv("CREDENTIALS_DIRECTORY");
	struct secret_place place;
	struct stat st;
	int fd;

	if (!secret_place_read(text, &place))
		return fault_set(f, CARRY_ERROR_SECRET, item,
		    "where the %s lies is not told as credential:NAME or file:/PATH", what);
	if (place.kind == SECRET_CREDENTIAL && !folder)
		return fault_set(f, CARRY_ERROR_SECRET, item,
		    "the %s is the credential %s, and the service has no credentials: "
		    "LoadCredential=%s:PATH belongs into its unit",
		    what, place.name, place.name);
	if (snprintf(path, YOKE_PATH_MAX + 1, "%s%s%s",
	        place.kind == SECRET_CREDENTIAL ? folder : "",
	        place.kind == SECRET_CREDENTIAL ? "/" : "", place.name) > YOKE_PATH_MAX)
		return fault_set(
		    f, CARRY_ERROR_SECRET, item, "the path of the %s is too long", what);
	fd = open(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
	if (fd < 0 || fstat(fd, &st)) {
		fault_set(f, CARRY_ERROR_SECRET, item, "the %s in %s cannot be read: %s", what, path,
		    strerror(errno));
		goto fail;
	}
	if (!S_ISREG(st.st_mode)) {
		fault_set(f, CARRY_ERROR_SECRET, item, "the %s in %s is no file", what, path);
		goto fail;
	}
	if (place.kind == SECRET_FILE && (st.st_uid != geteuid() || (st.st_mode & 077))) {
		fault_set(f, CARRY_ERROR_SECRET, item,
		    "the %s in %s is not ours alone (owner %u, mode %04o): it is not used until "
		    "'chown' and 'chmod 600' have made it so; who could read it may know it",
		    what, path, (unsigned)st.st_uid, (unsigned)st.st_mode & 07777);
		goto fail;
	}
	return fd;
fail:
	if (fd >= 0)
		close(fd);
	return -1;
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
	prctl(PR_SET_DUMPABLE, 0);
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
