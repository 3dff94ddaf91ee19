#include "clock.h"

#include <stdio.h>
#include <time.h>

/* Less than this is slewing, or a loop that was held up between two looks. */
#define STEP_US 5000000

static int64_t now_us(clockid_t which)
{
	struct timespec t;

	clock_gettime(which, &t);
	return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* "1 d 2 h 3 min 4 s", without what is nothing. */
static void put_span(char *out, size_t n, int64_t us)
{
	static const struct {
		int64_t s;
		const char *unit;
	} units[] = {{86400, "d"}, {3600, "h"}, {60, "min"}, {1, "s"}};
	int64_t s = (us + 500000) / 1000000;
	size_t at = 0;

	*out = 0;
	for (size_t i = 0; i < 4 && at < n; i++) {
		if (s < units[i].s)
			continue;
		at += (size_t)snprintf(out + at, n - at, "%s%lld %s", at ? " " : "",
		    (long long)(s / units[i].s), units[i].unit);
		s %= units[i].s;
	}
}

static int take_time(void *ctx, const struct event *e, const struct sha *hash)
{
	*(int64_t *)ctx = e->utc_us;
	return 0;
}

int clock_behind(struct service *s, int64_t *behind_us)
{
	struct vault_filter newest = {.limit = 1};
	int64_t last = INT64_MIN, now = now_us(CLOCK_REALTIME);

	*behind_us = 0;
	if (vault_events(s->vault, &newest, take_time, &last) < 0)
		return -1;
	if (last > now && last - now > STEP_US)
		*behind_us = last - now;
	return 0;
}

int clock_tell_behind(struct service *s, int64_t behind_us)
{
	char span[100], text[300];
	struct vault_about about = {.outcome = "back", .text = text};

	put_span(span, sizeof(span), behind_us);
	snprintf(text, sizeof(text),
	    "the clock is %s behind the last entry of the trail: it was set back, or was wrong then",
	    span);
	fprintf(stderr, "yoked: %s\n", text);
	return ledger_record(s->ledger, EVENT_CLOCK_STEPPED, "service", "service", &about) ? 0 : -1;
}

static void tell(struct service *s, int64_t step_us, int64_t now)
{
	char span[100], before[32], text[300];
	struct vault_about about = {.outcome = step_us < 0 ? "back" : "forward", .text = text};

	put_span(span, sizeof(span), step_us < 0 ? -step_us : step_us);
	ledger_time(now - step_us, before);
	snprintf(text, sizeof(text), "the clock was set %s by %s; it would be %s",
	    step_us < 0 ? "back" : "forward", span, before);
	fprintf(stderr, "yoked: %s\n", text);
	ledger_record(s->ledger, EVENT_CLOCK_STEPPED, "service", "service", &about);
}

void clock_pulse(struct service *s)
{
	/* It goes on while the computer sleeps. */
	int64_t now = now_us(CLOCK_REALTIME), ahead = now - now_us(CLOCK_BOOTTIME);
	int64_t step = ahead - s->clock.ahead_us;

	if (s->clock.known && (step > STEP_US || step < -STEP_US))
		tell(s, step, now);
	s->clock.ahead_us = ahead;
	s->clock.known = true;
}
