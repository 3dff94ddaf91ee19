#include <string.h>
#include "repair.h"

static bool meets(const struct product *p, const struct wait_code *c, size_t channel, size_t mate)
{
	return c->kind == WAIT_CODE_MEET &&
	       wait_meet_partners(p->profile, c, p->number[channel]) >> p->number[mate] & 1;
}

void repair_next(struct wait_walk *w)
{
	/* each pass over the text asks at most once a condition; beyond that it goes round */
	size_t asked = 0;

	do {
		wait_walk_take(w, false);
		wait_walk_next(w);
	} while (w->kind == WAIT_WALK_BRANCH && asked++ < w->f->instrs);
}

bool repair_ahead(struct ahead *h, const struct product *p, const struct wait_walk *from,
    size_t channel, size_t mate)
{
	struct wait_walk w;
	const struct wait_code *c;
	size_t looked = 0;

	memset(h, 0, sizeof *h);
	if (!wait_walk_copy(&w, from))
		return false;
	while (h->n < REPAIR_AHEAD && looked++ < 16 * REPAIR_AHEAD) {
		c = wait_walk_code(&w);
		if (!c)
			break;
		if (meets(p, c, channel, mate)) {
			h->code[h->n] = c->code;
			h->at[h->n++] = c->at;
		}
		repair_next(&w);
	}
	h->far = h->n == REPAIR_AHEAD;
	h->ended = !h->far && (w.kind == WAIT_WALK_END || w.kind == WAIT_WALK_ROUND);
	if (h->ended && w.at != WAIT_NOWHERE)
		h->at[h->n] = wait_flow_place(w.f, w.at);
	wait_walk_end(&w);
	return true;
}

bool repair_same_place(const struct wait_place *a, const struct wait_place *b)
{
	return a->line == b->line && a->col == b->col && a->file == b->file;
}

struct ahead repair_edit(const struct ahead *h, const struct wait_place *at, uint32_t code)
{
	struct ahead e = {.ended = h->ended, .far = h->far};

	for (size_t i = 0; i <= h->n; i++) {
		bool here = i < h->n && repair_same_place(&h->at[i], at);

		if (here && !code)
			continue;
		e.code[e.n] = here ? code : h->code[i];
		e.at[e.n] = h->at[i];
		e.n += i < h->n;
	}
	return e;
}

size_t repair_agree(const struct ahead *a, size_t i, const struct ahead *b, size_t k)
{
	size_t n = 0;

	if (i > a->n || k > b->n)
		return 0;
	while (i < a->n && k < b->n && a->code[i] == b->code[k]) {
		i++;
		k++;
		n++;
	}
	if ((i == a->n && a->far) || (k == b->n && b->far))
		return n + REPAIR_AHEAD;
	return i == a->n && k == b->n && a->ended && b->ended ? n + REPAIR_AHEAD : n;
}

bool repair_whole(size_t agreed)
{
	return agreed >= REPAIR_AHEAD;
}
