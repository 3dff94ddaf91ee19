/* Lists of the setup sheet: miscellaneous codes, stops, skip switches. */
#include <string.h>
#include "look.h"
#include "setup_inside.h"

/* What a code means on every machine (ISO 6983-1, NISTIR 6556 3.6; M19, M98, M99: common practice).
 */
static const struct profile_code standard[] = {
    {0, "program", "program stop"},
    {1, "program", "optional stop"},
    {2, "program", "end of program"},
    {3, "spindle", "spindle on, clockwise"},
    {4, "spindle", "spindle on, counter-clockwise"},
    {5, "spindle", "spindle stop"},
    {6, "tool", "tool change"},
    {7, "coolant", "coolant 2 on (mist)"},
    {8, "coolant", "coolant 1 on (flood)"},
    {9, "coolant", "coolant off"},
    {19, "spindle", "oriented spindle stop"},
    {30, "program", "end of program, back to its beginning"},
    {98, "program", "call of a subprogram"},
    {99, "program", "back to the caller, or to the beginning"},
};

static void meaning(const struct profile *profile, struct setup_code *c)
{
	c->group = c->text = "";
	for (size_t i = 0; i < sizeof(standard) / sizeof(*standard); i++) {
		if (standard[i].code != c->code)
			continue;
		c->group = standard[i].group;
		c->text = standard[i].text;
	}
	for (uint32_t i = 0; i < profile->codes; i++) {
		if (profile->code[i].code != c->code)
			continue;
		c->group = profile->code[i].group;
		c->text = profile->code[i].text;
		c->of_machine = true;
	}
}

/* The entry of a code, sorted by number; NULL when there is no room. */
static struct setup_code *code_entry(struct setup_way *w, uint32_t code)
{
	struct setup_channel *c = w->out;
	size_t i = 0;

	while (i < c->codes && c->code[i].code < code)
		i++;
	if (i < c->codes && c->code[i].code == code)
		return &c->code[i];
	if (c->codes == SETUP_CODES_MAX) {
		c->codes_more++;
		return NULL;
	}
	memmove(&c->code[i + 1], &c->code[i], (c->codes - i) * sizeof(*c->code));
	c->codes++;
	c->code[i] = (struct setup_code){.code = code};
	meaning(w->profile, &c->code[i]);
	return &c->code[i];
}

static void codes(struct setup_way *w)
{
	const struct nc_block *b = w->step.block;

	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *word = &b->word[i];
		struct wait_code wait;
		struct setup_code *c;
		int code;

		if (word->letter != 'M' || wait_look_is_code(w->profile, word, &wait))
			continue;
		code = modal_code(word);
		if (code < 0 || code % 10)
			continue;
		c = code_entry(w, (uint32_t)code / 10);
		if (!c)
			continue;
		setup_count(&c->times, &c->first, &w->at);
		c->last = w->at;
	}
}

static void stop(struct setup_way *w, bool optional)
{
	struct setup_channel *c = w->out;
	struct setup_stop *s;

	w->stopped = NULL;
	for (size_t i = 0; i < c->stops; i++) {
		s = &c->stop[i];
		if (s->at.file == w->at.file && s->at.line == w->at.line &&
		    s->optional == optional) {
			s->times++;
			return;
		}
	}
	if (c->stops == SETUP_STOPS_MAX) {
		c->stops_more++;
		return;
	}
	s = &c->stop[c->stops++];
	*s = (struct setup_stop){
	    .optional = optional, .skip = w->step.block->skip, .at = w->at, .times = 1};
	if (!setup_tool_comment(w, s->comment)) {
		memcpy(s->comment, w->line_before, sizeof(s->comment));
		w->stopped = s;
	}
}

/* Stops, and the comment that stands in the line before or behind one. */
static void stops(struct setup_way *w)
{
	const struct nc_block *b = w->step.block;
	struct setup_stop *behind = w->stopped;
	char comment[SETUP_TEXT_MAX];
	bool alone = b->words == 0 && setup_tool_comment(w, comment);

	w->stopped = NULL;
	if (behind && behind->comment[0] == '\0' && alone)
		memcpy(behind->comment, comment, sizeof(behind->comment));
	if (w->run.done.stop)
		stop(w, false);
	if (w->run.done.optional_stop)
		stop(w, true);
	w->line_before[0] = '\0';
	if (alone)
		memcpy(w->line_before, comment, sizeof(w->line_before));
}

void setup_list_block(struct setup_way *w)
{
	const struct nc_block *b = w->step.block;
	struct setup_skip *skip = &w->out->skip[b->skip < SETUP_SKIPS ? b->skip : 0];

	codes(w);
	stops(w);
	if (b->skip)
		setup_count(&skip->blocks, &skip->first, &w->at);
}
