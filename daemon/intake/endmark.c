#include "endmark.h"

#include <ctype.h>
#include <errno.h>
#include <string.h>
#include <unistd.h>

enum {
	CHUNK = 4096,    /* bytes judged at either end */
	CHUNKS_MAX = 16, /* chunks of nothing but filler that are passed over */
};

static bool is_line_end(unsigned char c)
{
	return c == '\n' || c == '\r';
}

static bool is_filler(unsigned char c)
{
	/* Ctrl-Z closed a text file on older systems; DC1..DC4 framed it on the line (ISO 646, 1/1
	 * to 1/4). */
	return c == 0 || c == 0x7F || c == 0x1A || (c >= 0x11 && c <= 0x14) || c == ' ' ||
	       c == '\t' || is_line_end(c);
}

void endmark_read_head(const unsigned char *bytes, size_t n, struct endmark_head *head)
{
	size_t i = n >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;

	while (i < n && is_filler(bytes[i]))
		i++;
	head->only_filler = i == n;
	head->first = i;
	head->percent = i < n && bytes[i] == '%';
}

/* True if the block, comments left out, holds an M word of program or subprogram end. */
static bool block_ends_program(const unsigned char *s, size_t n, bool *empty)
{
	bool comment = false, letter_before = false;

	*empty = true;
	for (size_t i = 0; i < n; i++) {
		if (comment) {
			comment = s[i] != ')';
			continue;
		}
		if (s[i] == ';')
			break;
		comment = s[i] == '(';
		if (comment || is_filler(s[i])) {
			letter_before = false;
			continue;
		}
		*empty = false;
		if (toupper(s[i]) == 'M' && !letter_before) {
			size_t k = i + 1;
			unsigned number = 0, digits = 0;

			while (k < n && (s[k] == ' ' || s[k] == '\t'))
				k++;
			for (; k < n && isdigit(s[k]) && digits < 6; k++, digits++)
				number = number * 10 + (s[k] - '0');
			bool fraction = k < n && s[k] == '.' && k + 1 < n && isdigit(s[k + 1]);
			if (digits > 0 && !fraction &&
			    (number == 2 || number == 30 || number == 99))
				return true;
		}
		letter_before = isalpha(s[i]) != 0;
	}
	return false;
}

bool endmark_in_tail(
    const struct endmark_head *head, const unsigned char *bytes, size_t n, uint64_t at)
{
	size_t end = n, begin;
	bool empty;

	for (;;) {
		while (end > 0 && is_filler(bytes[end - 1]))
			end--;
		if (end == 0)
			return false;
		for (begin = end; begin > 0 && !is_line_end(bytes[begin - 1]);)
			begin--;
		if (begin == 0 && at > 0)
			return false;
		if (bytes[end - 1] == '%') {
			size_t first = begin;

			while (is_filler(bytes[first]))
				first++;
			return first == end - 1 && at + first > head->first;
		}
		if (head->percent)
			return false;
		if (block_ends_program(bytes + begin, end - begin, &empty))
			return true;
		if (!empty)
			return false;
		end = begin; /* a comment is no block: what stands before it counts */
	}
}

/* Reads exactly n bytes at offset at. Returns 0, or a negative errno; -EAGAIN when the file got
 * shorter. */
static int read_at(int fd, unsigned char *buf, size_t n, uint64_t at)
{
	for (size_t done = 0; done < n;) {
		ssize_t got = pread(fd, buf + done, n - done, (off_t)(at + done));

		if (got < 0 && errno == EINTR)
			continue;
		if (got < 0)
			return -errno;
		if (got == 0)
			return -EAGAIN;
		done += (size_t)got;
	}
	return 0;
}

static int head_of_file(int fd, uint64_t size, struct endmark_head *head)
{
	unsigned char buf[CHUNK];
	uint64_t at = 0;

	for (int chunks = 0; chunks < CHUNKS_MAX; chunks++) {
		size_t n = size - at < CHUNK ? (size_t)(size - at) : CHUNK;
		int rc = read_at(fd, buf, n, at);

		if (rc < 0)
			return rc;
		endmark_read_head(buf, n, head);
		head->first += at;
		at += n;
		if (!head->only_filler || at == size)
			break;
	}
	return 0;
}

/* Finds the end of the last text, passing over filler. Returns 1, 0 if none is near, a negative
 * errno. */
static int last_text(int fd, uint64_t size, uint64_t *end)
{
	unsigned char buf[CHUNK];
	uint64_t at = size;

	for (int chunks = 0; chunks < CHUNKS_MAX && at > 0; chunks++) {
		size_t n = at < CHUNK ? (size_t)at : CHUNK;
		int rc = read_at(fd, buf, n, at - n);

		if (rc < 0)
			return rc;
		while (n > 0 && is_filler(buf[n - 1])) {
			n--;
			at--;
		}
		if (n > 0) {
			*end = at;
			return 1;
		}
	}
	return 0;
}

int endmark_of_file(int fd, uint64_t size)
{
	unsigned char buf[CHUNK];
	struct endmark_head head = {.only_filler = true};
	uint64_t end = 0;
	int rc = head_of_file(fd, size, &head);

	if (rc < 0)
		return rc;
	if (head.only_filler)
		return 0;
	rc = last_text(fd, size, &end);
	if (rc <= 0)
		return rc;
	size_t n = end < CHUNK ? (size_t)end : CHUNK;
	rc = read_at(fd, buf, n, end - n);
	if (rc < 0)
		return rc;
	return endmark_in_tail(&head, buf, n, end - n);
}
