/* Tools in the order of their use, their offsets, and the comments that say what they are for. */
#include <string.h>
#include "pattern.h"
#include "setup_inside.h"

bool setup_tool_comment(const struct setup_way *w, char out[SETUP_TEXT_MAX])
{
	const struct nc_block *b = w->step.block;
	const char *s = b->comment;
	size_t n = b->comment_length;
	struct pattern_match m;

	if (!s || b->flags & NC_PERCENT || nc_block_word(b, 'O') ||
	    pattern_header(w->profile->header, s, n, &m))
		return false;
	while (n && (*s == ' ' || *s == '\t')) {
		s++;
		n--;
	}
	while (n && (s[n - 1] == ' ' || s[n - 1] == '\t'))
		n--;
	if (n >= SETUP_TEXT_MAX) {
		n = SETUP_TEXT_MAX - 1;
		while (n && ((unsigned char)s[n] & 0xc0) == 0x80)
			n--; /* not in the middle of a character */
	}
	memcpy(out, s, n);
	out[n] = '\0';
	return n > 0;
}

/* The entry of the tool at work; NULL when there is no room for it. */
static struct setup_tool *entry(struct setup_channel *c, const struct modal_number *n)
{
	bool known = n->state == MODAL_KNOWN && n->v <= UINT32_MAX;
	uint32_t number = known ? (uint32_t)n->v : 0;
	struct setup_tool *t;

	for (size_t i = 0; i < c->tools; i++)
		if (c->tool[i].known == known && c->tool[i].number == number)
			return &c->tool[i];
	if (c->tools == SETUP_TOOLS_MAX) {
		c->tools_more++;
		return NULL;
	}
	t = &c->tool[c->tools++];
	t->known = known;
	t->number = number;
	return t;
}

static void offset(struct setup_tool *t, char letter, const struct modal_number *n)
{
	uint32_t number;

	if (!t || n->state != MODAL_KNOWN || n->v < 1 || n->v > UINT32_MAX)
		return;
	number = (uint32_t)n->v;
	for (size_t i = 0; i < t->offsets; i++)
		if (t->offset[i].letter == letter && t->offset[i].number == number)
			return;
	if (t->offsets == SETUP_OFFSETS_MAX)
		t->offsets_more++;
	else
		t->offset[t->offsets++] = (struct setup_offset){letter, number};
}

static void purpose(struct setup_way *w, const char *comment)
{
	struct setup_tool *t = w->tool;

	w->told = true;
	for (size_t i = 0; t && i < t->comments; i++)
		if (strcmp(t->comment[i], comment) == 0)
			return;
	if (t && t->comments == SETUP_COMMENTS_MAX)
		t->comments_more++;
	else if (t)
		memcpy(t->comment[t->comments++], comment, SETUP_TEXT_MAX);
}

static void change(struct setup_way *w, const char *own)
{
	w->tool = entry(w->out, &w->run.modal.tool);
	if (w->tool)
		setup_count(&w->tool->changes, &w->tool->first, &w->at);
	w->cut = w->told = false;
	if (own)
		purpose(w, own);
	else if (w->before[0])
		purpose(w, w->before);
	w->before[0] = '\0';
}

static bool cuts(enum modal_act act)
{
	return act == MODAL_LINE || act == MODAL_ARC || act == MODAL_THREAD || act == MODAL_DRILL ||
	       act == MODAL_CYCLE;
}

void setup_tool_end(struct setup_way *w)
{
	if (w->next.state != MODAL_ABSENT)
		setup_count(&w->out->tools_waiting, &w->out->tool_waiting, &w->next_at);
}

static bool same(const struct modal_number *a, const struct modal_number *b)
{
	return a->state == b->state && a->v == b->v;
}

/* A tool that another one takes the place of never came to work. */
static void waiting(struct setup_way *w)
{
	const struct modal_step *done = &w->run.done;
	const struct modal_number *next = &w->run.modal.tool_next;
	/* what the block brought to work, or else what still waits: its T is one of them */
	const struct modal_number *named = done->tool_change ? &w->run.modal.tool : next;

	if (done->tool_named && !same(named, &w->next))
		setup_tool_end(w);
	if (done->tool_named)
		w->next_at = w->at;
	w->next = *next;
}

void setup_tool_block(struct setup_way *w)
{
	const struct modal *m = &w->run.modal;
	const struct modal_step *done = &w->run.done;
	const struct nc_block *b = w->step.block;
	char comment[SETUP_TEXT_MAX];
	bool own = setup_tool_comment(w, comment);

	if (done->tool_change)
		change(w, own ? comment : NULL);
	else if (own && !w->told && !w->cut && w->tool)
		purpose(w, comment);
	else if (own)
		memcpy(w->before, comment, sizeof(w->before));
	if (!m->channel->offset_digits)
		waiting(w);
	if (m->channel->offset_digits) {
		if (done->tool_named)
			offset(w->tool, 'T', &m->offset);
	} else if (w->tool) {
		if (nc_block_word(b, 'H'))
			offset(w->tool, 'H', &m->h);
		if (nc_block_word(b, 'D'))
			offset(w->tool, 'D', &m->d);
	}
	if (cuts(done->act)) {
		w->cut = true;
		w->before[0] = '\0';
	}
}
