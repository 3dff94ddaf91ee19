#include "ladder_part.h"

#include <stdio.h>
#include <string.h>

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

bool ladder_part_lacks(const struct timeline_work *w)
{
	for (int i = 0; i < TIMELINE_LEFTS; i++)
		if (w->left[i])
			return true;
	return false;
}

/* Take what is left of a character off the end of text that was cut. */
static void whole_characters(char *s)
{
	size_t n = strlen(s), tail = 0;
	unsigned char first;

	while (tail < n && ((unsigned char)s[n - 1 - tail] & 0xc0) == 0x80)
		tail++;
	if (tail == n)
		return;
	first = (unsigned char)s[n - 1 - tail];
	if (tail < (first >= 0xf0 ? 3u : first >= 0xe0 ? 2u : first >= 0xc0 ? 1u : 0u))
		s[n - 1 - tail] = '\0';
}

static void add_visible(char *s, size_t size, const char *text)
{
	struct text t = {0};
	size_t n = strlen(s);

	text_visible(&t, text, strlen(text));
	snprintf(s + n, size - n, "%s%s", n ? " " : "", t.s ? t.s : "");
	if (n + (n > 0) + t.n >= size)
		whole_characters(s);
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

bool ladder_part_critical(const struct timeline_part *part)
{
	return part->critical && part->seconds >= LADDER_PART_LEAST;
}

/* The longest of the ways to put it that fits, else the shortest. */
static void fitting(char *line, size_t room, const char *const *before, const char *time)
{
	for (size_t i = 0; before[i]; i++) {
		snprintf(line, LADDER_PART_SIZE, "%s%s", before[i], time);
		if (strlen(line) <= room)
			return;
	}
}

static const char *const works[] = {"works ", "", NULL};
static const char *const works_at_least[] = {"works at least ", "works > ", "> ", NULL};
static const char *const waits[] = {"waits ", NULL};
static const char *const saves[] = {"critical, saves ", "saves ", NULL};

size_t ladder_part_lines(
    const struct timeline_part *part, size_t room, char line[LADDER_PART_LINES][LADDER_PART_SIZE])
{
	bool lacks = ladder_part_lacks(&part->work);
	size_t n = 0;
	char time[32];

	line[n][0] = '\0';
	tools(part, line[n], LADDER_PART_SIZE);
	if (part->comment[0])
		add_visible(line[n], LADDER_PART_SIZE, part->comment);
	n += line[n][0] != '\0';
	if (part->spindle[0])
		snprintf(line[n++], LADDER_PART_SIZE, "%s", part->spindle);
	if (part->seconds < LADDER_PART_LEAST && !lacks && !n &&
	    part->wait_seconds < LADDER_PART_LEAST)
		return n;
	ladder_part_time(part->seconds, time, sizeof(time));
	fitting(line[n++], room, lacks ? works_at_least : works, time);
	if (part->wait_seconds >= LADDER_PART_LEAST) {
		ladder_part_time(part->wait_seconds, time, sizeof(time));
		fitting(line[n++], room, waits, time);
	}
	if (!ladder_part_critical(part))
		return n;
	ladder_part_time(part->gain_seconds, time, sizeof(time));
	if (part->gain_seconds >= LADDER_PART_LEAST)
		fitting(line[n++], room, saves, time);
	else
		snprintf(line[n++], LADDER_PART_SIZE, "critical");
	return n;
}
