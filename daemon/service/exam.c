#include "exam.h"

#include <stdio.h>
#include <string.h>

static int feed(void *ctx, const void *bytes, size_t n)
{
	return program_feed(ctx, bytes, n);
}

struct program *exam_program(
    struct vault *v, const struct profile *profile, const char *path, const struct sha *sha)
{
	struct program *p = program_new(profile, path);

	if (!p)
		return NULL;
	if (vault_program_read(v, sha, feed, p) || program_finish(p)) {
		program_free(p);
		return NULL;
	}
	return p;
}

static int collect(void *ctx, const void *bytes, size_t n)
{
	struct text *t = ctx;

	text_add(t, bytes, n);
	return t->failed ? -1 : 0;
}

int exam_bytes(struct vault *v, const struct sha *sha, struct text *out)
{
	return vault_program_read(v, sha, collect, out);
}

int exam_run(struct exam *e, struct vault *v, const struct profile *profile,
    const struct exam_paper *paper, size_t n, char *why, size_t whysize)
{
	memset(e, 0, sizeof(*e));
	for (size_t i = 0; i < n && i < YOKE_CHANNELS_MAX; i++) {
		struct program *p = paper[i].ready;

		if (!p) {
			p = exam_program(v, profile, paper[i].path, &paper[i].sha);
			if (!p) {
				snprintf(why, whysize,
				    "%s: the program of %s cannot be read from the vault: %s",
				    paper[i].path, paper[i].channel, vault_error(v));
				goto fail;
			}
			e->own[e->programs] = true;
		}
		e->program[e->programs++] = p;
	}
	e->report = pair_check(profile, e->program, e->programs);
	if (!e->report || pair_findings(e->report)->failed) {
		snprintf(why, whysize, "memory ran out while the pair was checked");
		goto fail;
	}
	return 0;

fail:
	exam_free(e);
	return -1;
}

void exam_free(struct exam *e)
{
	pair_report_free(e->report);
	for (size_t i = 0; i < e->programs; i++)
		if (e->own[i])
			program_free(e->program[i]);
	memset(e, 0, sizeof(*e));
}
