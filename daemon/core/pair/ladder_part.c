#include "ladder_part.h"

#include <stdio.h>
#include <string.h>

/* Shorter waits are not worth a line: no estimate is that exact. */
static const double WAIT_LEAST_SECONDS = 0.05;

void ladder_part_time(double seconds, char *s, size_t size)
{
	unsigned long long whole = (unsigned long long)(seconds + 0.5);

	if (seconds < 9.95)
		snprintf(s, size, "%.1f s", seconds);
	else if (whole < 60)
		snprintf(s, size, "%llu s", whole);
	else if (whole < 3600)
		snprintf(s, size, "%llu min %02llu s", whole / 60, whole % 60);
	else
		snprintf(s, size, "%llu h %02llu min", whole / 3600, whole / 60 % 60);
}

static bool lacks(const struct timeline_work *w)
{
	for (int i = 0; i < TIMELINE_LEFTS; i++)
		if (w->left[i])
			return true;
	return false;
}

static void add_visible(char *s, size_t size, const char *text)
{
	struct text t = {0};
	size_t n = strlen(s);

	text_visible(&t, text, strlen(text));
	snprintf(s + n, size - n, "%s%s", n ? " " : "", t.s ? t.s : "");
	text_free(&t);
}

static void tools(const struct timeline_part *part, char *s, size_t size)
{
	size_t n = 0;

	for (size_t i = 0; i < part->tools && n < size; i++)
		n += (size_t)snprintf(
		    s + n, size - n, "%sT%u", i ? " " : "", (unsigned)part->tool[i]);
	if (part->more_tools && n < size)
		snprintf(s + n, size - n, " ..");
}

size_t ladder_part_lines(
    const struct timeline_part *part, char line[LADDER_PART_LINES][LADDER_PART_SIZE])
{
	size_t n = 0;
	char time[32];

	line[n][0] = '\0';
	tools(part, line[n], LADDER_PART_SIZE);
	if (part->comment[0])
		add_visible(line[n], LADDER_PART_SIZE, part->comment);
	n += line[n][0] != '\0';
	if (part->spindle[0])
		snprintf(line[n++], LADDER_PART_SIZE, "%s", part->spindle);
	if (part->seconds < WAIT_LEAST_SECONDS && !lacks(&part->work) && !n &&
	    part->wait_seconds < WAIT_LEAST_SECONDS)
		return n;
	ladder_part_time(part->seconds, time, sizeof(time));
	snprintf(
	    line[n++], LADDER_PART_SIZE, "works %s%s", lacks(&part->work) ? "at least " : "", time);
	if (part->wait_seconds >= WAIT_LEAST_SECONDS) {
		ladder_part_time(part->wait_seconds, time, sizeof(time));
		snprintf(line[n++], LADDER_PART_SIZE, "waits %s", time);
	}
	return n;
}
