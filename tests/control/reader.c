/* The bench control's reader. States and their meaning: reader.h. */
#include "reader.h"
#include "store.h"
#include <stdlib.h>
#include <string.h>

void reader_init(struct reader *r, struct store *s, enum code code, bool refuse_same)
{
	*r = (struct reader){.store = s, .code = code, .refuse_same = refuse_same};
}

void reader_words(struct reader *r, const char *const *words, size_t n)
{
	r->words = words;
	r->word_count = n;
}

void reader_goes_on(struct reader *r)
{
	reader_start(r);
	r->state = READER_BLOCK;
	r->begun = true;
}

void reader_start(struct reader *r)
{
	r->state = READER_LEADER;
	r->program = false;
	r->begun = false;
	store_begin_load(r->store);
}

bool reader_begun(const struct reader *r)
{
	return r->begun;
}

static enum reader_answer put(struct reader *r, char c)
{
	return store_add(r->store, c) ? READER_MORE : READER_FULL;
}

/* The digits after O are complete: the number is known. */
static enum reader_answer number(struct reader *r)
{
	long n;
	enum reader_answer a = READER_MORE;

	r->head[r->digits] = '\0';
	n = strtol(r->head, NULL, 10);
	if (r->refuse_same && store_find(r->store, n))
		return READER_SAME_NUMBER;
	if (r->program && !store_close(r->store, true))
		return READER_TROUBLE;
	if (!store_open(r->store, n))
		return READER_TROUBLE;
	r->program = true;
	a = put(r, 'O');
	for (unsigned i = 0; i < r->digits && a == READER_MORE; i++)
		a = put(r, r->head[i]);
	return a;
}

/* The block that names a channel. */
static enum reader_answer word(struct reader *r, char c)
{
	if (r->state != READER_WORD)
		r->label_len = 0;
	r->state = READER_WORD;
	if (c != '\n') {
		if (r->label_len + 1 == sizeof(r->label))
			return READER_NO_NUMBER;
		r->label[r->label_len++] = c;
		return READER_MORE;
	}
	r->state = READER_BLOCK;
	r->label[r->label_len] = '\0';
	for (r->word = 0; r->word < r->word_count; r->word++)
		if (!strcmp(r->words[r->word], r->label))
			return READER_CHANNEL;
	return READER_NO_NUMBER;
}

static enum reader_answer ordinary(struct reader *r, char c)
{
	if (!r->program && r->words && (r->state == READER_WORD || (c != '\n' && c != ' ')))
		return word(r, c);
	if (!r->program) {
		if (c == '\n' || c == ' ')
			return READER_MORE;
		return READER_NO_NUMBER;
	}
	r->state = c == '\n' ? READER_BLOCK : READER_BODY;
	return put(r, c);
}

static enum reader_answer percent(struct reader *r)
{
	if (!r->program) {
		/* Opened by an end of block, and here comes the `%` after all. */
		r->state = READER_LABEL;
		return READER_MORE;
	}
	r->program = false;
	return store_close(r->store, true) ? READER_END : READER_TROUBLE;
}

static enum reader_answer head(struct reader *r, char c)
{
	enum reader_answer a;

	if (c >= '0' && c <= '9' && r->digits < sizeof(r->head) - 1) {
		r->head[r->digits++] = c;
		return READER_MORE;
	}
	if (!r->digits || (c >= '0' && c <= '9')) {
		/* An O that is no program number. */
		a = ordinary(r, 'O');
		for (unsigned i = 0; i < r->digits && a == READER_MORE; i++)
			a = put(r, r->head[i]);
	} else {
		a = number(r);
	}
	if (a != READER_MORE)
		return a;
	return c == '%' ? percent(r) : ordinary(r, c);
}

static enum reader_answer significant(struct reader *r, char c)
{
	if (r->state == READER_HEAD)
		return head(r, c);
	if (r->state == READER_WORD)
		return ordinary(r, c);
	if (r->state == READER_SKIP || r->state == READER_LABEL) {
		if (c == '\n')
			r->state = READER_BLOCK;
		else if (r->state == READER_LABEL && (c == 'O' || c == ':'))
			r->state = READER_BLOCK;
		else
			r->state = READER_SKIP;
		if (r->state != READER_BLOCK || c == '\n')
			return READER_MORE;
	}
	if (c == '%')
		return percent(r);
	if (r->state == READER_BLOCK && (c == 'O' || c == ':')) {
		r->state = READER_HEAD;
		r->digits = 0;
		return READER_MORE;
	}
	return ordinary(r, c);
}

enum reader_answer reader_take(struct reader *r, uint8_t byte)
{
	uint8_t c;
	bool good = code_take(r->code, byte, &c);

	if (!good)
		r->parity_errors++;
	if (r->state == READER_LEADER) {
		if (c == '%')
			r->state = READER_LABEL;
		else if (c == CODE_LF)
			r->state = READER_BLOCK;
		r->begun = c == '%';
		return READER_MORE;
	}
	if (c > ' ' && c != CODE_DEL)
		r->begun = true;
	if (!good)
		return READER_PARITY;
	if (r->code == CODE_EIA && c == CODE_NUL && r->begun)
		return READER_BLANK;
	if (c == CODE_DEL || (c < ' ' && c != CODE_LF && c != '\t'))
		return READER_MORE;
	return significant(r, (char)c);
}

void reader_break(struct reader *r)
{
	/* A copy that cannot be written does not change what the control holds. */
	(void)store_close(r->store, false);
	r->program = false;
	r->begun = false;
	r->state = READER_LEADER;
}
