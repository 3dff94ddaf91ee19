#include "save.h"

#include <errno.h>
#include <unistd.h>

int save_all(int fd, const void *bytes, size_t n)
{
	const char *p = bytes;

	while (n > 0) {
		ssize_t done = write(fd, p, n);

		if (done < 0 && errno == EINTR)
			continue;
		if (done < 0)
			return -errno;
		p += done;
		n -= (size_t)done;
	}
	return 0;
}
