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

static bool is_meant(const struct store *s, const struct program *p, long number)
{
	if (number == STORE_NEWEST)
		return store_is_newest(s, p);
	return number == STORE_ALL || p->number == number;
}

static void open_tape(FILE *f, const struct punch_settings *set)
{
	nuls(f, set->leader);
	put(f, set->code, '%');
	end_of_block(f, set);
	for (const char *w = set->word; w && *w; w++)
		put(f, set->code, (uint8_t)*w);
	if (set->word)
		end_of_block(f, set);
}

static void close_tape(FILE *f, const struct punch_settings *set)
{
	put(f, set->code, '%');
	end_of_block(f, set);
	nuls(f, set->trailer);
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
	open_tape(f, set);
	for (size_t i = 0; (p = store_at(s, i)); i++) {
		if (!is_meant(s, p, number))
			continue;
		if (found++ && set->own_percent) {
			close_tape(f, set);
			open_tape(f, set);
		}
		text(f, set, p);
	}
	close_tape(f, set);
	put(f, set->code, CODE_DC4);
	if (fclose(f) != 0 || !found) {
		free(stream);
		errno = found ? ENOMEM : ENOENT;
		return NULL;
	}
	return (uint8_t *)stream;
}
