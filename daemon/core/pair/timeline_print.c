/* The timeline as a table for a terminal. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "yoke/timeline.h"

/* Columns: two codes, four times, and the blanks between them and the channel's name. */
enum { SECONDS_WIDTH = 8, CODE_WIDTH = 7, ROW_WIDTH = 2 * CODE_WIDTH + 4 * SECONDS_WIDTH + 6 };

const char *timeline_left_words(enum timeline_left left)
{
	static const char *const words[TIMELINE_LEFTS] = {
	    [TIMELINE_LEFT_PLACE] = "moves from or to a place that is not known",
	    [TIMELINE_LEFT_DISTANCE] = "moves with neither G90 nor G91 programmed before",
	    [TIMELINE_LEFT_FEED] = "moves at a feed or spindle speed that is not known",
	    [TIMELINE_LEFT_SHAPE] = "moves along a way that is not known",
	    [TIMELINE_LEFT_CYCLE] = "cycles and other motion codes that are not followed",
	    [TIMELINE_LEFT_CALL] = "calls of programs that are not in the files",
	    [TIMELINE_LEFT_REFERENCE] = "moves to places of the machine, and probing",
	    [TIMELINE_LEFT_DWELL] = "dwells of unknown length",
	    [TIMELINE_LEFT_STOP] = "stops for the operator (M00, M01)",
	};

	return words[left < TIMELINE_LEFTS ? left : TIMELINE_LEFT_PLACE];
}

const char *timeline_estimate_words(void)
{
	return "an estimate from the programs alone: feeds, speeds and dwells as they are written, "
	       "rapid and tool change as the machine's profile says; acceleration, overrides, "
	       "spindles that run up, compensation of tool noses and cutters, corners that the "
	       "control rounds or bevels, clamping and other M codes, bar and part handling and "
	       "the operator are left out";
}

/* A line of words that breaks at blanks and goes on behind the indent. */
struct lines {
	struct text *out;
	unsigned width, indent;
	unsigned col; /* 0: nothing stands on this line */
};

static void word(struct lines *l, const char *s, size_t n)
{
	if (l->col > l->indent && l->col + 1 + n > l->width) {
		text_putc(l->out, '\n');
		l->col = 0;
	}
	if (l->col == 0) {
		text_printf(l->out, "%*s", (int)l->indent, "");
		l->col = l->indent;
	} else {
		text_putc(l->out, ' ');
		l->col++;
	}
	text_add(l->out, s, n);
	l->col += (unsigned)n;
}

/* Words, broken at blanks; a word that is longer than a line anywhere. */
static void paragraph(struct text *out, unsigned width, unsigned indent, const char *s)
{
	struct lines l = {out, width, indent, 0};

	for (s += strspn(s, " "); *s; s += strspn(s, " ")) {
		size_t n = strcspn(s, " ");

		n = n > width - indent ? width - indent : n;
		word(&l, s, n);
		s += n;
	}
	if (l.col)
		text_putc(out, '\n');
}

static const struct timeline_rung *find(const struct timeline *t, uint64_t number)
{
	size_t low = 0, high = t->rungs;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (t->rung[middle].number < number)
			low = middle + 1;
		else
			high = middle;
	}
	return low < t->rungs && t->rung[low].number == number ? &t->rung[low] : NULL;
}

/* "M203", "7" of a call, or what else a part begins or ends with. */
static void code(const struct timeline *t, uint64_t number, const char *without, char out[24])
{
	const struct timeline_rung *r = find(t, number);

	if (!r)
		snprintf(out, 24, "#%" PRIu64, number + 1);
	else if (r->code == 0)
		snprintf(out, 24, "%s", without);
	else
		snprintf(out, 24, r->call ? "%" PRIu32 : "M%" PRIu32, r->code);
}

/* Columns for the channels' names; 0 where they are too long for a column. */
static int name_width(const struct timeline *t, unsigned width)
{
	size_t longest = strlen("channel");

	for (size_t c = 0; c < t->channels; c++)
		if (strlen(t->channel[c].name) > longest)
			longest = strlen(t->channel[c].name);
	return longest + ROW_WIDTH <= width ? (int)longest : 0;
}

/* "left out: 2 x cycles ..; 1 x dwells ..", nothing when nothing is. */
static void left_out(
    const struct timeline_work *w, unsigned width, unsigned indent, struct text *out)
{
	struct text t = {0};

	for (int i = 0; i < TIMELINE_LEFTS; i++)
		if (w->left[i])
			text_printf(&t, "%s%" PRIu64 " x %s", t.n ? "; " : "left out: ", w->left[i],
			    timeline_left_words(i));
	if (t.failed)
		out->failed = true;
	else if (t.n)
		paragraph(out, width, indent, t.s);
	text_free(&t);
}

/* name: unless it has a column. "lines 3-45, T1, 200 m/min up to 3000 1/min: ROUGH" */
static void what(const struct timeline_part *p, const char *name, unsigned width, struct text *out)
{
	struct text t = {0};
	const char *comma = "";

	if (name) {
		text_puts(&t, name);
		comma = ", ";
	}
	if (p->first_line) {
		text_printf(&t, "%slines %" PRIu64 "-%" PRIu64, comma, p->first_line, p->last_line);
		comma = ", ";
	}
	for (size_t i = 0; i < p->tools; i++) {
		text_printf(&t, "%sT%" PRIu32, comma, p->tool[i]);
		comma = ", ";
	}
	if (p->more_tools)
		text_puts(&t, ", ..");
	if (p->spindle[0]) {
		text_printf(&t, "%s%s", comma, p->spindle);
		comma = ", ";
	}
	if (p->comment[0]) {
		text_puts(&t, *comma ? ": " : "");
		text_visible(&t, p->comment, strlen(p->comment));
	}
	if (t.failed)
		out->failed = true;
	else if (t.n)
		paragraph(out, width, 4, t.s);
	text_free(&t);
}

static void part(
    const struct timeline *t, const struct timeline_part *p, unsigned width, struct text *out)
{
	const char *name = t->channel[p->channel].name;
	int names = name_width(t, width);
	char from[24] = "start", to[24];

	if (!p->from_start)
		code(t, p->first, "start", from);
	code(t, p->last, p->to_end ? "end" : "stands", to);
	text_printf(out, "%-*s %-*s ", CODE_WIDTH, from, CODE_WIDTH, to);
	if (names)
		text_printf(out, "%-*s ", names, name);
	text_printf(out, "%*.1f %*.1f %*.1f ", SECONDS_WIDTH, p->start_seconds, SECONDS_WIDTH,
	    p->seconds, SECONDS_WIDTH, p->wait_seconds);
	if (p->critical && p->seconds > 0)
		text_printf(out, "%*.1f\n", SECONDS_WIDTH, p->gain_seconds);
	else
		text_printf(out, "%*s\n", SECONDS_WIDTH, "-");
	what(p, names ? NULL : name, width, out);
	left_out(&p->work, width, 4, out);
}

static void table(const struct timeline *t, unsigned width, struct text *out)
{
	int names = name_width(t, width);
	size_t rung = 0;

	text_printf(out, "%-*s %-*s ", CODE_WIDTH, "from", CODE_WIDTH, "to");
	if (names)
		text_printf(out, "%-*s ", names, "channel");
	text_printf(out, "%*s %*s %*s %*s\n", SECONDS_WIDTH, "starts", SECONDS_WIDTH, "works",
	    SECONDS_WIDTH, "waits", SECONDS_WIDTH, "saves");
	for (size_t i = 0; i < t->parts; i++) {
		part(t, &t->part[i], width, out);
		while (rung < t->rungs && t->rung[rung].number < t->part[i].last)
			rung++;
		if (rung < t->rungs && t->rung[rung].repeat &&
		    (i + 1 == t->parts || t->part[i + 1].last != t->part[i].last)) {
			text_printf(out, "... %" PRIu64 " rungs are not shown one by one ...\n",
			    t->rung[rung].repeat);
			rung++;
		}
	}
}

static void sums(const struct timeline *t, unsigned width, struct text *out)
{
	for (size_t c = 0; c < t->channels; c++) {
		const struct timeline_channel *ch = &t->channel[c];
		char s[256];

		if (!ch->present)
			continue;
		snprintf(s, sizeof(s),
		    "%s: works %.1f s (%.1f s feed, %.1f s rapid, %.1f s dwell, %.1f s tool "
		    "change), "
		    "waits %.1f s",
		    ch->name, ch->work_seconds, ch->work.feed_seconds, ch->work.rapid_seconds,
		    ch->work.dwell_seconds, ch->work.tool_seconds, ch->wait_seconds);
		paragraph(out, width, 2, s);
		left_out(&ch->work, width, 4, out);
	}
}

static void head(const struct timeline *t, unsigned width, struct text *out)
{
	char s[256];

	switch (t->end) {
	case TIMELINE_WHOLE:
		snprintf(s, sizeof(s), "Estimated cycle: %.1f s (%.0f min %04.1f s).",
		    t->cycle_seconds, floor(t->cycle_seconds / 60), fmod(t->cycle_seconds, 60));
		break;
	case TIMELINE_STUCK:
		snprintf(s, sizeof(s),
		    "No cycle: the channels wait for each other for ever. Estimate up to there: "
		    "%.1f s.",
		    t->cycle_seconds);
		break;
	default:
		snprintf(s, sizeof(s),
		    "No cycle: the programs were not followed to their ends (%s). Estimate up to "
		    "there: %.1f s.",
		    t->why ? t->why : "no reason is known", t->cycle_seconds);
	}
	paragraph(out, width, 0, s);
	if (t->branches)
		paragraph(out, width, 0,
		    "Which blocks are run depends on data that is not known: this is one run of "
		    "several.");
}

void timeline_print(const struct timeline *t, unsigned width, struct text *out)
{
	struct text note = {0};

	width = width < 60 ? 60 : width;
	head(t, width, out);
	if (t->parts) {
		text_putc(out, '\n');
		table(t, width, out);
		text_putc(out, '\n');
	}
	sums(t, width, out);
	if (t->end == TIMELINE_WHOLE && !t->critical_known)
		paragraph(
		    out, width, 0, "The run is too long to tell which parts make the cycle long.");
	text_putc(out, '\n');
	text_printf(&note,
	    "Seconds. Times are %s, and so is whatever is listed as left out above. 'saves' is how "
	    "much shorter the cycle would be if that part took no time.",
	    timeline_estimate_words());
	paragraph(out, width, 0, note.s ? note.s : timeline_estimate_words());
	out->failed |= note.failed;
	text_free(&note);
}
