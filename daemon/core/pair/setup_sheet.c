/* What stands on the setup sheet. */
#include "setup_words.h"

const char *const setup_cautions[] = {
    "Prove out every new, changed or restored pair: single block, rapid override low, guard "
    "closed, hand at feed hold.",
    "Check work offsets and tool offsets of all channels at the control: each channel has its own.",
    "Sending a program is not releasing it. The check covers wait codes and revisions; that they "
    "agree does not prove that tools cannot meet.",
    "Follow the machine builder's manual, the shop's rules and local regulations; trained and "
    "authorised persons only.",
    NULL,
};

const char *const setup_limits[] = {
    "It was computed from the programs and the machine's configuration alone, block by block as "
    "they are executed, with all block-skip switches off. What stands in the control (offsets, "
    "tool lengths, variables, parameters) is not known here.",
    "Travel is that of programmed end points in the coordinates of the work offset, arcs with "
    "their quadrants: mm, or degrees. Tools, their nose radius, shanks and holders, compensation, "
    "allowances and the inner ways of cycles, and ways to places of the machine are not in it.",
    "Highest speeds are programmed ones; the limits of chuck, jaws, part and bar are not known "
    "here.",
    "What a tool is for was taken from the comment nearest to its change.",
    NULL,
};

static bool same_work(const struct setup_work *a, const struct setup_work *b)
{
	return a->code == b->code && a->p_known == b->p_known && a->p == b->p;
}

static const struct setup_work *find(const struct setup_channel *c, const struct setup_work *w)
{
	for (size_t i = 0; i < c->works; i++)
		if (same_work(&c->work[i], w))
			return &c->work[i];
	return NULL;
}

static bool listed_before(const struct setup *s, size_t channel, const struct setup_work *w)
{
	for (size_t c = 0; c < channel; c++)
		if (find(&s->channel[c], w))
			return true;
	return false;
}

/* Which channel works in which work offset, side by side. */
static void works(struct sheet *sheet, const struct setup *s)
{
	const char *column[1 + YOKE_CHANNELS_MAX] = {"Work offset"};
	char name[SETUP_NAME_MAX], at[SETUP_WORDS];

	sheet_add(sheet, SHEET_HEAD, "Work offsets");
	for (size_t c = 0; c < s->channels; c++)
		column[1 + c] = s->channel[c].name;
	sheet_table(sheet, column, 1 + s->channels);
	for (size_t c = 0; c < s->channels; c++)
		for (size_t i = 0; i < s->channel[c].works; i++) {
			const struct setup_work *w = &s->channel[c].work[i];

			if (listed_before(s, c, w))
				continue;
			sheet_cell(sheet, "%s", setup_work_name(w, name));
			for (size_t k = 0; k < s->channels; k++) {
				const struct setup_work *o = find(&s->channel[k], w);

				sheet_cell(sheet, "%s%s", o ? "from " : "-",
				    o ? setup_words_where(at, &s->channel[k], &o->first) : "");
			}
		}
	sheet_add(sheet, SHEET_PARAGRAPH,
	    "Each channel has work offsets of its own: set those of all channels. 'none "
	    "programmed': "
	    "the channel moves before it names one, in whichever the control has in force.");
}

static void fill(struct sheet *sheet, const struct setup *s)
{
	struct text files = {0};

	sheet_add(sheet, SHEET_TITLE, "Setup sheet: job %s, revision %s%s%s",
	    s->job[0] ? s->job : "unknown", s->revision[0] ? s->revision : "unknown",
	    s->machine[0] ? ", machine " : "", s->machine);
	for (size_t c = 0; c < s->channels; c++)
		if (s->channel[c].file)
			text_printf(&files, "%s%s (%s)", files.n ? ", " : "", s->channel[c].file,
			    s->channel[c].name);
	sheet_add(sheet, SHEET_PARAGRAPH, "Computed from %s.", files.s ? files.s : "nothing");
	sheet->failed |= files.failed;
	text_free(&files);
	sheet_add(sheet, SHEET_PARAGRAPH, "Check: %s", s->outcome);
	if (s->branches)
		sheet_add(sheet, SHEET_PARAGRAPH,
		    "Which blocks are executed depends on data that is not in the programs: this "
		    "is one "
		    "run of several.");
	sheet_add(sheet, SHEET_HEAD, "Before the first part");
	for (size_t i = 0; setup_cautions[i]; i++)
		sheet_add(sheet, SHEET_POINT, "%s", setup_cautions[i]);
	works(sheet, s);
	for (size_t c = 0; c < s->channels; c++)
		setup_channel_sheet(sheet, &s->channel[c]);
	sheet_add(sheet, SHEET_HEAD, "What this sheet was computed from, and what not");
	for (size_t i = 0; setup_limits[i]; i++)
		sheet_add(sheet, SHEET_POINT, "%s", setup_limits[i]);
}

void setup_print(const struct setup *s, unsigned width, struct text *out)
{
	struct sheet sheet = {0};

	fill(&sheet, s);
	sheet_print(&sheet, width, out);
	sheet_free(&sheet);
}

void setup_html(const struct setup *s, struct text *out)
{
	struct sheet sheet = {0};

	fill(&sheet, s);
	sheet_html(&sheet, out);
	sheet_free(&sheet);
}
