#include "drip.h"

#include <stdio.h>
#include <string.h>
#include "exam.h"

const char drip_cancelling[] =
    "the control stops when its buffer, and that of a device server, is empty: in the middle of the "
    "program, perhaps in the middle of a cut; feed hold at the control is quicker";

bool drip_is(const struct vault_order *o)
{
	return !strcmp(o->act, "drip");
}

bool drip_begun(const struct vault_order *o)
{
	return drip_is(o) && *o->step;
}

int drip_line(const struct service_machine *m, uint32_t channel, char *why, size_t n)
{
	const struct line *line = &m->conf->line[channel];

	if (line->kind == LINE_SERIAL && line->serial.drip != LINE_DRIP_NO)
		return 0;
	if (line->kind == LINE_SERIAL)
		snprintf(why, n,
		    "machine %s, channel %s: 'drip = no' in its [line] section: it is not known "
		    "that the control executes a program while it reads it; the machine builder's "
		    "manual decides whether it may be 'alone' or 'waits'",
		    m->conf->name, m->conf->profile.channel[channel].name);
	else
		snprintf(why, n,
		    "machine %s %s: a control executes while it reads over a serial line alone",
		    m->conf->name,
		    line_is_share(line->kind)  ? "has a share"
		    : line->kind == LINE_STICK   ? "gets its programs by stick"
		                                 : "has no line");
	return -1;
}

int drip_may(struct service *s, const struct service_machine *m, const char *channel,
    const struct sha *sha, bool *meets, char *why, size_t n)
{
	const struct profile *profile = &m->conf->profile;
	int c = profile_channel_find(profile, channel, strlen(channel));
	struct text said = {0}, ignored = {0};
	struct program *p;
	bool waits, may;

	if (c < 0) {
		snprintf(why, n, "machine %s has no channel %s", m->conf->name, channel);
		return 0;
	}
	if (drip_line(m, (uint32_t)c, why, n))
		return 0;
	p = exam_program(s->vault, profile, channel, sha);
	if (!p) {
		snprintf(why, n, "the program of %s cannot be read from the vault: %s", channel,
		    vault_error(s->vault));
		return -1;
	}
	waits = m->conf->line[c].serial.drip == LINE_DRIP_WAITS;
	may = program_drips(p, waits, &said);
	*meets = may && waits && !program_drips(p, false, &ignored);
	if (!may)
		snprintf(why, n,
		    "the program of %s cannot be executed while it is read: %s", channel,
		    said.s ? said.s : "memory ran out");
	program_free(p);
	text_free(&said);
	text_free(&ignored);
	return may;
}

/* Whether the machine is known to hold the pair's program in this channel. */
static bool holds(const struct vault_machine *held, const struct vault_part *part)
{
	for (uint32_t i = 0; held->content == VAULT_LOADED && !held->drift && i < held->parts; i++)
		if (!strcmp(held->part[i].channel, part->channel))
			return held->part[i].present &&
			       !memcmp(&held->part[i].sha, &part->sha, sizeof(part->sha));
	return false;
}

/* Its wait codes were proved against the programs of one pair, and no others. */
static void mates(const struct vault_pair *pair, const char *channel,
    const struct vault_machine *held, struct text *out)
{
	for (uint32_t i = 0; i < pair->parts; i++) {
		const struct vault_part *part = &pair->part[i];

		if (!strcmp(part->channel, channel))
			continue;
		text_printf(out,
		    " It meets wait codes, which agree with the program of %s of this pair and with "
		    "no other: %s.",
		    part->channel,
		    holds(held, part)
		        ? "that one was carried there last, make sure that it is selected"
		        : "that one was NOT what was carried there last, make sure that it is "
		          "there and selected before the first block");
	}
}

void drip_caution(const struct vault_pair *pair, const char *channel, bool meets,
    const struct vault_machine *held, struct text *out)
{
	text_puts(out,
	    "Drip feed: the control executes the program while it reads it, and stores nothing. "
	    "Prove it out: single block, rapid override low, guard closed, hand at feed hold. Check "
	    "work offsets and tool offsets of both channels.");
	if (meets)
		mates(pair, channel, held, out);
	text_puts(out,
	    " A line that breaks, or is held, stops the axes in the middle of a cut, at any block. "
	    "After a stop never begin in the middle without the setter's decision: `yoke restart` "
	    "shows where both channels can be picked up. If the control was set to read into its "
	    "memory instead, what it holds is not known: `yoke fetch` tells. Follow the machine "
	    "builder's manual, the shop's rules and local regulations; trained and authorised "
	    "persons only.");
}

void drip_stopped(const char *channel, char *text, size_t n)
{
	snprintf(text, n,
	    "channel %s stops when its buffer is empty, perhaps in the middle of a cut; it executes "
	    "no more than what has left here, and which of the last blocks were executed its screen "
	    "tells; nothing is begun again by itself; where to pick up is the setter's decision "
	    "(`yoke restart`, and its caution)",
	    channel);
}

void drip_goes_on(const struct service_machine *m, char *text, size_t n)
{
	*text = '\0';
	if (!m->carrying.id || m->carrying.act != CARRY_DRIP || !m->granted)
		return;
	snprintf(text, n,
	    "order %llu goes on: the control executes what it reads; a lock does not stop it. `yoke "
	    "cancel %llu` ends it: %s",
	    (unsigned long long)m->carrying.id, (unsigned long long)m->carrying.id,
	    drip_cancelling);
}
