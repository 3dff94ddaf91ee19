#include "scrape_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
	PAGE_USUAL = 4096,
	PAGE_MOST = 65536,
	WAL_HEAD = 32,
	FRAME_HEAD = 24,
	WAL_MAGIC = 0x377f0682, /* | 1: sums over big-endian words */
};

/* Map a file for reading. 0 also when there is none or it is empty; -1 with errno. */
static int map(const char *path, const unsigned char **out, size_t *n)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY), saved;
	struct stat st;
	void *p;

	*out = NULL;
	*n = 0;
	if (fd < 0)
		return errno == ENOENT ? 0 : -1;
	if (fstat(fd, &st) < 0 || st.st_size == 0) {
		close(fd);
		return 0;
	}
	p = mmap(NULL, (size_t)st.st_size, PROT_READ, MAP_PRIVATE, fd, 0);
	saved = errno;
	close(fd);
	errno = saved;
	if (p == MAP_FAILED)
		return -1;
	*out = p;
	*n = (size_t)st.st_size;
	return 0;
}

static size_t sane_size(size_t size)
{
	if (size == 1)
		size = PAGE_MOST;
	return size >= 512 && size <= PAGE_MOST && !(size & (size - 1)) ? size : 0;
}

static size_t page_size(const struct scrape_file *f)
{
	size_t size = f->db_n >= 100 ? sane_size((size_t)f->db[16] << 8 | f->db[17]) : 0;

	if (!size && f->wal_n >= WAL_HEAD)
		size = sane_size(scrape_u32(f->wal + 8));
	return size ? size : PAGE_USUAL;
}

/* The log's running sum over n bytes. */
static void add_sum(uint32_t sum[2], const unsigned char *p, size_t n, bool big)
{
	for (size_t i = 0; i + 8 <= n; i += 8) {
		uint32_t x[2];

		for (int k = 0; k < 2; k++) {
			const unsigned char *w = p + i + 4 * k;

			x[k] = big ? scrape_u32(w)
			           : (uint32_t)w[3] << 24 | (uint32_t)w[2] << 16 | (uint32_t)w[1] << 8 |
			                 w[0];
		}
		sum[0] += x[0] + sum[1];
		sum[1] += x[1] + sum[0];
	}
}

static const unsigned char *frame_at(const struct scrape_file *f, size_t i, size_t *at)
{
	*at = WAL_HEAD + i * (FRAME_HEAD + f->size);
	return *at + FRAME_HEAD + f->size <= f->wal_n ? f->wal + *at : NULL;
}

/* Frames of transactions that are there whole, as SQLite takes them after a crash. Their number. */
static size_t whole_frames(const struct scrape_file *f)
{
	bool big = f->wal_n >= WAL_HEAD && f->wal[3] & 1;
	uint32_t sum[2] = {0, 0};
	const unsigned char *p;
	size_t at, whole = 0;

	if (f->wal_n < WAL_HEAD || (scrape_u32(f->wal) & ~1u) != WAL_MAGIC)
		return 0;
	add_sum(sum, f->wal, 24, big);
	if (sum[0] != scrape_u32(f->wal + 24) || sum[1] != scrape_u32(f->wal + 28))
		return 0;
	for (size_t i = 0; (p = frame_at(f, i, &at)); i++) {
		if (memcmp(p + 8, f->wal + 16, 8) != 0)
			break;
		add_sum(sum, p, 8, big);
		add_sum(sum, p + FRAME_HEAD, f->size, big);
		if (sum[0] != scrape_u32(p + 16) || sum[1] != scrape_u32(p + 20))
			break;
		if (scrape_u32(p + 4) != 0)
			whole = i + 1;
	}
	return whole;
}

static void take_frames(struct scrape_file *f)
{
	size_t whole = whole_frames(f), at;
	const unsigned char *p;

	for (size_t i = 0; (p = frame_at(f, i, &at)); i++) {
		uint32_t number = scrape_u32(p);

		if (number == 0 || number > f->pages)
			continue;
		if (i < whole)
			f->frame[0][number] = at + FRAME_HEAD;
		f->frame[1][number] = at + FRAME_HEAD;
	}
}

int scrape_file_open(struct scrape_file *f, const char *path)
{
	char *log;
	size_t pages, frames;
	int r;

	*f = (struct scrape_file){0};
	if (asprintf(&log, "%s-wal", path) < 0)
		return -1;
	r = map(path, &f->db, &f->db_n);
	if (r == 0)
		r = map(log, &f->wal, &f->wal_n);
	free(log);
	if (r < 0)
		return -1;
	f->size = page_size(f);
	frames = f->wal_n / (FRAME_HEAD + f->size);
	/* The log may have put pages behind the file's end: no more than it has frames. */
	pages = f->db_n / f->size + frames;
	if (pages > UINT32_MAX - 1) {
		errno = EFBIG;
		return -1;
	}
	f->pages = (uint32_t)pages;
	for (int i = 0; i < 2; i++)
		f->frame[i] = calloc(pages + 1, sizeof(*f->frame[i]));
	if (!f->frame[0] || !f->frame[1]) {
		errno = ENOMEM;
		return -1;
	}
	take_frames(f);
	return 0;
}

void scrape_file_close(struct scrape_file *f)
{
	if (f->db)
		munmap((void *)f->db, f->db_n);
	if (f->wal)
		munmap((void *)f->wal, f->wal_n);
	free(f->frame[0]);
	free(f->frame[1]);
	*f = (struct scrape_file){0};
}

const unsigned char *scrape_page(const struct scrape_file *f, unsigned view, uint32_t number)
{
	if (number == 0 || number > f->pages)
		return NULL;
	if (view < 2 && f->frame[view][number])
		return f->wal + f->frame[view][number];
	return (size_t)number * f->size <= f->db_n ? f->db + (size_t)(number - 1) * f->size : NULL;
}
