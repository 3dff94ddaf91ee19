/* What the other end of a line says in clear text: a device server before anything was sent, or a
 * control that has an alarm while it reads. */
#ifndef SERIAL_TALK_H
#define SERIAL_TALK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Zero-initialise. */
struct serial_talk {
	char text[64]; /* what is kept of it, printable ASCII; always ended */
	size_t n;
	bool gap; /* a blank goes before the next character */
};

/* One character, decoded. Others than printable ones are left out; blanks
 * and ends of lines are one blank, none at the ends. */
void serial_talk_hear(struct serial_talk *t, uint8_t character);

/* Whether that was text: one or two characters may be noise. */
bool serial_talk_is_text(const struct serial_talk *t);

#endif
