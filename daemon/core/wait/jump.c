/*
 * Jumps are not followed here. But a jump forward over blocks that hold no wait code, no call that
 * matters and no end, or a loop around such blocks, changes nothing about the wait codes met: it is
 * settled, and forgotten.
 *
 * A span is known when the jump is GOTO with a constant label that no block before it in the same
 * program carries (controls search forward first, some from the beginning: common practice), or
 * WHILE..DO with its END. A loop is taken to end: one that runs for ever is another fault than this
 * check looks for.
 */
#include "flow.h"

#include <string.h>
#include <strings.h>

enum jump_kind { JUMP_NONE, JUMP_GOTO, JUMP_DO, JUMP_END, JUMP_OTHER };

static bool is_letter(char c)
{
	return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

/* True when the letters at s are exactly this keyword. */
static bool keyword(const char *s, size_t n, const char *word)
{
	size_t k = strlen(word);

	return n >= k && strncasecmp(s, word, k) == 0 && (n == k || !is_letter(s[k]));
}

/* The plain number after a keyword, or false. */
static bool label(const char *s, size_t n, uint32_t *value)
{
	uint64_t v = 0;
	size_t i = 0, digits = 0;

	while (i < n && (s[i] == ' ' || s[i] == '\t'))
		i++;
	for (; i < n && s[i] >= '0' && s[i] <= '9' && digits < 9; i++, digits++)
		v = v * 10 + (uint64_t)(s[i] - '0');
	*value = (uint32_t)v;
	return digits > 0 && (i == n || s[i] < '0' || s[i] > '9');
}

/* The one jump of a block; JUMP_OTHER when there are several or the label is computed. */
static enum jump_kind find(const struct nc_block *b, uint32_t *value)
{
	static const struct {
		const char *word;
		enum jump_kind kind;
	} words[] = {{"GOTO", JUMP_GOTO}, {"DO", JUMP_DO}, {"END", JUMP_END}, {"ELSE", JUMP_OTHER},
	    {"ENDIF", JUMP_OTHER}};
	enum jump_kind found = JUMP_NONE;
	const char *s = b->text;

	for (size_t i = 0; i < b->length; i++) {
		if (s[i] == '(')
			while (i < b->length && s[i] != ')')
				i++;
		if (i >= b->length || s[i] == ';')
			break;
		if (!is_letter(s[i]))
			continue;
		for (size_t k = 0; k < sizeof words / sizeof words[0]; k++) {
			size_t length = strlen(words[k].word);
			if (!keyword(s + i, b->length - i, words[k].word))
				continue;
			if (found != JUMP_NONE ||
			    !label(s + i + length, b->length - i - length, value))
				return JUMP_OTHER;
			found = words[k].kind;
		}
		while (i + 1 < b->length && is_letter(s[i + 1]))
			i++;
	}
	return found;
}

static void pend(struct wait_flow *f, size_t event, uint32_t value, bool loop)
{
	if (f->pendings < WAIT_PENDING_MAX)
		f->pending[f->pendings++] = (struct wait_pending){event, value, loop};
}

/* Pending jumps of this kind to this label end before the event to come. */
static void close_spans(struct wait_flow *f, uint32_t value, bool loop)
{
	size_t n = 0;

	for (size_t i = 0; i < f->pendings; i++) {
		struct wait_pending *p = &f->pending[i];
		if (p->loop == loop && p->label == value)
			f->event[p->event].target = (uint32_t)f->events;
		else
			f->pending[n++] = *p;
	}
	f->pendings = n;
}

void wait_jump_label(struct wait_flow *f, int64_t sequence)
{
	if (f->pendings && sequence <= UINT32_MAX)
		close_spans(f, (uint32_t)sequence, false);
	if (sequence > f->sequence_max)
		f->sequence_max = sequence;
}

/* IF..THEN with nothing but a variable setting jumps nowhere. */
static bool harmless(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].letter != 'N')
			return false;
	return true;
}

bool wait_jump_block(struct wait_flow *f, const struct nc_block *b, const struct wait_place *at)
{
	uint32_t value = 0;
	enum jump_kind kind = find(b, &value);
	struct wait_event *e;
	size_t opened = f->pendings;

	if (kind == JUMP_NONE && harmless(b))
		return true;
	e = wait_flow_add(f, WAIT_EVENT_JUMP, b->skip, at);
	if (!e)
		return false;
	e->why = "a jump or a condition";
	f->unit[f->units - 1].has_jump = true;
	if (!harmless(b))
		return true;
	switch (kind) {
	case JUMP_GOTO:
		if ((int64_t)value > f->sequence_max)
			pend(f, f->events - 1, value, false);
		break;
	case JUMP_DO:
		pend(f, f->events - 1, value, true);
		break;
	case JUMP_END:
		close_spans(f, value, true);
		/* the end of a loop belongs to the loop's span and goes with it */
		if (f->pendings < opened)
			e->target = (uint32_t)f->events;
		break;
	case JUMP_NONE:
	case JUMP_OTHER:
		break;
	}
	return true;
}

/*
 * From the last to the first, because a span holds only what comes after its jump: a span that
 * reaches something that matters makes its own jump matter. An END whose loop stays is forgotten
 * all the same: the loop is told where it begins.
 */
void wait_jump_settle(struct wait_flow *f, size_t first, size_t end)
{
	size_t matters = end;

	for (size_t i = end; i-- > first;) {
		struct wait_event *e = &f->event[i];
		if (e->kind == WAIT_EVENT_NONE)
			continue;
		if (e->kind == WAIT_EVENT_JUMP && e->target && e->target <= matters)
			e->kind = WAIT_EVENT_NONE;
		else
			matters = i;
	}
}
