#include "folder.h"

#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "mount.h"
#include "remote.h"

struct folder *folder_open(const struct line *line, uint32_t item, struct folder_order *order,
    struct folder *const *others, uint32_t n, struct fault *fault)
{
	return line->kind == LINE_REMOTE ? remote_open(line, item, order, others, n, fault)
	                                 : mount_open(line, item, order, others, n, fault);
}

int folder_tick(const struct folder *f, uint64_t done)
{
	return f->order->tick.call(f->order->tick.ctx, done);
}

void folder_close(struct folder *f)
{
	if (f)
		f->ops->close(f);
}

int folder_write(struct folder *f, const char *name, const struct folder_seen *what,
    const struct folder_seen *like)
{
	int rc = f->ops->put(f, name, what, like);

	return rc ? rc : f->ops->prove(f, name, what);
}

void folder_drop(struct folder_seen *seen)
{
	if (seen->bytes && seen->fd >= 0)
		munmap((void *)seen->bytes, seen->size);
	if (seen->fd >= 0)
		close(seen->fd);
	*seen = (struct folder_seen){.fd = -1};
}

uint32_t folder_total(const struct line *line)
{
	return line->kind == LINE_REMOTE ? line->remote.total_ms : line->directory.total_ms;
}

bool folder_equal(const struct folder_seen *a, const struct folder_seen *b)
{
	if (a->there != b->there)
		return false;
	return !a->there || (a->size == b->size && !memcmp(&a->sha, &b->sha, sizeof a->sha));
}
