/* The bench control's punch. */
#include "punch.h"
#include "store.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>

static void put(FILE *f, enum code code, uint8_t c)
{
	putc(code_send(code, c), f);
}

static void end_of_block(FILE *f, const struct punch_settings *set)
{
	/* EIA has one end of block, and no CR. */
	if (set->code == CODE_EIA) {
		put(f, set->code, CODE_LF);
		return;
	}
	if (set->eob == PUNCH_CRLF)
		put(f, set->code, CODE_CR);
	put(f, set->code, CODE_LF);
	if (set->eob == PUNCH_LFCRCR) {
		put(f, set->code, CODE_CR);
		put(f, set->code, CODE_CR);
	}
}

static void nuls(FILE *f, size_t n)
{
	while (n--)
		putc(CODE_NUL, f);
}

static void text(FILE *f, const struct punch_settings *set, const struct program *p)
{
	for (size_t i = 0; i < p->len; i++) {
		if (p->text[i] == '\n')
			end_of_block(f, set);
		else
			put(f, set->code, (uint8_t)p->text[i]);
	}
	if (p->len && p->text[p->len - 1] != '\n')
		end_of_block(f, set);
}

uint8_t *punch_stream(
    const struct store *s, long number, const struct punch_settings *set, size_t *len)
{
	char *stream = NULL;
	size_t found = 0;
	const struct program *p;
	FILE *f = open_memstream(&stream, len);

	if (!f)
		return NULL;
	put(f, set->code, CODE_DC2);
	nuls(f, set->leader);
	put(f, set->code, '%');
	end_of_block(f, set);
	for (size_t i = 0; (p = store_at(s, i)); i++) {
		if (number < 0 ? !store_is_newest(s, p) : p->number != number)
			continue;
		text(f, set, p);
		found++;
	}
	put(f, set->code, '%');
	end_of_block(f, set);
	nuls(f, set->trailer);
	put(f, set->code, CODE_DC4);
	if (fclose(f) != 0 || !found) {
		free(stream);
		errno = found ? ENOMEM : ENOENT;
		return NULL;
	}
	return (uint8_t *)stream;
}
