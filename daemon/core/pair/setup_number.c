/* Program numbers of the text, and the programs that are called. */
#include <stdio.h>
#include <string.h>
#include "flow.h"
#include "setup_inside.h"

static struct setup_number *add(struct setup_channel *c, const struct setup_number *n)
{
	for (size_t i = 0; i < c->numbers; i++)
		if (c->number[i].number == n->number && c->number[i].at.line == n->at.line &&
		    strcmp(c->number[i].name, n->name) == 0)
			return &c->number[i];
	if (c->numbers == SETUP_NUMBERS_MAX) {
		c->numbers_more++;
		return NULL;
	}
	c->number[c->numbers] = *n;
	return &c->number[c->numbers++];
}

static struct setup_number of_unit(const struct setup_way *w, uint32_t unit)
{
	const struct program *p = w->run.program;
	const struct wait_unit *u = &p->flow->unit[unit];
	struct setup_number n = {
	    .kind = unit == 0 ? SETUP_NUMBER_MAIN : SETUP_NUMBER_HERE,
	    .number = u->number,
	    .at = {u->file ? p->sister[u->file - 1]->file : p->file, u->line, -1},
	};

	if (u->name)
		snprintf(n.name, sizeof(n.name), "%s", u->name);
	return n;
}

void setup_number_begin(struct setup_way *w)
{
	const struct wait_flow *f = w->run.program->flow;

	for (size_t i = 0; i < f->units; i++) {
		struct setup_number n = of_unit(w, (uint32_t)i);

		if (f->unit[i].file == 0 && (f->unit[i].numbered || f->unit[i].name))
			add(w->out, &n);
	}
}

static void called(struct setup_way *w, struct setup_number *n)
{
	struct setup_number *entry = add(w->out, n);

	if (entry)
		setup_count(&entry->calls, &entry->called, &w->at);
}

static void by_number(struct setup_way *w, uint64_t number)
{
	const struct wait_flow *f = w->run.program->flow;
	uint32_t times, unit = wait_flow_unit(f, number, &times);
	struct setup_number n;

	if (unit < f->units) {
		n = of_unit(w, unit);
	} else if (number <= UINT32_MAX) {
		n = (struct setup_number){.number = (uint32_t)number, .at = {.sequence = -1}};
		n.kind = profile_is_resident(w->profile, number) ? SETUP_NUMBER_RESIDENT
		                                                 : SETUP_NUMBER_MISSING;
	} else {
		return;
	}
	called(w, &n);
}

static void by_name(struct setup_way *w, const char *name, size_t length)
{
	const struct wait_flow *f = w->run.program->flow;
	struct setup_number n = {.kind = SETUP_NUMBER_MISSING, .at = {.sequence = -1}};

	for (size_t i = 0; i < length && i + 1 < sizeof(n.name); i++)
		n.name[i] =
		    (char)(name[i] >= 'a' && name[i] <= 'z' ? name[i] - 'a' + 'A' : name[i]);
	for (size_t i = 0; i < f->units; i++) {
		const char *u = f->unit[i].name;

		if (!u || strlen(u) != length || strncmp(u, n.name, sizeof(n.name) - 1) != 0)
			continue;
		n = of_unit(w, (uint32_t)i);
		break;
	}
	called(w, &n);
}

void setup_number_block(struct setup_way *w)
{
	const struct nc_block *b = w->step.block;
	const struct nc_word *name = NULL, *p = nc_block_word(b, 'P');
	bool calls = false;
	uint64_t number;

	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *word = &b->word[i];
		int code = word->letter == 'M' || word->letter == 'G' ? modal_code(word) : -1;

		calls |= word->letter == 'M' && code == 980;
		calls |= word->letter == 'G' && (code == 650 || code == 660 || code == 661);
		if (word->flags & NC_NAME)
			name = word;
	}
	if (!calls)
		return;
	if (name && b->name_col && b->name_col - 1 + (uint64_t)name->mantissa <= b->length)
		by_name(w, b->text + b->name_col - 1, (size_t)name->mantissa);
	else if (p && nc_word_whole(p, &number))
		by_number(w, number);
}
