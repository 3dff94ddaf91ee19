/*
 * The word by which a control knows which of its channels a text is for: a block of its own right
 * behind the opening %. Common practice of controls with two channels behind one port; what the
 * word is, the machine builder's manual says.
 */
#ifndef CHANNEL_WORD_H
#define CHANNEL_WORD_H

#include <stddef.h>
#include <stdint.h>
#include "yoke/line.h"

/* What is wrong with a line's word: a constant string that goes on after "channel_word", or NULL.
 * Without a word nothing is wrong. */
const char *channel_word_fault(const struct line_serial *settings);

#define CHANNEL_WORD_NONE SIZE_MAX

/* Zero-initialise, or fill by channel_word_read. */
struct channel_word {
	size_t first;  /* which word came first, an index, or CHANNEL_WORD_NONE */
	size_t second; /* and the first that came behind it and is another, or CHANNEL_WORD_NONE */
	uint8_t *text; /* without these blocks */
	size_t size;
};

/*
 * Take the blocks that are one of n words, exactly, and stand right behind a block that begins with
 * %, off a canonical text (size bytes). Words that are "" are none. 0 and the caller frees, or -1
 * without memory (*w is then without text).
 */
int channel_word_read(
    struct channel_word *w, const uint8_t *text, size_t size, const char *const *word, size_t n);
void channel_word_free(struct channel_word *w);

#endif
