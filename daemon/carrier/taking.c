#include "taking.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "save.h"
#include "sha256.h"

int taking_begin(struct taking *t, bool keep, const struct folder_seen *guess)
{
	*t = (struct taking){.sum = sha256_new(), .fd = -1};
	if (guess && guess->there && guess->bytes)
		t->guess = guess;
	if (keep)
		t->fd = memfd_create("old", MFD_CLOEXEC | MFD_ALLOW_SEALING);
	if (keep && t->fd < 0)
		return -errno;
	return t->sum ? 0 : -ENOMEM;
}

/* It is something else: what has come so far, which was the guess's beginning, is summed after all. */
static int give_up_guess(struct taking *t)
{
	const struct folder_seen *guess = t->guess;

	t->guess = NULL;
	return t->size && sha256_add(t->sum, guess->bytes, t->size) ? -EIO : 0;
}

static bool goes_on(const struct taking *t, const void *bytes, size_t n)
{
	return n <= t->guess->size - t->size && !memcmp(t->guess->bytes + t->size, bytes, n);
}

int taking_add(struct taking *t, const void *bytes, size_t n)
{
	int rc = 0;

	if (n > YOKE_PROGRAM_MAX - t->size)
		return -EFBIG;
	if (t->guess && n && !goes_on(t, bytes, n))
		rc = give_up_guess(t);
	if (!rc && !t->guess && sha256_add(t->sum, bytes, n))
		rc = -EIO;
	t->size += n;
	return rc || t->fd < 0 ? rc : save_all(t->fd, bytes, n);
}

static int seal(int fd)
{
	int seals = F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL;

	return fcntl(fd, F_ADD_SEALS, seals) ? -errno : 0;
}

static int end_sum(struct taking *t, struct sha *sha)
{
	int rc = 0;

	if (t->guess && t->size == t->guess->size) {
		*sha = t->guess->sha;
		return 0;
	}
	if (t->guess)
		rc = give_up_guess(t);
	return rc || sha256_end(t->sum, sha->b) ? -EIO : 0;
}

/* What was kept, to be looked at. */
static int map(struct folder_seen *out)
{
	void *at;

	if (out->fd < 0 || !out->size)
		return 0;
	at = mmap(NULL, out->size, PROT_READ, MAP_PRIVATE | MAP_POPULATE, out->fd, 0);
	if (at == MAP_FAILED)
		return -errno;
	out->bytes = at;
	return 0;
}

int taking_end(struct taking *t, int rc, struct folder_seen *out)
{
	*out = (struct folder_seen){.fd = -1};
	if (!rc)
		rc = end_sum(t, &out->sha);
	if (!rc && t->fd >= 0)
		rc = seal(t->fd);
	out->fd = t->fd;
	out->size = t->size;
	out->there = true;
	if (!rc)
		rc = map(out);
	if (rc)
		folder_drop(out);
	sha256_free(t->sum);
	return rc;
}
