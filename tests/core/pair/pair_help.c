#include <stdlib.h>
#include "pair_help.h"

void pair_help_set(struct profile *p, const char *section, const char *key, const char *value)
{
	struct text why = {0};

	if (profile_set(p, section, key, value, &why) != PROFILE_OK)
		fail_msg("[%s] %s", section, why.s ? why.s : key);
	text_free(&why);
}

void pair_help_profile(struct profile *p)
{
	profile_defaults(p);
	pair_help_set(p, "programs", "names", "{job}.{channel}");
	pair_help_set(p, "programs", "header", "(REV {rev})");
}

struct program *pair_help_program(const struct profile *p, const struct source *s)
{
	struct program *program = program_new(p, s->file);

	assert_non_null(program);
	assert_int_equal(program_feed(program, s->bytes, s->n ? s->n : strlen(s->bytes)), 0);
	assert_int_equal(program_finish(program), 0);
	return program;
}

void pair_help_check(struct checked *c, const struct source *s, size_t n)
{
	c->n = n;
	for (size_t i = 0; i < n; i++)
		c->program[i] = pair_help_program(&c->profile, &s[i]);
	c->report = pair_check(&c->profile, c->program, n);
	assert_non_null(c->report);
}

void pair_help_two(struct checked *c, const char *upper, const char *lower)
{
	const struct source s[] = {{"J4417.UP", upper, 0}, {"J4417.LO", lower, 0}};

	pair_help_profile(&c->profile);
	pair_help_check(c, s, 2);
}

void pair_help_free(struct checked *c)
{
	pair_report_free(c->report);
	for (size_t i = 0; i < c->n; i++)
		program_free(c->program[i]);
}

uint32_t pair_help_seen(const struct checked *c, enum finding_id id)
{
	return pair_findings(c->report)->seen[id];
}

const struct finding *pair_help_find(const struct checked *c, enum finding_id id)
{
	const struct findings *f = pair_findings(c->report);

	for (size_t i = 0; i < f->n; i++)
		if (f->v[i].id == id)
			return &f->v[i];
	fail_msg("%s is not found", finding_name(id));
	return NULL;
}

void pair_help_text(const struct checked *c, enum finding_id id, const char *text)
{
	const struct findings *f = pair_findings(c->report);

	for (size_t i = 0; i < f->n; i++)
		if (f->v[i].id == id && strcmp(f->v[i].text, text) == 0)
			return;
	for (size_t i = 0; i < f->n; i++)
		print_error("%s:%u: %s [%s]\n", f->v[i].file, (unsigned)f->v[i].line, f->v[i].text,
		    finding_name(f->v[i].id));
	fail_msg("no %s: %s", finding_name(id), text);
}

char *pair_help_ladder(const struct checked *c, unsigned width, bool ascii)
{
	struct ladder_style style = {width, ascii};
	struct text t = {0};
	char *s;

	ladder_draw(c->report, NULL, &style, &t);
	s = text_take(&t);
	assert_non_null(s);
	return s;
}
