/*
 * Goal: any two files can be compared; equal bytes are the same, and nothing else is; from the one
 * to the other and back differ equally; a limit on the changes kept leaves the counts as they are.
 */
#include <string.h>
#include "input.h"
#include "yoke/change.h"

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
	shown(&there);
	shown(&few);
	change_list_free(&there);
	change_list_free(&back);
	change_list_free(&few);
	change_list_free(&self);
	return 0;
}
