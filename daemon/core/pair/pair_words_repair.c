/* What to do about a run that fails. */
#include "pair_rungs.h"
#include "pair_state.h"
#include "pair_words.h"

/* Where in channel i a code is to be added: behind the last meeting, before where it stands now. */
static void between(const struct pair_report *r, int i, uint64_t before, struct text *t)
{
	uint64_t after = 0;

	for (size_t k = 0; k + 1 < r->result.rungs; k++)
		if (r->result.rung[k].channel[i].code && r->result.rung[k].channel[i].takes_part)
			after = r->result.rung[k].channel[i].code->at.line;
	if (after && before > after)
		text_printf(t, " between line %llu and line %llu", (unsigned long long)after,
		    (unsigned long long)before);
	else if (before)
		text_printf(t, " before line %llu", (unsigned long long)before);
	else
		text_printf(t, " behind line %llu", (unsigned long long)after);
}

/* The code that one channel skips has a slash in its mate too: separate switches part them. */
static bool both_skipped(const struct pair_report *r)
{
	const struct wait_rung *rung = pair_words_failed_rung(r);
	const struct wait_code *code = rung->channel[r->result.channel_b].code;

	return code && code->skip > 0;
}

/* A code by its number, as people write it. */
static const char *code_name(const struct pair_report *r, uint32_t code, char s[32])
{
	struct wait_code c = {.code = code};

	c.call = r->profile->wait_call[0] && !profile_is_wait(r->profile, code);
	pair_rungs_code(r->profile, &c, s, 32);
	return s;
}

static void repair_branch(const struct pair_report *r, struct text *t)
{
	const struct wait_result *w = &r->result;
	int a = r->of[w->channel_a], b = r->of[w->channel_b];
	char code[32];

	if (w->code_a)
		text_printf(t, "move %s of %s out of the branch at ", code_name(r, w->code_a, code),
		    lane_name(r, a));
	else
		text_printf(t, "let %s meet %s whichever way the condition in ", lane_name(r, a),
		    code_name(r, w->code_b, code));
	pair_words_line(r, a, &w->place_a, t);
	if (w->code_a)
		text_printf(t, ", or let %s meet it too", lane_name(r, b));
	else
		text_puts(t, " goes");
}

/* The mistakes that concern a code as such. */
static void repair_code(const struct pair_report *r, struct text *t)
{
	const struct wait_result *w = &r->result;
	int lane_a = r->of[w->channel_a], lane_b = r->of[w->channel_b];
	const char *a = lane_name(r, lane_a), *b = lane_name(r, lane_b);
	char code_a[32], code_b[32];

	code_name(r, w->code_a, code_a);
	code_name(r, w->code_b, code_b);
	switch (w->repair) {
	case FINDING_WAIT_MISSING:
		text_printf(t, "add %s to %s", code_b, a);
		between(r, w->channel_a, w->place_a.line, t);
		break;
	case FINDING_WAIT_DOUBLED:
		text_printf(t, "remove %s in ", code_a);
		pair_words_line(r, lane_a, &w->place_a, t);
		text_printf(t, " of %s", a);
		break;
	case FINDING_WAIT_SWAPPED:
		text_printf(t, "put %s and %s of %s (", code_a, code_b, a);
		pair_words_line(r, lane_a, &w->place_a, t);
		text_printf(t, ") into the order of %s (", b);
		pair_words_line(r, lane_b, &w->place_b, t);
		text_putc(t, ')');
		break;
	case FINDING_WAIT_AFTER_END:
		text_printf(t, "move %s in ", code_a);
		pair_words_line(r, lane_a, &w->place_a, t);
		text_printf(t, " of %s before the program end", a);
		break;
	default:
		text_printf(t, "write %s in place of %s in ", code_b, code_a);
		pair_words_line(r, lane_a, &w->place_a, t);
		text_printf(t, " of %s, if %s is right", a, b);
	}
}

/* Both places, as "upper line 4 and lower line 5". */
static void places(const struct pair_report *r, struct text *t)
{
	const struct wait_result *w = &r->result;

	text_printf(t, "%s ", lane_name(r, r->of[w->channel_a]));
	pair_words_line(r, r->of[w->channel_a], &w->place_a, t);
	text_printf(t, " and %s ", lane_name(r, r->of[w->channel_b]));
	pair_words_line(r, r->of[w->channel_b], &w->place_b, t);
}

void pair_words_repair(const struct pair_report *r, struct text *t)
{
	const struct wait_result *w = &r->result;
	char code[32];

	if (!pair_words_failed_rung(r))
		return;
	text_puts(t, "likeliest repair: ");
	switch (w->repair) {
	case FINDING_WAIT_SKIPPED:
		text_printf(t,
		    both_skipped(r) ? "take the slash off %s in both programs, "
		                    : "give %s the same slash in both programs, ",
		    code_name(r, w->code_b, code));
		places(r, t);
		break;
	case FINDING_END_DIFFERS:
		text_puts(t, "end the programs alike, all with M99 or all with M30");
		break;
	case FINDING_WAIT_BRANCH:
		repair_branch(r, t);
		break;
	case FINDING_WAIT_REPEATS:
		text_printf(t, "repeat alike: %s meets %s %llu time%s and %s %llu time%s, ",
		    lane_name(r, r->of[w->channel_a]), code_name(r, w->code_a, code),
		    (unsigned long long)w->times_a, w->times_a == 1 ? "" : "s",
		    lane_name(r, r->of[w->channel_b]), (unsigned long long)w->times_b,
		    w->times_b == 1 ? "" : "s");
		places(r, t);
		break;
	case FINDING_WAIT_PARTNERS:
		text_printf(t, "name the same channels with %s in all programs, ",
		    code_name(r, w->code_a, code));
		places(r, t);
		break;
	case FINDING_LOOP_ENDLESS:
		text_printf(t, "correct the loop in ");
		pair_words_line(r, r->of[w->channel_a], &w->place_a, t);
		text_printf(t, " of %s: its condition, or what it counts",
		    lane_name(r, r->of[w->channel_a]));
		break;
	default:
		repair_code(r, t);
	}
}
