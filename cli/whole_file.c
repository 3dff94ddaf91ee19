#include "whole_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static int take(int fd, size_t most, char **bytes, size_t *n)
{
	size_t room = 0;
	ssize_t got = 1;
	char *grown;

	while (got > 0) {
		if (*n == room) {
			room = room ? room * 2 : 65536;
			grown = realloc(*bytes, room + 1);
			if (!grown)
				return -1;
			*bytes = grown;
		}
		got = read(fd, *bytes + *n, room - *n);
		if (got < 0 && errno == EINTR)
			got = 1;
		else if (got > 0)
			*n += (size_t)got;
		if (*n > most) {
			errno = EFBIG;
			return -1;
		}
	}
	if (got < 0)
		return -1;
	(*bytes)[*n] = '\0';
	return 0;
}

int whole_file(const char *path, size_t most, char **bytes, size_t *n)
{
	bool input = strcmp(path, "-") == 0;
	int fd = input ? 0 : open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY), rc = -1, error;
	struct stat st;

	*bytes = NULL;
	*n = 0;
	if (fd < 0)
		return -1;
	if (!input && fstat(fd, &st) == 0 && S_ISDIR(st.st_mode))
		errno = EISDIR;
	else
		rc = take(fd, most, bytes, n);
	error = errno;
	if (!input)
		close(fd);
	if (rc) {
		free(*bytes);
		*bytes = NULL;
	}
	errno = error;
	return rc;
}
