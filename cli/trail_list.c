#include "trail_list.h"

#include <stdlib.h>
#include <string.h>

static const char logged[] = "yoke checkpoint |";

void trail_list_free(struct trail_list *l)
{
	free(l->point);
	*l = (struct trail_list){0};
}

/* The note at the front, if it is a checkpoint: its length, or 0. */
static size_t add(struct trail_list *l, const char *s, size_t n, const struct trail_keys *keys)
{
	struct trail_point p = {.is = NOTE_OTHER_KEY}, *grown;
	struct note note;
	size_t took = note_take(s, n, &note);

	if (took == 0 || !checkpoint_read(note.text, note.text_n, &p.c))
		return 0;
	for (size_t i = 0; i < keys->n && p.is != NOTE_GOOD; i++) {
		enum note_result one = note_check(&note, &keys->key[i]);

		if (one != NOTE_OTHER_KEY)
			p.is = one;
	}
	if ((l->n & (l->n - 1)) == 0) { /* grown by doubling */
		grown = reallocarray(l->point, l->n ? l->n * 2 : 1, sizeof(*grown));
		if (!grown) {
			l->failed = true;
			return took;
		}
		l->point = grown;
	}
	l->point[l->n++] = p;
	return took;
}

/* One line of a log. */
static void add_logged(struct trail_list *l, const char *s, size_t n, const struct trail_keys *keys)
{
	char note[NOTE_MAX];

	if (n > sizeof(note))
		return;
	for (size_t i = 0; i < n; i++)
		note[i] = s[i] == '|' ? '\n' : s[i];
	add(l, note, n, keys);
}

void trail_list_add(struct trail_list *l, const char *s, size_t n, const struct trail_keys *keys)
{
	while (n > 0) {
		const char *end = memchr(s, '\n', n), *mark;
		size_t line = end ? (size_t)(end - s) + 1 : n, took = add(l, s, n, keys);

		if (took == 0) {
			mark = memmem(s, line, logged, sizeof(logged) - 1);
			if (mark) {
				mark += sizeof(logged) - 1;
				add_logged(l, mark, (size_t)(s + line - mark) - (end ? 1 : 0), keys);
			}
			took = line;
		}
		s += took;
		n -= took;
	}
}
