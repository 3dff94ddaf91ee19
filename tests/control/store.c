/* The bench control's program memory. */
#include "store.h"
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct store {
	char *dir; /* DIR/CHANNEL, or NULL */
	size_t memory, used;
	struct program *programs;
	size_t count;
	bool open;       /* the last program is being stored */
	unsigned load;   /* the load under way, or the last one */
	unsigned newest; /* the newest load that brought a program */
};

static char *path_of(const struct store *s, long number, const char *end)
{
	char *path;

	if (asprintf(&path, "%s/O%04ld.nc%s", s->dir, number, end) < 0)
		return NULL;
	return path;
}

static bool copy_write(const struct store *s, const struct program *p)
{
	char *path, *temp;
	FILE *f = NULL;
	bool good = false;

	if (!s->dir)
		return true;
	path = path_of(s, p->number, "");
	temp = path_of(s, p->number, ".new");
	if (path && temp)
		f = fopen(temp, "we");
	if (f) {
		good = fprintf(f, "%%\n") > 0;
		good = fwrite(p->text, 1, p->len, f) == p->len && good;
		if (p->whole)
			good = fprintf(f, "%%\n") > 0 && good;
		good = fclose(f) == 0 && good;
		/* Who looks from outside sees the old copy or the new one, never half of it. */
		good = good && rename(temp, path) == 0;
	}
	free(path);
	free(temp);
	return good;
}

static void copy_remove(const struct store *s, long number)
{
	char *path = s->dir ? path_of(s, number, "") : NULL;

	if (path)
		unlink(path);
	free(path);
}

static void forget_at(struct store *s, size_t i)
{
	s->used -= s->programs[i].len;
	copy_remove(s, s->programs[i].number);
	free(s->programs[i].text);
	s->count--;
	memmove(&s->programs[i], &s->programs[i + 1], (s->count - i) * sizeof(*s->programs));
}

static struct program *append(struct store *s, long number)
{
	struct program *more = realloc(s->programs, (s->count + 1) * sizeof(*more));
	struct program *p;

	if (!more)
		return NULL;
	s->programs = more;
	p = &more[s->count];
	*p = (struct program){.number = number, .load = s->load, .size = 256};
	p->text = malloc(p->size);
	if (!p->text)
		return NULL;
	p->text[0] = '\0';
	s->count++;
	return p;
}

static bool push(struct store *s, struct program *p, char c)
{
	if (p->len + 1 == p->size) {
		char *more = realloc(p->text, p->size * 2);

		if (!more)
			return false;
		p->text = more;
		p->size *= 2;
	}
	p->text[p->len++] = c;
	p->text[p->len] = '\0';
	s->used++;
	return true;
}

/* Reads one copy back: `%` line, text, and a second `%` line unless it is a stump. */
static bool recall_one(struct store *s, long number)
{
	char *path = path_of(s, number, "");
	FILE *f = path ? fopen(path, "re") : NULL;
	struct program *p = f ? append(s, number) : NULL;
	bool good = p != NULL;
	int c;

	while (good && (c = getc(f)) != EOF)
		good = push(s, p, (char)c);
	if (good && p->len >= 2 && !memcmp(p->text, "%\n", 2)) {
		memmove(p->text, p->text + 2, p->len - 1);
		p->len -= 2;
		s->used -= 2;
	}
	if (good && p->len >= 2 && !memcmp(p->text + p->len - 2, "%\n", 2)) {
		p->len -= 2;
		s->used -= 2;
		p->text[p->len] = '\0';
		p->whole = true;
	}
	if (f)
		fclose(f);
	free(path);
	return good;
}

static bool visit_copies(struct store *s, bool recall)
{
	DIR *d = opendir(s->dir);
	struct dirent *e;
	bool good = true;

	if (!d)
		return false;
	while (good && (e = readdir(d))) {
		char *end = NULL;
		long number = e->d_name[0] == 'O' ? strtol(e->d_name + 1, &end, 10) : -1;

		if (number < 0 || number > STORE_NUMBER_MAX || !end || strcmp(end, ".nc"))
			continue;
		if (recall)
			good = recall_one(s, number);
		else
			copy_remove(s, number);
	}
	closedir(d);
	return good;
}

struct store *store_new(const char *channel, const char *dir, size_t memory, bool recall)
{
	struct store *s = calloc(1, sizeof(*s));

	if (!s)
		return NULL;
	s->memory = memory;
	if (!dir)
		return s;
	if (asprintf(&s->dir, "%s/%s", dir, channel) < 0) {
		s->dir = NULL;
		goto fail;
	}
	if (mkdir(dir, 0777) < 0 && errno != EEXIST)
		goto fail;
	if (mkdir(s->dir, 0777) < 0 && errno != EEXIST)
		goto fail;
	if (!visit_copies(s, recall))
		goto fail;
	return s;
fail:
	store_free(s);
	return NULL;
}

void store_free(struct store *s)
{
	if (!s)
		return;
	for (size_t i = 0; i < s->count; i++)
		free(s->programs[i].text);
	free(s->programs);
	free(s->dir);
	free(s);
}

void store_limit(struct store *s, size_t memory)
{
	s->memory = memory;
}

size_t store_used(const struct store *s)
{
	return s->used;
}

void store_begin_load(struct store *s)
{
	s->load++;
}

static struct program *find(const struct store *s, long number)
{
	for (size_t i = 0; i < s->count; i++)
		if (s->programs[i].number == number)
			return &s->programs[i];
	return NULL;
}

const struct program *store_find(const struct store *s, long number)
{
	return find(s, number);
}

const struct program *store_at(const struct store *s, size_t i)
{
	return i < s->count ? &s->programs[i] : NULL;
}

bool store_is_newest(const struct store *s, const struct program *p)
{
	return p->load == s->newest;
}

bool store_brought(const struct store *s)
{
	return s->newest == s->load;
}

bool store_open(struct store *s, long number)
{
	store_delete(s, number);
	s->open = append(s, number) != NULL;
	s->newest = s->load;
	return s->open;
}

bool store_add(struct store *s, char c)
{
	if (!s->open || s->used >= s->memory)
		return false;
	return push(s, &s->programs[s->count - 1], c);
}

bool store_close(struct store *s, bool whole)
{
	struct program *p;

	if (!s->open)
		return true;
	p = &s->programs[s->count - 1];
	s->open = false;
	p->whole = whole;
	/* A last block that `%` follows at once is a block all the same. */
	if (whole && p->len && p->text[p->len - 1] != '\n')
		push(s, p, '\n');
	return copy_write(s, p);
}

long store_edit(struct store *s, const char *was, const char *is)
{
	for (size_t i = s->count; i-- > 0;) {
		struct program *p = &s->programs[i];
		char *at = *was ? strstr(p->text, was) : NULL;
		size_t less = strlen(was), more = strlen(is), before, len;
		char *text;

		if (!at)
			continue;
		before = (size_t)(at - p->text);
		len = p->len - less + more;
		if (s->used - less + more > s->memory)
			return -2;
		text = malloc(len + 1);
		if (!text)
			return -2;
		memcpy(text, p->text, before);
		memcpy(text + before, is, more);
		memcpy(text + before + more, at + less, p->len - before - less + 1);
		free(p->text);
		s->used = s->used - less + more;
		p->text = text;
		p->len = len;
		p->size = len + 1;
		return copy_write(s, p) ? p->number : -3;
	}
	return -1;
}

size_t store_delete(struct store *s, long number)
{
	size_t gone = 0;

	for (size_t i = s->count; i-- > 0;) {
		if (number != STORE_ALL && s->programs[i].number != number)
			continue;
		if (s->open && i == s->count - 1)
			s->open = false;
		forget_at(s, i);
		gone++;
	}
	return gone;
}
