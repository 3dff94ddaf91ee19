#include "seal_key.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "save.h"
#include "secret_open.h"
#include "secret_place.h"

static const char words[] = "key that signs the trail";

bool seal_key_is_file(const char *place)
{
	struct secret_place p;

	return secret_place_read(place, &p) && p.kind == SECRET_FILE;
}

struct ed25519 *seal_key_read(const char *place, bool *missing, char *why, size_t n)
{
	char path[YOKE_PATH_MAX + 1], pem[ED25519_PEM_MAX + 1];
	struct ed25519 *key = NULL;
	int fd = secret_open(place, words, path, why, n);
	size_t length = 0;
	ssize_t got;

	*missing = fd == -ENOENT;
	if (fd < 0)
		return NULL;
	while (length < sizeof(pem) && (got = read(fd, pem + length, sizeof(pem) - length)) > 0)
		length += (size_t)got;
	close(fd);
	if (length <= ED25519_PEM_MAX)
		key = ed25519_read(pem, length);
	explicit_bzero(pem, sizeof(pem));
	if (!key)
		snprintf(why, n,
		    "the %s in %s is no Ed25519 key in PEM without a passphrase: bring back the file",
		    words, path);
	return key;
}

/* PLACE with an ending. False when it is too long. */
static bool beside(const char *place, const char *ending, char out[YOKE_PATH_MAX + 1])
{
	return snprintf(out, YOKE_PATH_MAX + 1, "%s%s", place, ending) <= YOKE_PATH_MAX;
}

static struct ed25519 *read_beside(const char *place, const char *ending)
{
	char other[YOKE_PATH_MAX + 1], why[2 * YOKE_PATH_MAX];
	bool missing;

	return beside(place, ending, other) ? seal_key_read(other, &missing, why, sizeof(why)) : NULL;
}

struct ed25519 *seal_key_pending(const char *place)
{
	return seal_key_is_file(place) ? read_beside(place, ".new") : NULL;
}

struct ed25519 *seal_key_old(const char *place)
{
	return seal_key_is_file(place) ? NULL : read_beside(place, ".old");
}

static int flush_folder(const char *path)
{
	char folder[YOKE_PATH_MAX + 1];
	const char *slash = strrchr(path, '/');
	int fd, rc = 0;

	snprintf(folder, sizeof(folder), "%.*s", slash == path ? 1 : (int)(slash - path), path);
	fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0 || fsync(fd))
		rc = -errno;
	if (fd >= 0)
		close(fd);
	return rc;
}

static int write_new(const char *path, const struct ed25519 *key)
{
	char pem[ED25519_PEM_MAX];
	size_t n = ed25519_write(key, pem);
	int fd, rc = n ? 0 : -ENOMEM;

	fd = rc ? -1 : open(path, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0600);
	if (!rc && fd < 0)
		rc = -errno;
	if (!rc && (fchmod(fd, 0600) || (rc = save_all(fd, pem, n)) || fsync(fd)))
		rc = rc ? rc : -errno;
	if (fd >= 0 && close(fd) && !rc)
		rc = -errno;
	explicit_bzero(pem, sizeof(pem));
	return rc;
}

int seal_key_prepare(const char *place, const struct ed25519 *key, char *why, size_t n)
{
	char path[YOKE_PATH_MAX + 1];
	int rc = -ENAMETOOLONG;

	if (!seal_key_is_file(place)) {
		snprintf(why, n, "the %s is a credential, and only files are written", words);
		return -1;
	}
	if (beside(place + strlen("file:"), ".new", path)) {
		unlink(path);
		rc = write_new(path, key);
		if (!rc)
			rc = flush_folder(path);
	}
	if (!rc)
		return 0;
	snprintf(why, n, "the %s cannot be written to %s: %s", words, path, strerror(-rc));
	return -1;
}

int seal_key_accept(const char *place, char *why, size_t n)
{
	const char *path = place + strlen("file:");
	char prepared[YOKE_PATH_MAX + 1];

	if (beside(path, ".new", prepared) && !rename(prepared, path) && !flush_folder(path))
		return 0;
	snprintf(why, n, "the %s cannot be put into %s: %s", words, path, strerror(errno));
	return -1;
}

void seal_key_drop(const char *place)
{
	char path[YOKE_PATH_MAX + 1];

	if (seal_key_is_file(place) && beside(place + strlen("file:"), ".new", path))
		unlink(path);
}
