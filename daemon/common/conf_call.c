#include "conf_call.h"

#include <string.h>
#include "call.h"
#include "conf_value.h"

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define WORD(key, field)                                                                           \
	{key, CONF_STRING, offsetof(struct conf_call, words.field),                                \
	    sizeof(((struct conf_call *)0)->words.field), 0, 0, "", NULL}

static const struct conf_key keys[] = {
    {"listen", CONF_YES_NO, offsetof(struct conf_call, listen), sizeof(bool), 0, 0, "", NULL},
    WORD("mark", mark),
    WORD("bring", bring),
    WORD("last_good", last_good),
    WORD("proven", proven),
    WORD("revision", revision),
    WORD("badge", badge),
};

static void read_entry(const char *path, const struct conf_entry *e, struct conf_call *out,
    struct conf_report *report)
{
	const struct conf_key *key = conf_value_key(keys, COUNT(keys), e->key);
	const char *known[COUNT(keys)];

	for (size_t i = 0; i < COUNT(keys); i++)
		known[i] = keys[i].name;
	if (key)
		conf_value_set(key, out, path, e, report);
	else
		conf_value_unknown(path, e, known, COUNT(known), report);
}

/* What the lines must be for somebody who listens and answers on them. */
static void check_lines(const char *path, unsigned at, const struct profile *profile,
    const struct line *line, struct conf_report *report)
{
	for (uint32_t i = 0; i < profile->channels; i++) {
		const char *channel = profile->channel[i].name;

		if (line[i].kind != LINE_SERIAL)
			conf_report_error(report, path, at,
			    "listen = yes, and channel %s has no serial line to listen to", channel);
		else if (!line[i].serial.wait_dc1)
			conf_report_error(report, path, at,
			    "listen = yes needs wait_dc1 = yes for channel %s: a call is answered "
			    "when the control is set to read, and only its DC1 tells that",
			    channel);
	}
}

void conf_call_read(const struct conf_file *file, const struct profile *profile,
    const struct line line[YOKE_CHANNELS_MAX], struct conf_call *out, struct conf_report *report)
{
	unsigned words_at = 0, listen_at = 0;
	const char *wrong;

	*out = (struct conf_call){.words = CALL_WORDS_DEFAULT};
	for (size_t i = 0; i < file->n; i++) {
		const struct conf_entry *e = &file->v[i];

		if (strcmp(e->section, "call") != 0)
			continue;
		read_entry(file->path, e, out, report);
		if (strcmp(e->key, "listen") == 0)
			listen_at = e->line;
		else
			words_at = e->line;
	}
	wrong = call_words_wrong(&out->words);
	if (wrong)
		conf_report_error(report, file->path, words_at, "[call]: %s", wrong);
	if (out->listen)
		check_lines(file->path, listen_at, profile, line, report);
}
