#include "change_keep.h"

#include <stdlib.h>
#include <string.h>

enum { TEXT_MAX = 400 }; /* bytes of a block that are shown */

static void drop(struct change *c)
{
	free(c->old_text);
	free(c->new_text);
	free(c->what);
}

/* Make room by dropping the last of the lightest. False when none is lighter than w. */
static bool make_room(struct change_keep *k, enum weight w)
{
	enum weight lightest = WEIGHT_OFF;
	size_t i = k->list->n;

	while (lightest < w && k->kept[lightest] == 0)
		lightest++;
	if (lightest >= w)
		return false;
	do
		i--;
	while (change_weight(k->list->v[i].kind) != lightest);
	drop(&k->list->v[i]);
	k->list->n--;
	memmove(&k->list->v[i], &k->list->v[i + 1], (k->list->n - i) * sizeof(*k->list->v));
	k->kept[lightest]--;
	return true;
}

bool change_keep_wants(struct change_keep *k, enum change_kind kind)
{
	k->list->count[kind]++;
	return k->limit == 0 || k->list->n < k->limit || make_room(k, change_weight(kind));
}

static char *visible(const struct change_place *place)
{
	struct text t = {0};
	bool cut = place->text.n > TEXT_MAX;

	text_visible(&t, place->text.s, cut ? TEXT_MAX : place->text.n);
	if (cut)
		text_puts(&t, " ...");
	return text_take(&t);
}

int change_keep_add(struct change_keep *k, enum change_kind kind,
    const struct change_place *old_place, const struct change_place *new_place, struct text *what)
{
	struct change_list *l = k->list;
	struct change c = {
	    .kind = kind,
	    .old_line = old_place->line,
	    .new_line = new_place->line,
	    .old_text = visible(old_place),
	    .new_text = visible(new_place),
	    .what = text_take(what),
	};

	if (l->n == l->cap) {
		size_t cap = l->cap ? l->cap * 2 : 16;
		struct change *v = reallocarray(l->v, cap, sizeof(*v));

		if (v) {
			l->v = v;
			l->cap = cap;
		}
	}
	if (!c.old_text || !c.new_text || !c.what || l->n == l->cap) {
		drop(&c);
		return -1;
	}
	l->v[l->n++] = c;
	k->kept[change_weight(kind)]++;
	return 0;
}
