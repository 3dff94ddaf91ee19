/*
 * Goal: whatever came and whatever was expected, programs lie in the text one behind the other and
 * nothing is left out of them; what is put together holds nothing that did not come, and a text is
 * found whole in itself.
 */
#include <string.h>
#include "canonical.h"
#include "input.h"
#include "several.h"

/* Characters that are none of these. */
static uint64_t others(const uint8_t *p, size_t n, const char *these)
{
	uint64_t found = 0;

	for (size_t i = 0; i < n; i++)
		found += !strchr(these, p[i]) || !p[i];
	return found;
}

/* Parts are in order, within the text, and each with its number begins with it. */
static void must_be_apart(const struct several *s, size_t n)
{
	size_t at = 0;

	must(s->end <= n);
	for (size_t i = 0; i < s->parts; i++) {
		const struct several_part *p = &s->part[i];

		must(p->at >= at && p->size > 0 && p->at + p->size <= s->end);
		must(others(s->text + p->at, p->size, " \t\n") > 0);
		must(!i || s->part[i - 1].line < p->line);
		at = p->at + p->size;
	}
	must(s->behind <= n - s->end);
}

static void must_fit(const struct several *e, const struct several *c)
{
	struct several_match m;
	struct several again;
	char names[100];

	if (several_match(&m, e, c) < 0)
		return;
	must((m.text != NULL) == (m.way <= SEVERAL_SOME));
	must(m.way != SEVERAL_ALL || !m.plain || e->parts == c->parts);
	must(several_names(c, m.used, names, sizeof(names)) <= c->parts);
	must(strlen(names) < sizeof(names));
	if (m.text && several_read(&again, m.text, m.size) == 0) {
		must(!again.cut && again.behind == 0);
		must(m.way != SEVERAL_ALL || again.parts == e->parts);
		must(others(m.text, m.size, "% \t\n") <= others(c->text, c->end, "% \t\n"));
		several_free(&again);
	}
	several_match_free(&m);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size}, first = input_part(&in);
	struct canonical a, b;
	struct several e, c;
	struct several_match m;

	if (canonical_make(&a, first.at, first.left) < 0)
		return 0;
	if (canonical_make(&b, in.at, in.left) < 0)
		goto free_a;
	if (several_read(&e, a.bytes, a.size) < 0)
		goto free_b;
	if (several_read(&c, b.bytes, b.size) < 0)
		goto free_e;
	must_be_apart(&e, a.size);
	must_be_apart(&c, b.size);
	must_fit(&e, &c);
	if (several_match(&m, &e, &e) == 0) {
		must(m.way == SEVERAL_TWICE || e.parts == 0 ||
		     (m.way == SEVERAL_ALL && m.line == 0));
		several_match_free(&m);
	}
	several_free(&c);
free_e:
	several_free(&e);
free_b:
	canonical_free(&b);
free_a:
	canonical_free(&a);
	return 0;
}
