#include "taking.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/mman.h>
#include <unistd.h>
#include "save.h"
#include "sha256.h"

int taking_begin(struct taking *t, bool keep)
{
	*t = (struct taking){.sum = sha256_new(), .fd = -1};
	if (keep)
		t->fd = memfd_create("old", MFD_CLOEXEC | MFD_ALLOW_SEALING);
	if (keep && t->fd < 0)
		return -errno;
	return t->sum ? 0 : -ENOMEM;
}

int taking_add(struct taking *t, const void *bytes, size_t n)
{
	t->size += n;
	if (t->size > YOKE_PROGRAM_MAX)
		return -EFBIG;
	if (sha256_add(t->sum, bytes, n))
		return -EIO;
	return t->fd < 0 ? 0 : save_all(t->fd, bytes, n);
}

static int seal(int fd)
{
	int seals = F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL;

	return fcntl(fd, F_ADD_SEALS, seals) ? -errno : 0;
}

int taking_end(struct taking *t, int rc, struct folder_seen *out)
{
	*out = (struct folder_seen){.fd = -1};
	if (!rc && sha256_end(t->sum, out->sha.b))
		rc = -EIO;
	if (!rc && t->fd >= 0)
		rc = seal(t->fd);
	if (rc && t->fd >= 0)
		close(t->fd);
	sha256_free(t->sum);
	if (rc)
		return rc;
	out->there = true;
	out->size = t->size;
	out->fd = t->fd;
	return 0;
}
