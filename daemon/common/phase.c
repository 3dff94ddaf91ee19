#include "phase.h"

static const char *const name[CARRY_PHASE_COUNT] = {
#define X(id, name, text) [CARRY_PHASE_##id] = name,
    CARRY_PHASE_LIST(X)
#undef X
};

static const char *const text_of[CARRY_PHASE_COUNT] = {
#define X(id, name, text) [CARRY_PHASE_##id] = text,
    CARRY_PHASE_LIST(X)
#undef X
};

static const char *const with_word[CARRY_PHASE_COUNT] = {
    [CARRY_PHASE_WAIT] =
        "waiting for the control: set it to read; the stream says which channel it is for",
    [CARRY_PHASE_FEED_WAIT] = "waiting for the control: set it to execute while it reads; the "
                              "stream says which channel it is for",
    [CARRY_PHASE_PUNCH] = "waiting for the control to punch the programs of this channel",
};

const char *phase_name(uint32_t phase)
{
	return name[phase];
}

const char *phase_text(uint32_t phase, const struct line *line)
{
	if (line && line->kind == LINE_SERIAL && *line->serial.channel_word && with_word[phase])
		return with_word[phase];
	return text_of[phase];
}
