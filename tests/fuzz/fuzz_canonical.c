/*
 * Goal: any bytes have a canonical form, which is its own canonical form and no longer than they
 * are but for one end of line; filler and ends around them change nothing of it; and two texts have
 * no line that differs exactly when they are the same.
 */
#include <stdlib.h>
#include <string.h>
#include "canonical.h"
#include "channel_word.h"
#include "input.h"

static struct canonical form_of(const uint8_t *bytes, size_t n)
{
	struct canonical c;

	must(canonical_make(&c, bytes, n) == 0);
	must(c.size <= n + 1 && (c.bytes != NULL) == (c.size > 0));
	must(c.size == 0 || c.bytes[c.size - 1] == '\n');
	must((c.nuls > 0) == (c.damage_line > 0) &&
	     (c.nuls > 0) == (memchr(c.size ? c.bytes : (const uint8_t *)"x", 0, c.size) != NULL));
	return c;
}

static void same(const struct canonical *a, const struct canonical *b)
{
	must(a->size == b->size && a->nuls == b->nuls && a->damage_line == b->damage_line);
	must(a->size == 0 || memcmp(a->bytes, b->bytes, a->size) == 0);
	must(canonical_difference(a, b) == 0);
}

/* Leader and trailer, as a control punches them. */
static void with_tape(const uint8_t *bytes, size_t n, const struct canonical *want)
{
	static const uint8_t before[] = {0x12, 0, 0, 0x7F, '\r', '\n'};
	static const uint8_t after[] = {'\n', '\r', '\r', 0, 0x7F, 0x14, 0x1A};
	uint8_t *tape = malloc(sizeof(before) + n + sizeof(after));
	struct canonical c;

	must(tape != NULL);
	memcpy(tape, before, sizeof(before));
	if (n > 0)
		memcpy(tape + sizeof(before), bytes, n);
	memcpy(tape + sizeof(before) + n, after, sizeof(after));
	c = form_of(tape, sizeof(before) + n + sizeof(after));
	same(&c, want);
	canonical_free(&c);
	free(tape);
}

/* A channel's word is taken off once behind each %, and nothing else is. */
static void without_words(const struct canonical *text)
{
	static const char *const word[] = {"M30", "O1"};
	struct channel_word w;

	must(channel_word_read(&w, text->bytes, text->size, word, 2) == 0);
	must(w.size <= text->size);
	must((w.first == CHANNEL_WORD_NONE) == (w.size == text->size));
	must(w.first != CHANNEL_WORD_NONE || w.second == CHANNEL_WORD_NONE);
	must(w.first == CHANNEL_WORD_NONE || w.first != w.second);
	channel_word_free(&w);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size}, first = input_part(&in);
	struct canonical a = form_of(first.at, first.left), b = form_of(in.at, in.left), twice;
	bool equal = a.size == b.size && (a.size == 0 || memcmp(a.bytes, b.bytes, a.size) == 0);

	twice = form_of(a.bytes, a.size);
	same(&a, &twice);
	with_tape(first.at, first.left, &a);
	must((canonical_difference(&a, &b) == 0) == equal);
	must((canonical_difference(&a, &b) == 0) == (canonical_difference(&b, &a) == 0));
	if (a.size > 0)
		without_words(&a);
	canonical_free(&twice);
	canonical_free(&a);
	canonical_free(&b);
	return 0;
}
