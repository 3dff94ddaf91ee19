/*
 * Goal: any two files can be compared; equal bytes are the same, and nothing else is; from the one
 * to the other and back differ equally; a limit on the changes kept leaves the counts as they are. Each
 * block that is found comes from one of the versions; from the first where nothing else changed.
 */
#include <string.h>
#include "input.h"
#include "yoke/change.h"
#include "yoke/origin.h"

static uint64_t total(const struct change_list *l)
{
	uint64_t n = 0;

	for (int k = 0; k < CHANGE_COUNT; k++)
		n += l->count[k];
	return n;
}

static void compare(const struct profile *p, const struct input *a, const struct input *b,
    size_t limit, struct change_list *out)
{
	memset(out, 0, sizeof(*out));
	must(change_compare(p, a->at, a->left, b->at, b->left, limit, out) == 0);
	must(limit ? out->n <= limit && out->n <= total(out) : out->n == total(out));
	for (size_t i = 0; i < out->n; i++) {
		const struct change *c = &out->v[i];

		must(c->kind < CHANGE_COUNT && c->old_text && c->new_text && c->what && *c->what);
		must(c->old_line > 0 || c->new_line > 0);
	}
}

static void shown(const struct change_list *l)
{
	struct text t = {0};

	change_print(l, "old.nc", "new.nc", &t);
	must(!t.failed);
	must_be_plain(t.s, t.n);
	text_free(&t);
}

struct origins {
	uint32_t least, most; /* versions that a block may come from */
};

static int one(void *ctx, const struct change_origin_place *place)
{
	const struct origins *o = ctx;

	must(place->line > 0 && place->version_line > 0 && place->text);
	must(place->version >= o->least && place->version <= o->most);
	must(place->before_line == 0 || place->version > 0);
	return 0;
}

/* The first line of b, and a few blocks that many programs have. */
static void ask(struct change_origin *o, const struct input *b, struct origins *range)
{
	static const char *const often[] = {"N10", "N20", "M30", "M201", "G0 X1.", "%", ""};
	char line[200];
	size_t n = b->left < sizeof(line) - 1 ? b->left : sizeof(line) - 1;

	memcpy(line, b->left ? (const char *)b->at : "", n);
	line[n] = '\0';
	must(change_origin_find(o, line, one, range) >= 0);
	for (size_t i = 0; i < sizeof(often) / sizeof(often[0]); i++)
		must(change_origin_find(o, often[i], one, range) >= 0);
}

/* a, then b, then b again, then a: what they mean alike stays the first version's. */
static void origins(const struct profile *p, const struct input *a, const struct input *b, bool alike)
{
	struct change_origin *o = change_origin_new(p);
	struct origins range = {0, 0};

	must(o && change_origin_add(o, (const char *)a->at, a->left) == 0);
	ask(o, b, &range);
	must(change_origin_add(o, (const char *)b->at, b->left) == 0);
	range.most = alike ? 0 : 1;
	ask(o, b, &range);
	must(change_origin_add(o, (const char *)b->at, b->left) == 0);
	ask(o, b, &range);
	must(change_origin_add(o, (const char *)a->at, a->left) == 0);
	range.most = alike ? 0 : 3;
	ask(o, a, &range);
	change_origin_free(o);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct profile p;
	struct input in = {data, size}, a = input_part(&in), b = in;
	bool equal = a.left == b.left && (a.left == 0 || memcmp(a.at, b.at, a.left) == 0);
	struct change_list there, back, few, self;

	profile_defaults(&p);
	compare(&p, &a, &b, 0, &there);
	compare(&p, &b, &a, 0, &back);
	compare(&p, &a, &b, 2, &few);
	compare(&p, &a, &a, 0, &self);
	must(self.sameness == CHANGE_SAME_BYTES && self.n == 0);
	must((there.sameness == CHANGE_SAME_BYTES) == equal);
	must(there.sameness == back.sameness && there.sameness == few.sameness);
	must(there.sameness != CHANGE_DIFFERENT || total(&there) > 0);
	must(there.sameness > CHANGE_SAME_TEXT || total(&there) == 0);
	must(total(&there) == total(&back));
	must(memcmp(there.count, few.count, sizeof(few.count)) == 0);
	origins(&p, &a, &b, there.sameness <= CHANGE_SAME_MEANING);
	shown(&there);
	shown(&few);
	change_list_free(&there);
	change_list_free(&back);
	change_list_free(&few);
	change_list_free(&self);
	return 0;
}
