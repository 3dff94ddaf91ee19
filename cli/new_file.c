#include "new_file.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <unistd.h>
#include "exit.h"
#include "out.h"
#include "save.h"

static int fill(int fd, const struct text *t)
{
	int error = t->failed ? -ENOMEM : save_all(fd, t->s, t->n);

	if (error == 0 && fsync(fd) < 0 && errno != EINVAL && errno != EROFS)
		error = -errno;
	if (close(fd) < 0 && error == 0)
		error = -errno;
	return error;
}

int new_file_write(const char *path, struct text *t)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
	int error = fd < 0 ? -errno : 0;

	if (fd < 0) {
		out_error("%s cannot be made: %s%s", path, strerror(errno),
		    errno == EEXIST ? ": nothing is overwritten; name another" : "");
	} else {
		error = fill(fd, t);
		if (error) {
			out_error("%s cannot be written: %s", path, strerror(-error));
			unlink(path);
		}
	}
	text_free(t);
	return error ? EXIT_USE : 0;
}
