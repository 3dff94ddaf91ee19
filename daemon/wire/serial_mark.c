#include "serial_mark.h"

enum { MARK = 0xFF };

size_t serial_mark_take(struct serial_mark *m, uint8_t *bytes, size_t n)
{
	size_t got = 0;

	for (size_t i = 0; i < n; i++) {
		if (m->seen == 2) {
			m->wrong += bytes[i] != 0;
			m->breaks += bytes[i] == 0;
			bytes[got++] = bytes[i];
			m->seen = 0;
		} else if (m->seen == 1 && bytes[i] == 0) {
			m->seen = 2;
		} else if (m->seen == 0 && bytes[i] == MARK) {
			m->seen = 1;
		} else {
			/* FF FF; after FF nothing else comes from a port that keeps its word. */
			bytes[got++] = bytes[i];
			m->seen = 0;
		}
	}
	return got;
}
