#include "serial_send_inside.h"

void serial_send_clock(struct serial_send *s, uint64_t now)
{
	uint64_t since = now > s->origin ? min_of(now - s->origin, SERIAL_PACE_MS_MAX) : 0;

	s->now = max_of(s->now, since);
}

uint64_t serial_send_nominal(const struct serial_send *s)
{
	uint64_t characters =
	    s->text.characters - s->text.character + serial_pace_below(&s->pace, s->now);
	uint64_t blocks = s->text.blocks - s->text.block;
	uint64_t pauses = (s->text.characters - s->text.character) * s->char_pause +
	                  blocks * (s->block_pause - s->char_pause);

	return min_of(
	    serial_pace_line_ms(s->baud, s->framing, characters) + pauses, SERIAL_PACE_MS_MAX);
}

void serial_send_outcome(const struct serial_send *s, struct serial_send_outcome *outcome)
{
	*outcome = (struct serial_send_outcome){
	    .state = s->state,
	    .reason = s->reason,
	    .bytes = s->text.at - s->text.begin,
	    .total = s->text.end - s->text.begin,
	    .block = s->text.block,
	    .blocks = s->text.blocks,
	    .characters = s->text.character,
	    .held_ms = s->held_ms,
	    .holds = s->holds,
	    .after_dc3 = s->after_dc3,
	    .other = s->other,
	    .held = s->brake.dc3,
	    .cut_tail = s->cut,
	};
	if (s->state == SERIAL_SEND_HELD)
		outcome->held_ms += s->now - s->held_since;
}

void serial_send_progress(
    struct serial_send *s, uint64_t now, struct serial_send_progress *progress)
{
	uint64_t below, left, gone;

	serial_send_clock(s, now);
	below = serial_pace_below(&s->pace, s->now);
	left = s->text.characters - s->text.character + below;
	gone = s->text.character > below ? s->text.character - below : 0;
	*progress = (struct serial_send_progress){
	    .state = s->state,
	    .bytes = s->text.at - s->text.begin,
	    .total = s->text.end - s->text.begin,
	    .block = s->text.block,
	    .blocks = s->text.blocks,
	};
	if (is_final(s))
		return;
	progress->left_ms = serial_send_nominal(s);
	if (gone > 0 && s->state != SERIAL_SEND_WAITING) {
		/* Three days are enough to judge a pace by, and keep the product in range. */
		uint64_t elapsed = min_of(s->now - s->started, (uint64_t)1 << 28);

		progress->left_ms = max_of(progress->left_ms, elapsed * left / gone);
	}
}
