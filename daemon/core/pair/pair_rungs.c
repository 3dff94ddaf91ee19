#include <stdio.h>
#include <string.h>
#include "pair_state.h"
#include "pair_rungs.h"
#include "pair_words.h"

static enum pair_rung_kind kind(const struct pair_report *r, const struct wait_rung *rung)
{
	bool signal = false, over = true;

	for (size_t i = 0; i < r->programs; i++) {
		const struct wait_stop *stop = &rung->channel[i];

		over &= stop->at_end || stop->at_round;
		signal |= stop->takes_part && stop->code && stop->code->kind != WAIT_CODE_MEET;
	}
	if (rung->meets)
		return over ? PAIR_RUNG_ENDED : signal ? PAIR_RUNG_SIGNAL : PAIR_RUNG_MEETING;
	return pair_words_failed_rung(r) ? PAIR_RUNG_FAILED : PAIR_RUNG_LOST;
}

const char *pair_rungs_file(const struct program *p, uint32_t file)
{
	return file && file <= p->sisters ? p->sister[file - 1]->file : p->file;
}

void pair_rungs_code(
    const struct profile *profile, const struct wait_code *code, char *s, size_t size)
{
	if (code->call)
		snprintf(s, size, "%s %u", profile->wait_call, (unsigned)code->code);
	else
		snprintf(s, size, "M%u", (unsigned)code->code);
}

size_t pair_rungs(const struct pair_report *r)
{
	return r->proved ? r->result.rungs : 0;
}

void pair_rung(const struct pair_report *r, size_t i, struct pair_rung *out)
{
	const struct wait_rung *rung = &r->result.rung[i];

	*out = (struct pair_rung){.repeat = rung->repeat, .kind = kind(r, rung), .number = i};
	for (size_t k = 0; k < i; k++)
		out->number += r->result.rung[k].repeat;
	for (size_t k = 0; k < r->programs; k++) {
		const struct wait_stop *stop = &rung->channel[k];
		struct pair_stop *to = &out->channel[r->of[k]];

		to->at_end = stop->at_end;
		to->begins = stop->at_round;
		to->goes = stop->takes_part;
		to->present = stop->at_end || stop->at_round || stop->code;
		to->sequence = -1;
		if (!stop->code)
			continue;
		pair_rungs_code(r->profile, stop->code, to->code, sizeof(to->code));
		to->file = pair_rungs_file(r->lane[r->of[k]].program, stop->code->at.file);
		to->line = stop->code->at.line;
		to->col = stop->code->at.col;
		to->sequence = stop->code->at.sequence;
	}
}
