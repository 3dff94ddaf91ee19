#include "ladder_times.h"

#include <inttypes.h>
#include "ladder_part.h"

static void cycle(const struct timeline *t, struct text *out)
{
	char s[32];

	ladder_part_time(t->cycle_seconds, s, sizeof(s));
	text_printf(
	    out, "Estimate: %s %s", t->end == TIMELINE_WHOLE ? "the cycle takes" : "up to here", s);
	for (size_t c = 0; c < t->channels; c++) {
		if (!t->channel[c].present || t->channel[c].wait_seconds < LADDER_PART_LEAST)
			continue;
		ladder_part_time(t->channel[c].wait_seconds, s, sizeof(s));
		text_printf(out, ", %s waits %s of it", t->channel[c].name, s);
	}
	text_puts(out, ".");
	if (t->branches)
		text_puts(out, " Which blocks are run depends on data that is not known: this is "
		               "one run of several.");
}

static void critical(const struct timeline *t, struct text *out)
{
	bool some = false, lacks = false;

	if (t->end == TIMELINE_WHOLE && !t->critical_known) {
		text_puts(out, " The run is too long to tell which parts make the cycle long.");
		return;
	}
	for (size_t i = 0; i < t->parts; i++)
		some |= ladder_part_critical(&t->part[i]);
	for (size_t c = 0; c < t->channels; c++)
		lacks |= ladder_part_lacks(&t->channel[c].work);
	if (some)
		text_puts(out, " If a critical part takes longer, so does the cycle; 'saves' is "
		               "how much shorter the cycle would be if that part alone took no "
		               "time.");
	if (some && lacks)
		text_puts(out, " Which parts are critical is no surer than the times that are at "
		               "least so long.");
}

/* "Not in the times of upper: 3 x moves ..; 1 x dwells ..." */
static void left_out(const struct timeline_channel *c, struct text *out)
{
	bool some = false;

	for (int k = 0; k < TIMELINE_LEFTS; k++) {
		if (!c->work.left[k])
			continue;
		if (some)
			text_puts(out, "; ");
		else
			text_printf(out, " Not in the times of %s: ", c->name);
		text_printf(out, "%" PRIu64 " x %s", c->work.left[k],
		    timeline_left_words((enum timeline_left)k));
		some = true;
	}
	if (some)
		text_puts(out, ".");
}

void ladder_times_words(const struct timeline *t, struct text *out)
{
	cycle(t, out);
	critical(t, out);
	text_printf(out, " Times are %s.", timeline_estimate_words());
	for (size_t c = 0; c < t->channels; c++)
		left_out(&t->channel[c], out);
}
