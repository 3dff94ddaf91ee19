#include "steps.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

static int block(void *ctx, const struct nc_block *b)
{
	struct steps *s = ctx;

	assert_true(s->n < STEPS_MAX);
	modal_block(&s->modal, b, &s->v[s->n].step);
	motion_of(&s->modal, &s->v[s->n].step, &s->v[s->n].motion);
	s->feed += s->v[s->n].motion.feed_seconds;
	s->rapid += s->v[s->n].motion.rapid_seconds;
	s->dwell += s->v[s->n].motion.dwell_seconds;
	s->tool += s->v[s->n].motion.tool_seconds;
	s->left[s->v[s->n].motion.left]++;
	if (s->v[s->n].motion.left_dwell)
		s->left[s->v[s->n].motion.left_dwell]++;
	s->n++;
	return 0;
}

void steps_begin(struct steps *s, bool turns)
{
	memset(s, 0, sizeof(*s));
	s->profile.increment = 0.001;
	for (int i = 0; i < 2; i++) {
		struct profile_channel *c = &s->profile.channel[i];

		c->diameter = i == 1;
		c->offset_digits = i == 1 ? 2 : 0;
		c->rapid = 6000;
		c->rapid_turn = 3600;
		c->tool_change = 3;
		c->speed_max = 5000;
	}
	modal_begin(&s->modal, &s->profile, &s->profile.channel[turns]);
}

void steps_run(struct steps *s, const char *text)
{
	struct nc_reader *r = nc_reader_new(block, s);
	struct nc_shape shape;

	assert_non_null(r);
	s->n = 0;
	assert_int_equal(nc_reader_feed(r, text, strlen(text)), 0);
	assert_int_equal(nc_reader_finish(r, &shape), 0);
	nc_reader_free(r);
}

void steps_of(struct steps *s, bool turns, const char *text)
{
	steps_begin(s, turns);
	steps_run(s, text);
}

const struct modal_step *steps_last(const struct steps *s)
{
	assert_true(s->n > 0);
	return &s->v[s->n - 1].step;
}

unsigned steps_left(const struct steps *s)
{
	unsigned sum = 0;

	for (int i = MOTION_LEFT_NONE + 1; i < MOTION_LEFTS; i++)
		sum += s->left[i];
	return sum;
}
