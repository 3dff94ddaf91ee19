#include "cursor.h"

#include <stdlib.h>
#include <string.h>
#include "line_end.h"

bool nc_cursor_begin(struct nc_cursor *c, const void *bytes, size_t n)
{
	memset(c, 0, sizeof(*c));
	c->bytes = bytes;
	c->n = n;
	c->line = 1;
	c->copy = malloc(NC_LINE_MAX + 1);
	return c->copy != NULL;
}

void nc_cursor_call(struct nc_cursor *c, const char *word)
{
	c->scan.wait_call = word;
}

void nc_cursor_end(struct nc_cursor *c)
{
	free(c->copy);
	c->copy = NULL;
}

void nc_cursor_seek(struct nc_cursor *c, uint64_t offset, uint64_t line)
{
	c->offset = offset < c->n ? offset : c->n;
	c->line = line;
}

/* Bytes of the line end at e: LF, CR LF, CR CR LF or CR. */
static size_t end_length(const char *e, const char *stop)
{
	if (e == stop)
		return 0;
	if (*e == '\r' && stop - e > 1 && e[1] == '\n')
		return 2;
	if (*e == '\r' && stop - e > 2 && e[1] == '\r' && e[2] == '\n')
		return 3;
	return 1;
}

/* The line at s as one that ends: as it lies there, or as much of it as is read, copied. */
static const char *ended(struct nc_cursor *c, const char *s, size_t length, const char *stop)
{
	size_t fits = length < NC_LINE_MAX ? length : NC_LINE_MAX;

	if (fits == length && s + length < stop)
		return s;
	memcpy(c->copy, s, fits);
	c->copy[fits] = '\n';
	return c->copy;
}

bool nc_cursor_next(struct nc_cursor *c)
{
	const char *s = c->bytes + c->offset, *stop = c->bytes + c->n, *from;
	size_t length, mark = 0;

	if (c->offset >= c->n)
		return false;
	length = (size_t)(line_end_find(s, stop) - s);
	from = ended(c, s, length, stop);
	if (c->offset == 0 && length >= 3 && memcmp(s, "\xEF\xBB\xBF", 3) == 0)
		mark = 3;
	nc_scan_line(&c->scan, from + mark);
	if (length > NC_LINE_MAX)
		nc_scan_faults(&c->scan, NC_FAULT_LONG, NC_LINE_MAX + 1, 0, 1);
	nc_scan_block(&c->scan, &c->block);
	c->block.line = c->line;
	c->block.offset = c->offset + (uint64_t)(c->scan.s - from);
	c->offset += length + end_length(s + length, stop);
	c->line++;
	return true;
}
