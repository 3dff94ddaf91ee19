#include "channels.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

void channels_begin(struct channels *c)
{
	memset(c, 0, sizeof *c);
	c->profile.channels = 2;
	c->profile.wait[0] = (struct profile_range){200, 299};
	c->profile.waits = 1;
	c->profile.call_depth = 4;
	c->profile.run_max = 10000000;
	c->profile.number_max = 9999;
	c->profile.partners_letter = 'P';
	for (int i = 0; i < FINDING_COUNT; i++)
		c->profile.weight[i] = finding_weight((enum finding_id)i);
}

static int take(void *ctx, const struct nc_block *b)
{
	return wait_flow_block(ctx, b);
}

void channels_add(struct channels *c, const char *text)
{
	struct wait_flow *f = wait_flow_new(&c->profile);
	struct nc_reader *r = nc_reader_new(take, f);
	struct nc_shape shape;

	assert_non_null(f);
	assert_non_null(r);
	assert_int_equal(nc_reader_feed(r, text, strlen(text)), 0);
	assert_int_equal(nc_reader_finish(r, &shape), 0);
	nc_reader_free(r);
	assert_int_equal(
	    wait_flow_finish(f, &c->findings, c->n ? "job.lo" : "job.up", (int)c->n, false), 0);
	c->flow[c->n++] = f;
}

void channels_prove(struct channels *c)
{
	static const int number[] = {0, 1, 2, 3};

	assert_int_equal(wait_prove(&c->profile, c->flow, number, c->n, &c->result), 0);
}

void channels_end(struct channels *c)
{
	wait_result_free(&c->result);
	findings_free(&c->findings);
	for (size_t i = 0; i < c->n; i++)
		wait_flow_free(c->flow[i]);
}

enum verdict channels_two(struct channels *c, const char *upper, const char *lower)
{
	channels_begin(c);
	channels_add(c, upper);
	channels_add(c, lower);
	channels_prove(c);
	return c->result.verdict;
}

unsigned channels_seen(const struct channels *c, enum finding_id id)
{
	return c->findings.seen[id];
}

const char *channels_rungs(const struct channels *c)
{
	static char s[4096];
	size_t n = 0;

	s[0] = '\0';
	for (size_t i = 0; i < c->result.rungs && n < sizeof s - 64; i++) {
		const struct wait_rung *r = &c->result.rung[i];
		for (size_t k = 0; k < c->n; k++) {
			const struct wait_stop *stop = &r->channel[k];
			n += (size_t)snprintf(s + n, sizeof s - n, "%s", k ? "/" : i ? " " : "");
			if (stop->code)
				n += (size_t)snprintf(s + n, sizeof s - n, "%u", stop->code->code);
			else
				n +=
				    (size_t)snprintf(s + n, sizeof s - n, stop->at_end ? "." : "?");
		}
		if (!r->meets)
			n += (size_t)snprintf(s + n, sizeof s - n, "!");
		if (r->repeat)
			n += (size_t)snprintf(
			    s + n, sizeof s - n, "+%llu", (unsigned long long)r->repeat);
	}
	return s;
}
