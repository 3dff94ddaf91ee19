/*
 * Jumps are not followed here. But a jump forward or back over blocks that hold no wait code, no
 * call that matters and no end, or a loop around such blocks, changes nothing about the wait codes
 * met: it is settled, and forgotten.
 *
 * A span is known when the jump is GOTO with a constant label that no block before it in the same
 * program carries (controls search forward first, some from the beginning: common practice), or IF
 * with GOTO to a label that stands once in the program and before it, or WHILE..DO with its END. A
 * loop is taken to end: one that runs for ever is another fault than this check looks for.
 */
#include "flow.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum jump_kind { JUMP_NONE, JUMP_GOTO, JUMP_DO, JUMP_END, JUMP_OTHER };

/* Times that the spans of a program are looked at before what is left counts as unknown. */
enum { SETTLE_MAX = 16 };

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

/* The one jump of a block; JUMP_OTHER when there are several or the label is computed. *may: it is
 * made on a condition. */
static enum jump_kind find(const struct nc_block *b, uint32_t *value, bool *may)
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
		*may |= keyword(s + i, b->length - i, "IF");
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

static bool pend(struct wait_flow *f, size_t event, uint32_t value, enum wait_pending_kind kind)
{
	if (f->pendings == WAIT_PENDING_MAX)
		return false;
	f->pending[f->pendings++] = (struct wait_pending){event, value, kind};
	return true;
}

/* What waits for this label is told that it was met, before the event to come. */
static void met(struct wait_flow *f, uint32_t value, bool loop)
{
	size_t n = 0;

	for (size_t i = 0; i < f->pendings; i++) {
		struct wait_pending *p = &f->pending[i];
		if ((p->kind == WAIT_PENDING_LOOP) != loop || p->label != value)
			f->pending[n++] = *p;
		else if (p->kind == WAIT_PENDING_BACK)
			f->event[p->event].back = false;
		else
			f->event[p->event].target = (uint32_t)f->events;
	}
	f->pendings = n;
}

bool wait_jump_label(struct wait_flow *f, int64_t sequence)
{
	struct wait_label *label;

	if (sequence > f->sequence_max)
		f->sequence_max = sequence;
	if (sequence > UINT32_MAX)
		return true;
	if (f->pendings)
		met(f, (uint32_t)sequence, false);
	if (sequence >= WAIT_LABELS_MAX)
		return true;
	if (!f->label)
		f->label = calloc(WAIT_LABELS_MAX, sizeof *f->label);
	if (!f->label)
		return false;
	label = &f->label[sequence];
	label->event = label->unit == f->units ? WAIT_LABEL_TWICE : (uint32_t)f->events;
	label->unit = (uint32_t)f->units;
	return true;
}

/* The label that stands once in the program so far, or NULL. */
static const struct wait_label *find_label(const struct wait_flow *f, uint32_t sequence)
{
	const struct wait_label *label;

	if (!f->label || sequence >= WAIT_LABELS_MAX)
		return NULL;
	label = &f->label[sequence];
	return label->unit == f->units && label->event != WAIT_LABEL_TWICE ? label : NULL;
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
	bool may = false;
	enum jump_kind kind = find(b, &value, &may);
	const struct wait_label *before;
	struct wait_event *e;
	size_t opened = f->pendings;

	if (kind == JUMP_NONE && harmless(b))
		return true;
	e = wait_flow_add(f, WAIT_EVENT_JUMP, b->skip, at);
	if (!e)
		return false;
	e->why = "a jump or condition with a wait code, a call or an end in its reach";
	f->unit[f->units - 1].has_jump = true;
	if (!harmless(b))
		return true;
	switch (kind) {
	case JUMP_GOTO:
		before = find_label(f, value);
		if ((int64_t)value > f->sequence_max) {
			pend(f, f->events - 1, value, WAIT_PENDING_GOTO);
		} else if (may && before && pend(f, f->events - 1, value, WAIT_PENDING_BACK)) {
			e->back = true;
			e->repeat = before->event;
		}
		break;
	case JUMP_DO:
		pend(f, f->events - 1, value, WAIT_PENDING_LOOP);
		break;
	case JUMP_END:
		met(f, value, true);
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

static bool is_jump(const struct wait_event *e)
{
	return e->kind == WAIT_EVENT_JUMP;
}

static void matters(struct wait_event *e)
{
	e->back = false;
	e->target = 0;
}

/* Jumps forward, from the last to the first: a span holds only what comes after its jump. False
 * when a jump was found to matter; so below. */
static bool look_forward(struct wait_event *event, size_t first, size_t end)
{
	size_t next = end;
	bool same = true;

	for (size_t i = end; i-- > first;) {
		struct wait_event *e = &event[i];
		if (e->kind == WAIT_EVENT_NONE || (is_jump(e) && e->back))
			continue;
		if (is_jump(e) && e->target && e->target <= next)
			continue;
		if (is_jump(e) && e->target) {
			matters(e);
			same = false;
		}
		next = i;
	}
	return same;
}

/* Jumps back, from the first to the last. */
static bool look_back(struct wait_event *event, size_t first, size_t end)
{
	size_t after = first; /* the last that matters */
	bool same = true;

	for (size_t i = first; i < end; i++) {
		struct wait_event *e = &event[i];
		if (e->kind == WAIT_EVENT_NONE || (is_jump(e) && e->target))
			continue;
		if (is_jump(e) && e->back && e->repeat >= after)
			continue;
		if (is_jump(e) && e->back) {
			matters(e);
			same = false;
		}
		after = i + 1;
	}
	return same;
}

/*
 * All jumps with a known span are taken to be harmless until one is found whose span holds what
 * matters, another jump perhaps; so until nothing changes. An END whose loop stays is forgotten all
 * the same: the loop is told where it begins.
 */
void wait_jump_settle(struct wait_flow *f, size_t first, size_t end)
{
	for (int times = 0;; times++) {
		bool same = look_forward(f->event, first, end);

		if (look_back(f->event, first, end) && same)
			break;
		if (times == SETTLE_MAX)
			return;
	}
	for (size_t i = first; i < end; i++) {
		struct wait_event *e = &f->event[i];
		if (is_jump(e) && (e->target || e->back))
			e->kind = WAIT_EVENT_NONE;
	}
}
