/* What is in force in a channel, in plain values. */
#include <string.h>
#include "restart_inside.h"

static bool has_axes(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (strchr("XYZUVW", b->word[i].letter) && !(b->word[i].flags & NC_COMMA))
			return true;
	return false;
}

/* "=" outside comments: variables are set. */
static bool sets(const struct nc_block *b)
{
	unsigned depth = 0;

	if (!(b->flags & NC_MACRO))
		return false;
	for (size_t i = 0; i < b->length && b->text[i] != ';'; i++) {
		depth += b->text[i] == '(';
		depth -= b->text[i] == ')' && depth;
		if (depth == 0 && b->text[i] == '=')
			return true;
	}
	return false;
}

/* A position set or shifted, offsets written: what the coordinates mean has changed. */
static bool moves_origin(const struct restart_lane *l, int g)
{
	switch (g) {
	case 100:
	case 520:
	case 921:
	case 922:
	case 923:
		return true;
	case 500:
	case 920:
		return l->run.done.act == MODAL_STILL && has_axes(l->step.block);
	}
	return false;
}

/* The last code of each group is the one in force. */
static void code_of_machine(struct restart_lane *l, const struct profile *profile, uint32_t code)
{
	const struct profile_code *c = NULL;
	size_t i = 0;

	for (uint32_t k = 0; k < profile->codes; k++)
		if (profile->code[k].code == code && profile->code[k].group[0])
			c = &profile->code[k];
	if (!c)
		return;
	while (i < l->codes && strcmp(l->code_of_group[i]->group, c->group) != 0)
		i++;
	if (i == RESTART_CODES_MAX)
		return;
	l->code_of_group[i] = c;
	if (i == l->codes)
		l->codes++;
}

void restart_state_block(struct restart_lane *l, const struct profile *profile)
{
	const struct nc_block *b = l->step.block;

	l->variables |= sets(b);
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];
		int code = w->letter == 'G' || w->letter == 'M' ? modal_code(w) : -1;

		if (code < 0)
			continue;
		if (w->letter == 'M') {
			if (code % 10 == 0)
				code_of_machine(l, profile, (uint32_t)code / 10);
			continue;
		}
		l->origin |= moves_origin(l, code);
		if (code == 660 || code == 661)
			l->modal_call = true;
		else if (code == 670)
			l->modal_call = false;
	}
}

static struct restart_word word(const struct modal_number *n)
{
	return (struct restart_word){
	    n->state != MODAL_ABSENT, n->state == MODAL_KNOWN, n->state == MODAL_KNOWN ? n->v : 0};
}

/* As the program writes it: G98 and G99 are feed modes in one family of codes. */
static int feed_mode(const struct modal *m)
{
	bool turns = m->channel->diameter && m->family == MODAL_FAMILY_A;

	if (turns && m->feed_mode == 940)
		return 980;
	if (turns && m->feed_mode == 950)
		return 990;
	return m->feed_mode;
}

void restart_state_take(const struct restart_lane *l, struct restart_state *out)
{
	const struct modal *m = &l->run.modal;

	*out = (struct restart_state){
	    .turret = m->channel->offset_digits > 0,
	    .diameter = m->channel->diameter,
	    .tool = word(&m->tool),
	    .tool_next = word(&m->tool_next),
	    .offset = word(&m->offset),
	    .h = word(&m->h),
	    .d = word(&m->d),
	    .work_offset = m->work_offset,
	    .length_offset = m->length_offset,
	    .work_offset_p = word(&m->work_offset_p),
	    .plane = m->plane,
	    .units = m->units,
	    .distance = m->distance,
	    .motion = m->motion,
	    .compensation = m->compensation,
	    .feed_mode = feed_mode(m),
	    .feed = word(&m->feed),
	    .speed_mode = m->speed_mode,
	    .speed = word(&m->speed),
	    .clamp = word(&m->clamp),
	    .spindle = m->spindle,
	    .mist = m->mist,
	    .flood = m->flood,
	    .variables = l->variables,
	    .origin = l->origin,
	};
	for (int i = 0; i < SETUP_AXES; i++)
		out->axis[i] =
		    (struct restart_axis){m->place[i].known, m->place[i].shifted, m->place[i].at};
	for (size_t i = 0; i < l->codes; i++)
		out->code[out->codes++] = (struct restart_code){l->code_of_group[i]->code,
		    l->code_of_group[i]->group, l->code_of_group[i]->text};
}
