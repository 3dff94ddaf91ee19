/*
 * A line is what stands between two bytes of line ends (CR or LF), so the parts need no rule of
 * their own for pairs of them: each end goes to every channel as it is, the text between two ends
 * to the channel that it belongs to.
 *
 *     HEAD --separator--> IN c --separator--> IN d ...      text goes to all / to c / to d
 *       |                  |
 *       +--------+---------+--separator of no channel--> NOBODY, until the next one
 */
#include <stdlib.h>
#include <string.h>
#include "line_end.h"
#include "program_state.h"
#include "separator.h"
#include "yoke/split.h"

enum { HEAD = -1, NOBODY = -2 };
enum {
	OUT = 16384, /* bytes gathered for one channel before they are read */
	LINE = 1024, /* bytes of a line that are looked at; longer ones are no separator */
};

struct lane {
	struct program *program;
	bool named; /* a separator names it */
	bool cr;    /* the last byte was a CR */
	size_t n;
	char out[OUT];
};

struct split {
	const struct profile *profile;
	int error; /* sticky: -1 once memory ran out */
	int now;   /* whose text it is: a channel, HEAD or NOBODY */
	uint64_t line;
	unsigned crs; /* CRs since the last text or LF: whether they are ends, an LF decides */
	bool open;    /* % stands in the head */
	bool closed;  /* the last text was a lone %, behind the head */
	bool told;    /* of text in the head that belongs to no channel */
	bool far;     /* the line at hand is longer than LINE and was given out */
	size_t n;     /* bytes of the line at hand in text */
	char text[LINE];
	struct findings findings; /* of the file as a whole */
	struct lane lane[YOKE_CHANNELS_MAX];
};

struct split *split_new(const struct profile *profile, const char *file)
{
	struct split *s = calloc(1, sizeof(*s));

	if (!s)
		return NULL;
	s->profile = profile;
	s->now = HEAD;
	s->line = 1;
	for (uint32_t c = 0; c < profile->channels; c++) {
		s->lane[c].program = program_new(profile, file);
		if (!s->lane[c].program) {
			split_free(s);
			return NULL;
		}
		s->lane[c].program->identity.separated = (int)c;
	}
	return s;
}

void split_keep(struct split *s)
{
	for (uint32_t c = 0; c < s->profile->channels; c++)
		program_keep(s->lane[c].program);
}

int split_sister(struct split *s, const struct program *sister)
{
	for (uint32_t c = 0; c < s->profile->channels; c++)
		if (program_sister(s->lane[c].program, sister) != 0)
			return -1;
	return 0;
}

static void flush(struct split *s, struct lane *l)
{
	if (program_feed(l->program, l->out, l->n) != 0)
		s->error = -1;
	l->n = 0;
}

static void put(struct split *s, struct lane *l, const char *bytes, size_t n)
{
	if (n == 0)
		return;
	if (n > OUT - l->n)
		flush(s, l);
	if (n <= OUT) {
		memcpy(l->out + l->n, bytes, n);
		l->n += n;
	} else if (program_feed(l->program, bytes, n) != 0) {
		s->error = -1;
	}
	l->cr = bytes[n - 1] == '\r';
}

/* Give text without its end to a channel, with HEAD to all, with NOBODY to none. */
static void give(struct split *s, const char *text, size_t n, int to)
{
	for (uint32_t c = 0; c < s->profile->channels; c++) {
		struct lane *l = &s->lane[c];

		if (to == HEAD || to == (int)c)
			put(s, l, text, n);
		else if (n > 0 && l->cr)
			put(s, l, " ", 1); /* so that the CR and the end to come stay two */
	}
}

static bool filler(char c)
{
	return c == ' ' || c == '\t' || c == '\0' || c == '\x7f' || c == '\x1a';
}

/* Less filler at either end, and the byte-order mark of a file's first line. */
static void trim(const struct split *s, const char **text, size_t *n)
{
	if (s->line == 1 && *n >= 3 && memcmp(*text, "\xEF\xBB\xBF", 3) == 0) {
		*text += 3;
		*n -= 3;
	}
	while (*n > 0 && filler(**text)) {
		(*text)++;
		(*n)--;
	}
	while (*n > 0 && filler((*text)[*n - 1]))
		(*n)--;
}

/* The bytes of a program number or name at text: 0 when there is none. */
static size_t number(const char *text, size_t n)
{
	const char *close = n > 1 && text[1] == '<' ? memchr(text, '>', n) : NULL;
	size_t i = 1;

	if (n < 2 || !strchr("Oo:", *text))
		return 0;
	while (i < n && ((text[i] >= '0' && text[i] <= '9') || filler(text[i])))
		i++;
	return close ? (size_t)(close - text) + 1 : i;
}

/* What may stand in the head: %, a program number, comments. text holds something. */
static bool of_all(const char *text, size_t n)
{
	const char *end = text + n;

	if (*text == '%')
		return true;
	for (text += number(text, n); text < end && *text == '(';) {
		text = memchr(text, ')', (size_t)(end - text));
		for (text = text ? text + 1 : end; text < end && filler(*text);)
			text++;
	}
	return text == end || *text == ';';
}

static struct finding_place here(const struct split *s)
{
	return (struct finding_place){-1, s->lane[0].program->file, s->line, 0};
}

/* A block in the head that is for no channel in particular and does something. */
static void homeless(struct split *s)
{
	struct finding_place at = here(s);

	if (!s->told)
		findings_add(&s->findings, s->profile->weight, FINDING_PART_UNKNOWN, &at,
		    "put it behind the separator of its channel",
		    "a block in front of the first separator (%s) belongs to no channel",
		    s->profile->separator);
	s->told = true;
}

static void unknown_channel(struct split *s, const char *name, size_t n)
{
	struct finding_place at = here(s);
	struct text names = {0};

	for (uint32_t c = 0; c < s->profile->channels; c++)
		text_printf(
		    &names, "%s%u %s", c ? ", " : "", (unsigned)c + 1, s->profile->channel[c].name);
	if (names.failed)
		s->error = -1;
	else
		findings_add(&s->findings, s->profile->weight, FINDING_PART_UNKNOWN, &at,
		    "correct the separator, or the channels' names and aliases in the profile",
		    "separator for channel '%.*s'; the channels are %s", (int)n, name, names.s);
	text_free(&names);
}

/* A whole line, without its end. */
static void line(struct split *s, const char *text, size_t n)
{
	const char *inside = text, *name = NULL;
	size_t length = n, name_n = 0;
	int channel;

	trim(s, &inside, &length);
	if (length == 0) {
		give(s, text, n, s->now);
		return;
	}
	channel = separator_match(s->profile, inside, length, &name, &name_n);
	s->closed = channel == SEPARATOR_NO && s->now != HEAD && length == 1 && *inside == '%';
	if (channel == SEPARATOR_NO) {
		bool strange = s->now == HEAD && !of_all(inside, length);

		if (strange)
			homeless(s);
		s->open |= s->now == HEAD && *inside == '%';
		give(s, text, n, strange ? NOBODY : s->now);
		return;
	}
	if (channel == SEPARATOR_UNKNOWN)
		unknown_channel(s, name, name_n);
	give(s, text, n, NOBODY);
	s->now = channel >= 0 ? channel : NOBODY;
	if (channel >= 0)
		s->lane[channel].named = true;
}

/* Text of the line at hand: gathered, until it is too long to be looked at. */
static void part_of_line(struct split *s, const char *text, size_t n)
{
	if (!s->far && n <= LINE - s->n) {
		memcpy(s->text + s->n, text, n);
		s->n += n;
		return;
	}
	if (!s->far && s->now == HEAD)
		homeless(s);
	if (!s->far)
		give(s, s->text, s->n, s->now == HEAD ? NOBODY : s->now);
	give(s, text, n, s->now == HEAD ? NOBODY : s->now);
	s->far = true;
	s->closed = false;
	s->n = 0;
}

static void end_line(struct split *s)
{
	if (!s->far)
		line(s, s->text, s->n);
	s->far = false;
	s->n = 0;
}

/* Count as the reader does: LF, CR LF and CR CR LF are one end, any other CR is one. */
static void count(struct split *s, char end)
{
	if (end == '\r') {
		s->crs++;
		return;
	}
	s->line += s->crs > 2 ? s->crs - 1 : 1;
	s->crs = 0;
}

int split_feed(struct split *s, const void *bytes, size_t n)
{
	const char *p = bytes, *stop = p + n;

	while (p < stop && s->error == 0) {
		const char *end = line_end_find(p, stop);

		if (end > p) {
			s->line += s->crs;
			s->crs = 0;
		}
		/* Most lines lie whole in the chunk and need no copy. */
		if (end < stop && s->n == 0 && !s->far && end - p <= LINE)
			line(s, p, (size_t)(end - p));
		else if (end > p)
			part_of_line(s, p, (size_t)(end - p));
		if (end == stop)
			break;
		if (s->n > 0 || s->far)
			end_line(s);
		count(s, *end);
		give(s, end, 1, HEAD);
		p = end + 1;
	}
	return s->error;
}

int split_finish(struct split *s)
{
	bool first = true;

	end_line(s);
	for (uint32_t c = 0; c < s->profile->channels; c++) {
		struct lane *l = &s->lane[c];

		if (!l->named)
			continue;
		if (s->open && s->closed && (int)c != s->now)
			put(s, l, "%", 1);
		flush(s, l);
		if (first)
			findings_append(&l->program->findings, &s->findings);
		first = false;
		if (program_finish(l->program) != 0)
			s->error = -1;
	}
	return s->error;
}

struct program *split_take(struct split *s, int channel)
{
	struct lane *l = &s->lane[channel];
	struct program *p = l->named ? l->program : NULL;

	if (p)
		l->program = NULL;
	return p;
}

void split_free(struct split *s)
{
	if (!s)
		return;
	for (uint32_t c = 0; c < YOKE_CHANNELS_MAX; c++)
		program_free(s->lane[c].program);
	findings_free(&s->findings);
	free(s);
}
