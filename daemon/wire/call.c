#include "call.h"

#include <stdbool.h>
#include <string.h>

/* A piece of the text: not ended by NUL. */
struct piece {
	const char *s;
	size_t n;
};

static bool is_blank(char c)
{
	return c == ' ' || c == '\t';
}

static char upper(char c)
{
	return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* Take the next word off the front. False when there is none. */
static bool next_word(struct piece *p, struct piece *word)
{
	while (p->n && is_blank(*p->s)) {
		p->s++;
		p->n--;
	}
	word->s = p->s;
	word->n = 0;
	while (p->n && !is_blank(*p->s)) {
		p->s++;
		p->n--;
		word->n++;
	}
	return word->n > 0;
}

static bool same(struct piece a, struct piece b)
{
	if (a.n != b.n)
		return false;
	for (size_t i = 0; i < a.n; i++)
		if (upper(a.s[i]) != upper(b.s[i]))
			return false;
	return true;
}

/* Take the words of a setting off the front, all of them or none. */
static bool take(struct piece *p, const char *words)
{
	struct piece rest = *p, want = {words, strlen(words)}, a, b;

	while (next_word(&want, &a))
		if (!next_word(&rest, &b) || !same(a, b))
			return false;
	*p = rest;
	return true;
}

/* A character of a name: what a damaged one may become is none. */
static bool in_name(char c)
{
	return c > ' ' && c <= '~' && !strchr("();%", c);
}

static enum call_fault copy(struct piece word, char *to, size_t max)
{
	if (word.n > max)
		return CALL_LONG;
	for (size_t i = 0; i < word.n; i++)
		if (!in_name(word.s[i]))
			return CALL_BYTE;
	memcpy(to, word.s, word.n);
	to[word.n] = '\0';
	return CALL_OK;
}

/* A value behind its word, where that stands. */
static enum call_fault take_value(struct piece *p, const char *word, char *to, size_t max)
{
	struct piece value;

	to[0] = '\0';
	if (!take(p, word))
		return CALL_OK;
	return next_word(p, &value) ? copy(value, to, max) : CALL_NO_VALUE;
}

static bool ended_by(struct piece p, const struct call_words *w)
{
	struct piece rest = p, word;

	return !next_word(&rest, &word) || take(&p, w->badge);
}

/* The job, and its revision. */
static enum call_fault take_pair(struct piece *p, const struct call_words *w, struct call *out)
{
	struct piece job;
	enum call_fault f;

	if (!next_word(p, &job))
		return CALL_NO_JOB;
	f = copy(job, out->job, YOKE_NAME_MAX);
	return f ? f : take_value(p, w->revision, out->revision, YOKE_NAME_MAX);
}

/* The comment behind the mark. */
static enum call_fault read_comment(struct piece p, const struct call_words *w, struct call *out)
{
	enum call_fault f = CALL_OK;
	struct piece rest;

	if (take(&p, w->bring)) {
		out->kind = CALL_BRING;
		f = ended_by(p, w) ? CALL_NO_JOB : take_pair(&p, w, out);
	} else if (take(&p, w->last_good)) {
		out->kind = CALL_LAST_GOOD;
	} else if (take(&p, w->proven)) {
		out->kind = CALL_PROVEN;
		f = ended_by(p, w) ? CALL_OK : take_pair(&p, w, out);
	} else {
		return CALL_UNKNOWN;
	}
	if (!f)
		f = take_value(&p, w->badge, out->badge, CALL_BADGE_MAX);
	return !f && next_word(&p, &rest) ? CALL_REST : f;
}

struct scan {
	const struct call_words *words;
	uint64_t line;
	struct piece call; /* behind the mark */
	uint64_t call_line, other_line;
	unsigned calls;
	bool unclosed;
};

static void hear_comment(struct scan *s, struct piece comment, bool closed)
{
	if (!take(&comment, s->words->mark))
		return;
	s->call = comment;
	s->call_line = s->line;
	s->calls++;
	s->unclosed |= !closed;
}

/* A word that a call may have beside its comment: a program number, a sequence number, an end. */
static bool is_idle(char letter, const char *digits, size_t n)
{
	while (n > 1 && *digits == '0') {
		digits++;
		n--;
	}
	switch (upper(letter)) {
	case 'O':
	case ':':
	case 'N':
		return n > 0;
	case 'M':
		return (n == 1 && *digits == '2') || (n == 2 && !memcmp(digits, "30", 2)) ||
		       (n == 2 && !memcmp(digits, "99", 2));
	default:
		return false;
	}
}

/* Words up to the next comment or the line's end; how many bytes they are. */
static size_t hear_words(struct scan *s, const char *at, size_t n)
{
	size_t i = 0;

	while (i < n && at[i] != '(' && at[i] != ';') {
		size_t k = i + 1;

		if (is_blank(at[i]) || at[i] == '%') {
			i++;
			continue;
		}
		while (k < n && is_digit(at[k]))
			k++;
		if (!is_idle(at[i], at + i + 1, k - i - 1) && !s->other_line)
			s->other_line = s->line;
		i = k;
	}
	return i;
}

static void hear_line(struct scan *s, const char *at, size_t n)
{
	s->line++;
	while (n) {
		size_t i = hear_words(s, at, n), k;
		const char *end;

		if (i == n)
			return;
		end = at[i] == '(' ? memchr(at + i, ')', n - i) : at + n;
		k = end ? (size_t)(end - at) : n;
		hear_comment(s, (struct piece){at + i + 1, k - i - 1}, end != NULL);
		k += k < n;
		at += k;
		n -= k;
	}
}

enum call_fault call_read(
    const void *text, size_t n, const struct call_words *words, struct call *out)
{
	struct scan s = {.words = words};
	const char *at = text, *end = at + n;

	*out = (struct call){0};
	while (at < end) {
		const char *lf = memchr(at, '\n', (size_t)(end - at));
		size_t length = lf ? (size_t)(lf - at) : (size_t)(end - at);

		hear_line(&s, at, length);
		at += length + (lf != NULL);
	}
	if (!s.calls)
		return CALL_NONE;
	out->line = s.call_line;
	if (s.calls > 1)
		return CALL_TWO;
	if (s.other_line || s.line > CALL_LINES_MAX) {
		out->line = s.other_line;
		return CALL_OTHER;
	}
	return s.unclosed ? CALL_UNCLOSED : read_comment(s.call, words, out);
}

const char *call_says(enum call_fault fault)
{
	switch (fault) {
	case CALL_OK:
		return "";
	case CALL_NONE:
		return "it holds no call";
	case CALL_TWO:
		return "it holds more than one call; punch one at a time";
	case CALL_OTHER:
		return "it holds words of a program beside the call; a call stands alone, with a "
		       "program number and an end at most";
	case CALL_UNCLOSED:
		return "the comment has no closing parenthesis in its line";
	case CALL_UNKNOWN:
		return "what it asks for is none of the things that can be asked for; the words "
		       "stand in [call] of the machine's configuration";
	case CALL_NO_JOB:
		return "it names no job";
	case CALL_NO_VALUE:
		return "a revision or badge is announced, and none follows";
	case CALL_REST:
		return "it goes on behind its end; write one call with its words in order";
	case CALL_BYTE:
		return "a job, revision or badge holds a character that is no part of a name";
	case CALL_LONG:
		return "a job, revision or badge is longer than one can be";
	}
	return "";
}

static const char *word_wrong(const char *s)
{
	struct piece p = {s, strlen(s)}, word;

	if (!next_word(&p, &word))
		return "a word of a call is empty";
	for (; *s; s++)
		if (*s != ' ' && *s != '\t' && !in_name(*s))
			return "a word of a call is printable ASCII without ( ) ; and %, as a "
			       "comment on the control can hold it";
	return NULL;
}

/* Whether a begins with b, word by word. */
static bool begins(const char *a, const char *b)
{
	struct piece p = {a, strlen(a)};

	return take(&p, b);
}

const char *call_words_wrong(const struct call_words *w)
{
	const char *all[] = {w->mark, w->bring, w->last_good, w->proven, w->revision, w->badge};
	const char *asks[] = {w->bring, w->last_good, w->proven};

	for (size_t i = 0; i < sizeof all / sizeof *all; i++)
		if (word_wrong(all[i]))
			return word_wrong(all[i]);
	for (size_t i = 0; i < 3; i++)
		for (size_t k = 0; k < 3; k++)
			if (i != k && begins(asks[i], asks[k]))
				return "of bring, last_good and proven one begins with another: "
				       "nobody could tell them apart";
	if (begins(w->revision, w->badge) || begins(w->badge, w->revision))
		return "revision and badge must be different words";
	return NULL;
}
