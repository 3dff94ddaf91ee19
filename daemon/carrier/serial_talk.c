#include "serial_talk.h"

#include "iso.h"

/* Characters that noise does not make of itself: our own choice. */
enum { TEXT = 3 };

void serial_talk_hear(struct serial_talk *t, uint8_t character)
{
	if (character == ' ' || character == ISO_LF || character == ISO_CR)
		t->gap = t->n > 0;
	if (character < '!' || character > '~' || t->n + t->gap >= sizeof t->text - 1)
		return;
	if (t->gap)
		t->text[t->n++] = ' ';
	t->gap = false;
	t->text[t->n++] = (char)character;
	t->text[t->n] = '\0';
}

bool serial_talk_is_text(const struct serial_talk *t)
{
	size_t letters = 0;

	for (size_t i = 0; i < t->n; i++)
		letters += t->text[i] != ' ';
	return letters >= TEXT;
}
