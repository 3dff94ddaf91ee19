#include "channel_word.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include "iso.h"
#include "serial_code.h"
#include "several.h"

const char *channel_word_fault(const struct line_serial *settings)
{
	const char *word = settings->channel_word;
	size_t n = strlen(word);
	struct serial_code code;
	uint64_t number;

	if (!n)
		return NULL;
	if (word[0] == ' ' || word[n - 1] == ' ')
		return "begins or ends with a blank, which a control may leave out";
	if (several_number((const uint8_t *)word, n, &number))
		return "would be taken for a program number";
	for (size_t i = 0; i < n; i++)
		if (word[i] < ' ' || word[i] > '~' || word[i] == '%')
			return "holds a character that is not printable in ISO 646, or a %";
	if (serial_code_init(&code, settings) < 0)
		return NULL; /* told with the code's own settings */
	for (size_t i = 0; i < n; i++)
		if (serial_code_byte(&code, (uint8_t)word[i]) < 0)
			return "holds a character that EIA code does not have";
	return NULL;
}

/* Which word the block is. */
static size_t which(const uint8_t *block, size_t n, const char *const *word, size_t words)
{
	for (size_t i = 0; i < words; i++)
		if (n > 0 && strlen(word[i]) == n && !memcmp(block, word[i], n))
			return i;
	return CHANNEL_WORD_NONE;
}

static void note(struct channel_word *w, size_t index)
{
	if (w->first == CHANNEL_WORD_NONE)
		w->first = index;
	else if (index != w->first && w->second == CHANNEL_WORD_NONE)
		w->second = index;
}

int channel_word_read(
    struct channel_word *w, const uint8_t *text, size_t size, const char *const *word, size_t n)
{
	bool behind = false;

	*w = (struct channel_word){.first = CHANNEL_WORD_NONE, .second = CHANNEL_WORD_NONE};
	w->text = malloc(size + 1);
	if (!w->text)
		return -1;
	for (size_t at = 0, block; at < size; at += block) {
		const uint8_t *end = memchr(text + at, ISO_LF, size - at);
		size_t found = CHANNEL_WORD_NONE;

		block = end ? (size_t)(end - text) + 1 - at : size - at;
		if (behind)
			found = which(text + at, end ? block - 1 : block, word, n);
		behind = text[at] == '%';
		if (found != CHANNEL_WORD_NONE) {
			note(w, found);
			continue;
		}
		memcpy(w->text + w->size, text + at, block);
		w->size += block;
	}
	return 0;
}

void channel_word_free(struct channel_word *w)
{
	free(w->text);
	*w = (struct channel_word){.first = CHANNEL_WORD_NONE, .second = CHANNEL_WORD_NONE};
}
