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

	*id = (struct identity){.channel = -1, .separated = -1};
	id->firm = pattern_header_like(profile->header, NULL, 0);
	if (pattern_name(profile->names, file, &m))
		take(&id->name, &m);
}

bool identity_comment(const char **s, const char *end, const char **inside, size_t *n)
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

/* True when both say something about a field, and not the same. */
static bool field_differs(const struct profile *profile, const struct identity_source *a,
    const struct identity_source *b, enum pattern_field field)
{
	const struct identity_value *va = &a->field[field], *vb = &b->field[field];

	if (!va->given || !vb->given || strcmp(va->s, vb->s) == 0)
		return false;
	return field != PATTERN_CHANNEL || profile_channel_find(profile, va->s, strlen(va->s)) !=
	                                       profile_channel_find(profile, vb->s, strlen(vb->s));
}

static void locate(struct identity_source *s, const struct pattern_match *m,
    const struct nc_block *b, const char *inside)
{
	*s = (struct identity_source){0};
	take(s, m);
	s->line = b->line;
	s->col = (uint32_t)(inside - b->text);
}

/* A comment that matches, behind the header or without one: kept when it says something else. */
static void later(struct identity *id, const struct profile *profile, const struct pattern_match *m,
    const struct nc_block *b, const char *inside)
{
	const struct identity_source *first = id->header.matched ? &id->header : &id->name;
	struct identity_source s;

	if (id->other.matched)
		return;
	locate(&s, m, b, inside);
	if (field_differs(profile, first, &s, PATTERN_JOB) ||
	    field_differs(profile, first, &s, PATTERN_REV) ||
	    field_differs(profile, first, &s, PATTERN_CHANNEL))
		id->other = s;
}

void identity_block(
    struct identity *id, const struct profile *profile, const struct nc_block *b, bool motion)
{
	const char *s = b->text, *inside;
	const char *end = s + (b->length < IDENTITY_BYTES ? b->length : IDENTITY_BYTES);
	struct pattern_match m;
	size_t n;

	/* a pattern without a word of its own matches many a remark */
	while (b->comment && (!id->done || id->firm) && identity_comment(&s, end, &inside, &n)) {
		bool match = pattern_header(profile->header, inside, n, &m);

		if (match && !id->done && !id->header.matched) {
			locate(&id->header, &m, b, inside);
		} else if (match && id->firm) {
			later(id, profile, &m, b, inside);
		} else if (!id->done && !id->like_line &&
		           pattern_header_like(profile->header, inside, n)) {
			id->like_line = b->line;
			id->like_col = (uint32_t)(inside - b->text);
		}
	}
	if (id->done)
		return;
	id->blocks++;
	id->done = motion || id->blocks >= IDENTITY_BLOCKS;
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

/* The file's name cannot speak for one of the channels in it; the header of a part can. */
static void settle_separated(struct program *p)
{
	struct identity *id = &p->identity;
	int header = source_channel(p, &id->header, "header comment");

	if (header >= 0 && header != id->separated)
		PROGRAM_TELL(p, CHANNEL_DIFFERS, id->header.line, id->header.col,
		    "find out which is right, then correct the separator or the header",
		    "separator says channel %s, header comment says %s",
		    p->profile->channel[id->separated].name, p->profile->channel[header].name);
	id->channel = id->separated;
}

static void settle_channel(struct program *p)
{
	struct identity *id = &p->identity;
	int header, name;

	if (id->separated >= 0) {
		settle_separated(p);
		return;
	}
	header = source_channel(p, &id->header, "header comment");
	name = source_channel(p, &id->name, "file name");
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

/* A second header that contradicts the first, or a comment that is none and may be meant as one. */
static void settle_others(struct program *p)
{
	static const struct {
		enum pattern_field field;
		enum finding_id id;
		const char *what;
	} fields[] = {{PATTERN_JOB, FINDING_JOB_DIFFERS, "job"},
	    {PATTERN_REV, FINDING_REVISION_DIFFERS, "revision"},
	    {PATTERN_CHANNEL, FINDING_CHANNEL_DIFFERS, "channel"}};
	const struct identity *id = &p->identity;
	const struct identity_source *first = id->header.matched ? &id->header : &id->name;
	struct finding_place at = {-1, p->file, id->other.line, id->other.col};

	for (size_t i = 0; i < sizeof(fields) / sizeof(*fields) && id->other.matched; i++) {
		if (!field_differs(p->profile, first, &id->other, fields[i].field))
			continue;
		findings_add(&p->findings, p->profile->weight, fields[i].id, &at,
		    "find out whether text of another program was pasted in, and remove what is "
		    "wrong",
		    "another header comment says %s %s, the %s says %s", fields[i].what,
		    id->other.field[fields[i].field].s,
		    id->header.matched ? "first one" : "file name",
		    first->field[fields[i].field].s);
	}
	if (!id->header.matched && id->like_line)
		PROGRAM_TELL(p, HEADER_UNREAD, id->like_line, id->like_col,
		    "write it as the profile's 'header' asks, or correct 'header'",
		    "this comment looks like the header and was not read: %s is asked for",
		    p->profile->header);
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
	settle_others(p);
}
