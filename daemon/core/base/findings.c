#include "findings.h"

#include <stdlib.h>
#include <string.h>
#include "yoke/text.h"

static void finding_clear(struct finding *f)
{
	free((char *)f->file);
	free(f->text);
	free(f->remedy);
	free((char *)f->also_file);
}

static char *copy(const char *s)
{
	return strdup(s ? s : "");
}

/* A zeroed place at the end of the list that is not counted in n yet, or NULL. */
static struct finding *room(struct findings *list)
{
	struct finding *v;
	size_t cap;

	if (list->n == list->cap) {
		cap = list->cap ? list->cap * 2 : 16;
		v = reallocarray(list->v, cap, sizeof *v);
		if (!v)
			return NULL;
		list->v = v;
		list->cap = cap;
	}
	memset(&list->v[list->n], 0, sizeof *list->v);
	return &list->v[list->n];
}

struct finding *findings_add(struct findings *list, const enum weight *weights, enum finding_id id,
    const struct finding_place *at, const char *remedy, const char *format, ...)
{
	enum weight w = weights ? weights[id] : finding_weight(id);
	struct text text = {0};
	struct finding *f;
	va_list ap;

	if (w == WEIGHT_OFF)
		return NULL;
	if (list->seen[id] < UINT32_MAX)
		list->seen[id]++;
	if (list->seen[id] > FINDINGS_KEEP || list->failed)
		return NULL;
	f = room(list);
	if (!f)
		goto failed;
	f->id = id;
	f->weight = w;
	f->channel = at->channel;
	f->line = at->line;
	f->col = at->col;
	va_start(ap, format);
	text_vprintf(&text, format, ap);
	va_end(ap);
	f->text = text_take(&text);
	f->file = copy(at->file);
	f->remedy = copy(remedy);
	if (!f->text || !f->file || !f->remedy)
		goto failed_strings;
	list->n++;
	return f;

failed_strings:
	finding_clear(f);
failed:
	list->failed = true;
	return NULL;
}

void findings_place_also(
    struct findings *list, struct finding *f, const char *file, uint64_t line, uint32_t col)
{
	char *name;

	if (!f)
		return;
	name = copy(file);
	if (!name) {
		list->failed = true;
		return;
	}
	free((char *)f->also_file);
	f->also = true;
	f->also_file = name;
	f->also_line = line;
	f->also_col = col;
}

static void append_copy(struct findings *list, const struct finding *s)
{
	struct finding *f = room(list);

	if (!f) {
		list->failed = true;
		return;
	}
	*f = *s;
	f->file = copy(s->file);
	f->text = copy(s->text);
	f->remedy = copy(s->remedy);
	f->also_file = s->also_file ? copy(s->also_file) : NULL;
	if (!f->file || !f->text || !f->remedy || (s->also_file && !f->also_file)) {
		finding_clear(f);
		list->failed = true;
		return;
	}
	list->n++;
}

static void append_counts(struct findings *list, const struct findings *from)
{
	for (int i = 0; i < FINDING_COUNT; i++) {
		uint64_t sum = (uint64_t)list->seen[i] + from->seen[i];

		list->seen[i] = sum > UINT32_MAX ? UINT32_MAX : (uint32_t)sum;
	}
	list->failed |= from->failed;
}

void findings_append(struct findings *list, const struct findings *from)
{
	append_counts(list, from);
	for (size_t i = 0; i < from->n && !list->failed; i++)
		append_copy(list, &from->v[i]);
}

static bool has(const struct findings *list, size_t n, const struct finding *f)
{
	for (size_t i = 0; i < n; i++) {
		const struct finding *g = &list->v[i];

		if (g->id == f->id && g->line == f->line && g->col == f->col &&
		    strcmp(g->file, f->file) == 0 && strcmp(g->text, f->text) == 0)
			return true;
	}
	return false;
}

void findings_append_new(struct findings *list, const struct findings *from)
{
	size_t before = list->n;

	append_counts(list, from);
	for (size_t i = 0; i < from->n && !list->failed; i++) {
		const struct finding *f = &from->v[i];

		if (!has(list, before, f))
			append_copy(list, f);
		else if (list->seen[f->id] < UINT32_MAX)
			list->seen[f->id]--;
	}
}

static int by_number(uint64_t a, uint64_t b)
{
	return (a > b) - (a < b);
}

/* A total order, so that the result does not depend on how qsort works. */
static int by_place(const void *va, const void *vb)
{
	const struct finding *a = va, *b = vb;
	int d = (a->file[0] == '\0') - (b->file[0] == '\0');

	if (!d)
		d = (a->channel > b->channel) - (a->channel < b->channel);
	if (!d)
		d = strcmp(a->file, b->file);
	if (!d)
		d = by_number(a->line, b->line);
	if (!d)
		d = by_number(a->col, b->col);
	if (!d)
		d = (int)a->id - (int)b->id;
	return d ? d : strcmp(a->text, b->text);
}

void findings_sort(struct findings *list)
{
	if (list->n > 1)
		qsort(list->v, list->n, sizeof *list->v, by_place);
}

enum weight findings_heaviest(const struct findings *list)
{
	enum weight w = WEIGHT_OFF;

	for (size_t i = 0; i < list->n; i++)
		if (list->v[i].weight > w)
			w = list->v[i].weight;
	return w;
}

void findings_free(struct findings *list)
{
	for (size_t i = 0; i < list->n; i++)
		finding_clear(&list->v[i]);
	free(list->v);
	memset(list, 0, sizeof *list);
}
