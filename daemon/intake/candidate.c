/*
 * The states of a candidate, and who changes them:
 *
 *     unseen --look--> changing --look: closed or quiet--> settled --read: mark------> handed
 *                         ^  |                                |                          |
 *                         |  +--look: changed again           +--read: no mark--> open --+ quiet
 * for |                                                              | incomplete_ms
 *                         +------------------- look or read: another state <-------------+
 */
#include "candidate.h"

#define MS_NS INT64_C(1000000)

/*
 * File times come in steps: the kernel's clock tick (10 ms at the slowest), or two seconds where
 * the file system stores whole seconds only (FAT). Within one step two saves of equal length look
 * the same.
 */
#define STEP_NS (20 * MS_NS)
#define STEP_COARSE_NS (2500 * MS_NS)

bool candidate_same(const struct intake_state *a, const struct intake_state *b)
{
	if (a->ino != b->ino || a->size != b->size || a->mtime_ns != b->mtime_ns)
		return false;
	if (a->dev && b->dev && a->dev != b->dev)
		return false;
	return !a->ctime_ns || !b->ctime_ns || a->ctime_ns == b->ctime_ns;
}

static bool aged(const struct candidate *c, uint64_t ms, const struct candidate_clock *now)
{
	int64_t newest = c->seen.mtime_ns > c->seen.ctime_ns ? c->seen.mtime_ns : c->seen.ctime_ns;

	if (c->polled || ms > INT64_MAX / MS_NS)
		return false;
	return newest <= now->real_ns && now->real_ns - newest >= (int64_t)ms * MS_NS;
}

static bool quiet(const struct candidate *c, uint64_t ms, const struct candidate_clock *now)
{
	return now->loop_ms - c->since_ms >= ms || aged(c, ms, now);
}

static bool within_step(const struct intake_state *s, int64_t real_ns)
{
	int64_t step = s->ctime_ns % (1000 * MS_NS) == 0 ? STEP_COARSE_NS : STEP_NS;

	return s->ctime_ns > real_ns - step && s->ctime_ns < real_ns + step;
}

static void begin(struct candidate *c, const struct intake_state *s, uint64_t loop_ms)
{
	c->seen = *s;
	c->since_ms = loop_ms;
	c->has_seen = true;
	c->handed = c->racy = c->closed = false;
}

static enum candidate_step wait_until(struct candidate *c, uint64_t due_ms)
{
	c->due_ms = due_ms;
	return CANDIDATE_WAIT;
}

enum candidate_step candidate_look(struct candidate *c, const struct intake_state *s,
    enum candidate_cue cue, const struct candidate_clock *now, const struct candidate_rules *rules)
{
	if (!c->has_seen || !candidate_same(&c->seen, s))
		begin(c, s, now->loop_ms);
	c->seen = *s; /* completes what an earlier run did not remember */
	if (cue == CANDIDATE_CLOSED)
		c->closed = true;
	if (cue != CANDIDATE_TIMER)
		c->polled = cue == CANDIDATE_POLLED;
	if (c->handed) {
		if (!c->racy || cue == CANDIDATE_TIMER || cue == CANDIDATE_FOUND)
			return CANDIDATE_REST;
		c->handed = c->racy = false;
	}
	if (!c->closed && !quiet(c, rules->settle_ms, now))
		return wait_until(c, c->since_ms + rules->settle_ms);
	return CANDIDATE_READ;
}

enum candidate_step candidate_read(struct candidate *c, const struct intake_state *s, bool marked,
    const struct candidate_clock *now, const struct candidate_rules *rules)
{
	if (!candidate_same(&c->seen, s)) {
		begin(c, s, now->loop_ms);
		return wait_until(c, now->loop_ms + rules->settle_ms);
	}
	if (!marked && !quiet(c, rules->incomplete_ms, now))
		return wait_until(c, c->since_ms + rules->incomplete_ms);
	c->handed = true;
	c->racy = within_step(s, now->real_ns);
	return marked ? CANDIDATE_HAND_OVER : CANDIDATE_INCOMPLETE;
}

void candidate_reopen(struct candidate *c, uint64_t loop_ms, uint64_t after_ms)
{
	c->handed = c->racy = c->closed = false;
	c->due_ms = loop_ms + after_ms;
}

void candidate_known(struct candidate *c, const struct intake_state *s)
{
	begin(c, s, 0);
	c->handed = true;
}
