#include "program_plain.h"

#include <stdlib.h>
#include <string.h>
#include "program_state.h"

#define BIT(letter) ((uint32_t)1 << ((letter) - 'A'))

/* Whose numbers want a decimal point: as in rules_word.c, less what only some blocks are asked. */
static const uint32_t wanting = BIT('X') | BIT('Y') | BIT('Z') | BIT('U') | BIT('V') | BIT('W') |
                                BIT('A') | BIT('B') | BIT('C') | BIT('I') | BIT('J') | BIT('K') |
                                BIT('R');

/* M and O always mean something; so does what some channel forbids, other G codes than G0 to G3
 * apart, which are never plain. */
static uint32_t letters(const struct profile *profile)
{
	uint32_t all = ((uint32_t)1 << 26) - 1;

	all &= ~(BIT('M') | BIT('O'));
	for (uint32_t c = 0; c < profile->channels; c++) {
		const struct profile_channel *channel = &profile->channel[c];

		for (uint32_t k = 0; k < channel->forbids; k++) {
			const char *word = channel->forbid[k];
			bool other = word[0] == 'G' && word[1] && strtoul(word + 1, NULL, 10) > 3;

			if (word[0] >= 'A' && word[0] <= 'Z' && !other)
				all &= ~BIT(word[0]);
		}
	}
	return all;
}

void program_plain_begin(struct program *p)
{
	p->plain.letters = letters(p->profile);
	p->plain.block_max = p->profile->block_max;
	p->plain.sequence_max = p->profile->sequence_max;
}

/*
 * Before the first motion a header is looked for; behind the end and the closing % every block is
 * told; after G66 motion may call.
 */
void program_plain_allow(struct program *p)
{
	const struct file_state *s = &p->state;
	bool allowed =
	    p->motion && !wait_flow_whole(p->flow) && !s->close_line && (!s->end.line || s->sub);
	uint32_t points = !p->profile->point_required ? 0 : wanting | (p->per_turn ? BIT('F') : 0);

	if (allowed == p->plain_on && points == p->plain.points)
		return;
	p->plain_on = allowed;
	p->plain.points = points;
	nc_reader_allow(p->reader, allowed ? &p->plain : NULL);
}

/* Mixed eight bytes at a time (the multiplier is that of Knuth's 64-bit linear generator). */
static inline uint64_t mix(uint64_t h, uint64_t v)
{
	h = (h ^ v) * 6364136223846793005u;
	return h ^ h >> 32;
}

/* Blocks are mixed apart from each other, so that the processor may work on several at once. */
static inline uint64_t print(uint64_t h, const char *s, size_t n)
{
	uint64_t one = n, v = 0;

	if (n >= 8) {
		for (size_t i = 0; i + 8 < n; i += 8) {
			memcpy(&v, s + i, 8);
			one = mix(one, v);
		}
		memcpy(&v, s + n - 8, 8);
	} else {
		for (size_t i = 0; i < n; i++)
			v = v << 8 | (unsigned char)s[i];
	}
	return mix(h, mix(one, v));
}

void program_plain_print(struct program *p, const char *text, size_t n)
{
	p->print = print(p->print, text, n);
}

int program_plain_run(void *ctx, const struct nc_plain *run)
{
	struct program *p = ctx;
	uint64_t last = run->line + run->blocks - 1, h = p->print;

	for (size_t i = 0; i < run->blocks; i++)
		h = print(h, run->text + run->block[i].at, run->block[i].length);
	p->print = h;
	p->state.texts += run->blocks;
	p->state.last_line = last;
	p->last_wait = (struct place){0};
	return wait_flow_plain(p->flow, run->first, run->step, run->blocks, last);
}
