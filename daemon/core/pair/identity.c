#include <stdlib.h>
#include <string.h>
#include "identity.h"
#include "profile_value.h"
#include "program_state.h"

static const char allowed[] = "allowed are up to 64 letters, digits and _ - + . #";

static bool usable_byte(char c)
{
	char u = profile_value_upper(c);

	return (u >= 'A' && u <= 'Z') || (c >= '0' && c <= '9') || (c && strchr("_-+.#", c));
}

static void take_value(struct identity_value *v, const struct pattern_value *from)
{
	if (!from->s)
		return;
	v->given = true;
	v->usable = from->n <= YOKE_NAME_MAX && from->s[0] != '.';
	for (size_t i = 0; i < from->n && i < YOKE_NAME_MAX; i++) {
		char c = from->s[i];

		if (!usable_byte(c))
			v->usable = false;
		v->s[i] = (unsigned char)c >= 0x20 && (unsigned char)c < 0x7f
		              ? profile_value_upper(c)
		              : '.';
	}
}

static void take(struct identity_source *s, const struct pattern_match *m)
{
	s->matched = true;
	for (int i = 0; i < PATTERN_FIELDS; i++)
		take_value(&s->field[i], &m->field[i]);
}

void identity_begin(struct identity *id, const struct profile *profile, const char *file)
{
	struct pattern_match m;

	*id = (struct identity){.channel = -1};
	if (pattern_name(profile->names, file, &m))
		take(&id->name, &m);
}

/* Cut the next comment out of a block: its inside, without parentheses. False when there is none.
 */
static bool next_comment(const char **s, const char *end, const char **inside, size_t *n)
{
	const char *open = *s, *close;

	while (open < end && *open != '(' && *open != ';')
		open++;
	if (open == end)
		return false;
	*inside = open + 1;
	close = *open == '(' ? memchr(open, ')', (size_t)(end - open)) : end;
	if (!close)
		close = end;
	*n = (size_t)(close - *inside);
	*s = close < end ? close + 1 : end;
	return true;
}

void identity_block(
    struct identity *id, const struct profile *profile, const struct nc_block *b, bool motion)
{
	const char *s = b->text, *inside;
	const char *end = s + (b->length < IDENTITY_BYTES ? b->length : IDENTITY_BYTES);
	struct pattern_match m;
	size_t n;

	if (id->done)
		return;
	while (next_comment(&s, end, &inside, &n)) {
		if (!pattern_header(profile->header, inside, n, &m))
			continue;
		take(&id->header, &m);
		id->header.line = b->line;
		id->header.col = (uint32_t)(inside - b->text);
		break;
	}
	id->blocks++;
	id->done = id->header.matched || motion || id->blocks >= IDENTITY_BLOCKS;
}

/*
 * One value from both sources: the header's, else the name's. unknown and differs are told for p.
 * Returns the value or NULL.
 */
static const struct identity_value *settle(struct program *p, enum pattern_field field,
    enum finding_id unknown, enum finding_id differs, const char *what)
{
	const struct identity_source *source[2] = {&p->identity.header, &p->identity.name};
	const struct identity_value *have[2] = {0};
	struct finding_place at = {-1, p->file, p->identity.header.line, p->identity.header.col};
	bool told = false;

	for (int i = 0; i < 2; i++) {
		const struct identity_value *v = &source[i]->field[field];

		if (v->usable) {
			have[i] = v;
		} else if (v->given) {
			at.line = source[i]->line;
			at.col = source[i]->col;
			findings_add(&p->findings, p->profile->weight, unknown, &at, "",
			    "%s gives %s '%s'; %s", i ? "file name" : "header comment", what, v->s,
			    allowed);
			told = true;
		}
	}
	if (have[0] && have[1] && strcmp(have[0]->s, have[1]->s) != 0)
		findings_add(&p->findings, p->profile->weight, differs, &at,
		    "find out which is right, then correct the name or the header",
		    "file name says %s %s, header comment says %s", what, have[1]->s, have[0]->s);
	if (!have[0] && !have[1] && !told) {
		at.line = 0;
		at.col = 0;
		findings_add(&p->findings, p->profile->weight, unknown, &at,
		    "name the file by 'names' or write the comment by 'header' of the profile",
		    "%s unknown: neither the file name (%s) nor a header comment %s gives it", what,
		    p->profile->names, p->profile->header);
	}
	return have[0] ? have[0] : have[1];
}

/* The channels and how each may be written, for a message. */
static char *channel_list(const struct profile *profile)
{
	struct text t = {0};

	for (uint32_t i = 0; i < profile->channels; i++) {
		const struct profile_channel *c = &profile->channel[i];

		text_printf(&t, "%s%s", i ? "; " : "", c->name);
		for (uint32_t k = 0; k < c->aliases; k++)
			text_printf(&t, "%s%s", k ? ", " : " or ", c->alias[k]);
	}
	return text_take(&t);
}

/* The channel that one source names, -1 without; -2 when it names none of the machine. */
static int source_channel(struct program *p, const struct identity_source *s, const char *who)
{
	const struct identity_value *v = &s->field[PATTERN_CHANNEL];
	char *list;
	int channel;

	if (!v->given)
		return -1;
	channel = profile_channel_find(p->profile, v->s, strlen(v->s));
	if (channel >= 0)
		return channel;
	list = channel_list(p->profile);
	if (!list) {
		p->findings.failed = true;
		return -2;
	}
	PROGRAM_TELL(p, CHANNEL_UNKNOWN, s->line, s->col, "",
	    "%s gives channel '%s'; the channels are %s", who, v->s, list);
	free(list);
	return -2;
}

static void settle_channel(struct program *p)
{
	struct identity *id = &p->identity;
	int header = source_channel(p, &id->header, "header comment");
	int name = source_channel(p, &id->name, "file name");

	if (header >= 0 && name >= 0 && header != name) {
		PROGRAM_TELL(p, CHANNEL_DIFFERS, id->header.line, id->header.col,
		    "find out which is right, then correct the name or the header",
		    "file name says channel %s, header comment says %s",
		    p->profile->channel[name].name, p->profile->channel[header].name);
		return;
	}
	if (header == -1 && name == -1)
		PROGRAM_TELL(p, CHANNEL_UNKNOWN, 0, 0,
		    "name the file by 'names' or write the comment by 'header' of the profile",
		    "channel unknown: neither the file name (%s) nor a header comment %s gives it",
		    p->profile->names, p->profile->header);
	if (header != -2 && name != -2)
		id->channel = header >= 0 ? header : name;
}

void identity_finish(struct program *p)
{
	const struct identity_value *v;

	v = settle(p, PATTERN_JOB, FINDING_JOB_UNKNOWN, FINDING_JOB_DIFFERS, "job");
	if (v)
		strcpy(p->identity.job, v->s);
	v = settle(p, PATTERN_REV, FINDING_REVISION_UNKNOWN, FINDING_REVISION_DIFFERS, "revision");
	if (v)
		strcpy(p->identity.revision, v->s);
	settle_channel(p);
}
