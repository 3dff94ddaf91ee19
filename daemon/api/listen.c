#include "listen.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

enum { BACKLOG = 64 };

/* 1: somebody listens there; 0: nobody does; -1: it is no socket. */
static int in_use(const struct sockaddr_un *a)
{
	struct stat st;
	int fd, used;

	if (lstat(a->sun_path, &st))
		return 0;
	if (!S_ISSOCK(st.st_mode))
		return -1;
	fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
	if (fd < 0)
		return 1;
	used = connect(fd, (const struct sockaddr *)a, sizeof(*a)) == 0 || errno == EAGAIN;
	close(fd);
	return used;
}

int listen_open(const char *path, unsigned mode, char *why, size_t n)
{
	struct sockaddr_un a = {.sun_family = AF_UNIX};
	mode_t old;
	int fd, bound, used;

	if (strlen(path) >= sizeof(a.sun_path)) {
		snprintf(why, n,
		    "%s: a socket's path may have at most %zu bytes: set 'socket' in yoke.conf to "
		    "a shorter one",
		    path, sizeof(a.sun_path) - 1);
		return -1;
	}
	memcpy(a.sun_path, path, strlen(path) + 1);
	used = in_use(&a);
	if (used) {
		snprintf(why, n,
		    used > 0 ? "%s: another service listens on this socket: end it first"
		             : "%s: is there and is no socket: move it away",
		    path);
		return -1;
	}
	unlink(path);
	fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
	if (fd < 0) {
		snprintf(why, n, "%s: %s", path, strerror(errno));
		return -1;
	}
	old = umask(0777 & ~mode);
	bound = bind(fd, (const struct sockaddr *)&a, sizeof(a));
	umask(old);
	if (bound || listen(fd, BACKLOG)) {
		snprintf(why, n, "%s: %s", path, strerror(errno));
		close(fd);
		return -1;
	}
	return fd;
}
