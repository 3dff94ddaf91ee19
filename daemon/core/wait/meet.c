#include "meet.h"

#include <string.h>

enum { SIGNALS_OF_A_KIND = 1 << 20 };

static uint32_t machine(const struct profile *profile)
{
	return (1u << profile->channels) - 1;
}

uint32_t wait_meet_partners(const struct profile *profile, const struct wait_code *code, int number)
{
	return (code->partners ? code->partners : machine(profile)) | 1u << number;
}

/* The i-th code of some ranges is the i-th of others: codes that send and codes that receive belong
 * to each other so. 0 when there is none. */
static uint32_t counterpart(const struct profile_range *from, uint32_t froms,
    const struct profile_range *to, uint32_t tos, uint32_t code)
{
	uint32_t i = 0, before = 0;

	while (i < froms && (code < from[i].low || code > from[i].high)) {
		before += from[i].high - from[i].low + 1;
		i++;
	}
	if (i == froms)
		return 0;
	before += code - from[i].low;
	for (uint32_t k = 0; k < tos; k++) {
		uint32_t n = to[k].high - to[k].low + 1;

		if (before < n)
			return to[k].low + before;
		before -= n;
	}
	return 0;
}

static uint32_t receiver(const struct profile *profile, uint32_t send)
{
	return counterpart(
	    profile->send, profile->sends, profile->receive, profile->receives, send);
}

uint32_t wait_meet_sender(const struct profile *profile, uint32_t receive)
{
	return counterpart(
	    profile->receive, profile->receives, profile->send, profile->sends, receive);
}

/* Where the signals of this kind are, or belong. */
static size_t find(const struct wait_signals *s, uint32_t code, int channel)
{
	size_t i = 0;

	while (i < s->n &&
	       (s->v[i].code < code || (s->v[i].code == code && s->v[i].channel < channel)))
		i++;
	return i;
}

static bool is_at(const struct wait_signals *s, size_t i, uint32_t code, int channel)
{
	return i < s->n && s->v[i].code == code && s->v[i].channel == channel;
}

static void add(struct wait_signals *s, uint32_t code, int channel)
{
	size_t i = find(s, code, channel);

	if (is_at(s, i, code, channel)) {
		if (s->v[i].count == SIGNALS_OF_A_KIND)
			s->full = true;
		else
			s->v[i].count++;
		return;
	}
	if (s->n == WAIT_SIGNALS_MAX) {
		s->full = true;
		return;
	}
	memmove(&s->v[i + 1], &s->v[i], (s->n - i) * sizeof s->v[0]);
	s->v[i] = (struct wait_signal){.code = code, .channel = (uint8_t)channel, .count = 1};
	s->n++;
}

static bool use(struct wait_signals *s, uint32_t code, int channel)
{
	size_t i = find(s, code, channel);

	if (!is_at(s, i, code, channel))
		return false;
	if (--s->v[i].count == 0) {
		s->n--;
		memmove(&s->v[i], &s->v[i + 1], (s->n - i) * sizeof s->v[0]);
	}
	return true;
}

bool wait_meet_same(const struct profile *profile, const struct wait_code *a, int number_a,
    const struct wait_code *b, int number_b)
{
	return a->kind == b->kind && a->code == b->code && a->call == b->call &&
	       wait_meet_partners(profile, a, number_a) == wait_meet_partners(profile, b, number_b);
}

/* Everybody that i's code names stands at the same code and names the same channels. */
static uint32_t together(const struct profile *profile, const struct wait_code *const *code,
    size_t n, const int *number, size_t i)
{
	uint32_t partners = wait_meet_partners(profile, code[i], number[i]);
	uint32_t set = 0;

	for (size_t k = 0; k < n; k++) {
		if (!(partners >> number[k] & 1))
			continue;
		if (!code[k] || !wait_meet_same(profile, code[i], number[i], code[k], number[k]))
			return 0;
		set |= 1u << k;
	}
	return set;
}

static void send(const struct profile *profile, const struct wait_code *code, size_t n,
    const int *number, size_t i, struct wait_signals *signals)
{
	uint32_t partners = wait_meet_partners(profile, code, number[i]);
	uint32_t receive = receiver(profile, code->code);

	if (!receive)
		return;
	for (size_t k = 0; k < n; k++)
		if (k != i && partners >> number[k] & 1)
			add(signals, receive, number[k]);
}

uint32_t wait_meet(const struct profile *profile, const struct wait_code *const *code, size_t n,
    const int *number, struct wait_signals *signals)
{
	uint32_t set;

	/* What uses up signals goes before what sends them: fewer are under way. */
	for (size_t i = 0; i < n; i++)
		if (code[i] && code[i]->kind == WAIT_CODE_RECEIVE &&
		    use(signals, code[i]->code, number[i]))
			return 1u << i;
	for (size_t i = 0; i < n; i++) {
		if (!code[i] || code[i]->kind != WAIT_CODE_MEET)
			continue;
		set = together(profile, code, n, number, i);
		if (set)
			return set;
	}
	for (size_t i = 0; i < n; i++) {
		if (!code[i] || code[i]->kind != WAIT_CODE_SEND)
			continue;
		send(profile, code[i], n, number, i, signals);
		return 1u << i;
	}
	return 0;
}
