#include "secret_open.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "secret_place.h"

/* Whether it may be used. 0, or a negative errno and why. */
static int judge(int fd, enum secret_kind kind, const char *what, const char *path, char *why, size_t n)
{
	struct stat st;

	if (fstat(fd, &st)) {
		int rc = -errno;

		snprintf(why, n, "the %s in %s cannot be read: %s", what, path, strerror(errno));
		return rc;
	}
	if (!S_ISREG(st.st_mode)) {
		snprintf(why, n, "the %s in %s is no file", what, path);
		return -EINVAL;
	}
	if (kind != SECRET_FILE || (st.st_uid == geteuid() && !(st.st_mode & 077)))
		return 0;
	snprintf(why, n,
	    "the %s in %s is not ours alone (owner %u, mode %04o): it is not used until "
	    "'chown' and 'chmod 600' have made it so; who could read it may know it",
	    what, path, (unsigned)st.st_uid, (unsigned)st.st_mode & 07777);
	return -EPERM;
}

int secret_open(
    const char *place, const char *what, char path[YOKE_PATH_MAX + 1], char *why, size_t n)
{
	const char *folder = getenv("CREDENTIALS_DIRECTORY");
	struct secret_place p;
	int fd, rc;

	path[0] = '\0';
	if (!secret_place_read(place, &p)) {
		snprintf(why, n, "where the %s lies is not told as credential:NAME or file:/PATH",
		    what);
		return -EINVAL;
	}
	if (p.kind == SECRET_CREDENTIAL && !folder) {
		snprintf(why, n,
		    "the %s is the credential %s, and the service has no credentials: "
		    "LoadCredential=%s:PATH belongs into its unit",
		    what, p.name, p.name);
		return -EINVAL;
	}
	if (snprintf(path, YOKE_PATH_MAX + 1, "%s%s%s", p.kind == SECRET_CREDENTIAL ? folder : "",
	        p.kind == SECRET_CREDENTIAL ? "/" : "", p.name) > YOKE_PATH_MAX) {
		snprintf(why, n, "the path of the %s is too long", what);
		return -ENAMETOOLONG;
	}
	fd = open(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
	if (fd < 0) {
		rc = -errno;
		snprintf(why, n, "the %s in %s cannot be read: %s", what, path, strerror(errno));
		return rc;
	}
	rc = judge(fd, p.kind, what, path, why, n);
	if (rc == 0)
		return fd;
	close(fd);
	return rc;
}
