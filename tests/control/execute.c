/* What a control does with blocks as they come. Rules: execute.h. */
#include "execute.h"
#include <stdlib.h>
#include <string.h>

void execute_start(struct execute *e, enum code code)
{
	e->code = code;
	e->begun = false;
	e->blocks = 0;
	e->n = e->block_n = 0;
}

void execute_free(struct execute *e)
{
	free(e->text);
	free(e->block);
	*e = (struct execute){0};
}

static bool room(char **v, size_t *cap, size_t n)
{
	size_t more = *cap ? *cap : 256;
	char *grown;

	while (more < n)
		more *= 2;
	if (more == *cap)
		return true;
	grown = realloc(*v, more);
	if (!grown)
		return false;
	*v = grown;
	*cap = more;
	return true;
}

/* True when the block holds M02 or M30 outside parentheses. */
static bool ends(const struct execute *e)
{
	bool comment = false;

	for (size_t i = 0; i < e->block_n; i++) {
		const char *b = e->block + i;
		char behind = i + 3 < e->block_n ? b[3] : ' ';

		comment |= *b == '(';
		comment &= *b != ')';
		if (!comment && i + 3 <= e->block_n &&
		    (!memcmp(b, "M02", 3) || !memcmp(b, "M30", 3)) && (behind < '0' || behind > '9'))
			return true;
	}
	return false;
}

/* The end of the block was read. */
static enum execute_answer execute(struct execute *e)
{
	bool over = ends(e);

	if (!e->block_n)
		return EXECUTE_MORE;
	if (!room(&e->text, &e->cap, e->n + e->block_n + 1))
		return EXECUTE_TROUBLE;
	memcpy(e->text + e->n, e->block, e->block_n);
	e->n += e->block_n;
	e->text[e->n++] = '\n';
	e->blocks++;
	e->block_n = 0;
	return over ? EXECUTE_END : EXECUTE_MORE;
}

enum execute_answer execute_take(struct execute *e, uint8_t byte)
{
	uint8_t c;
	bool good = code_take(e->code, byte, &c);

	if (!e->begun) {
		e->begun = c == '%' || c == CODE_LF;
		return EXECUTE_MORE;
	}
	if (!good)
		return EXECUTE_PARITY;
	if (c == '%')
		return e->blocks || e->block_n ? EXECUTE_END : EXECUTE_MORE;
	if (c == CODE_LF)
		return execute(e);
	if (c < ' ' || c == CODE_DEL)
		return EXECUTE_MORE;
	if (!room(&e->block, &e->block_cap, e->block_n + 1))
		return EXECUTE_TROUBLE;
	e->block[e->block_n++] = (char)c;
	return EXECUTE_MORE;
}
