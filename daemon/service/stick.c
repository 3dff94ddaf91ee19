#include "stick.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "fat_name.h"
#include "manifest.h"
#include "with_ends.h"
#include "yoke/stick.h"

static const struct line *line_of(const struct service_machine *m, const char *channel)
{
	int k = profile_channel_find(&m->conf->profile, channel, strlen(channel));

	return k < 0 ? NULL : &m->conf->line[k];
}

/* The list and the note that lie beside them, and what they are written under at first. */
static bool is_own(const char *name)
{
	const char *end = strrchr(name, '.');

	return end && strlen(end) == 4 && !strncasecmp(name, STICK_OWN, strlen(STICK_OWN)) &&
	       strcasestr(STICK_OWN_ENDS, end + 1);
}

static int folder_of(const struct service_machine *m, const struct line *l, struct stick_file *f,
    char *why, size_t n)
{
	const char *fault;

	if (l->kind == LINE_STICK)
		memcpy(f->folder, l->stick.folder, sizeof(f->folder));
	else if (l->kind == LINE_DIRECTORY)
		memcpy(f->folder, l->directory.folder, sizeof(f->folder));
	else if (l->kind == LINE_REMOTE)
		memcpy(f->folder, l->remote.folder, sizeof(f->folder));
	else
		snprintf(f->folder, sizeof(f->folder), "%s", f->channel);
	fault = fat_name_path_fault(f->folder, l->kind == LINE_STICK && l->short_names);
	if (!fault)
		return 0;
	snprintf(why, n,
	    "machine %s, channel %s: the folder '%s' %s: a stick has no room for it under this name",
	    m->conf->name, f->channel, f->folder, fault);
	return -1;
}

static int name_of(struct service *s, const struct service_machine *m, const char *job,
    const char *revision, const struct line *l, struct stick_file *f, char *why, size_t n)
{
	uint32_t number = manifest_number(s, &m->conf->profile, l->name, &f->program);
	const char *fault;

	if (manifest_name(m, l, job, revision, f->channel, number, f->name, why, n))
		return -1;
	fault = fat_name_fault(f->name, l->short_names);
	if (!fault && is_own(f->name))
		fault = "is one of Yoke's own names on a stick";
	if (!fault)
		return 0;
	snprintf(why, n,
	    "machine %s, channel %s: on the stick the program would be called '%s', which %s: set "
	    "'name' in [line] to another pattern",
	    m->conf->name, f->channel, f->name, fault);
	return -1;
}

int stick_names(struct service *s, const struct service_machine *m, const char *job,
    const char *revision, const struct vault_part *part, uint32_t n, struct stick_file *file,
    char *why, size_t whysize)
{
	for (uint32_t i = 0; i < n; i++) {
		const struct line *l = line_of(m, part[i].channel);
		struct stick_file *f = &file[i];

		memset(f, 0, sizeof(*f));
		memcpy(f->channel, part[i].channel, sizeof(f->channel));
		f->program = part[i].sha;
		if (!l || l->kind == LINE_NONE) {
			snprintf(why, whysize,
			    "machine %s has no %s%s: a machine to which a person carries programs "
			    "has [line] kind = stick",
			    m->conf->name, l ? "line" : "channel ", l ? "" : f->channel);
			return -1;
		}
		if (folder_of(m, l, f, why, whysize) || name_of(s, m, job, revision, l, f, why, whysize))
			return -1;
		for (uint32_t k = 0; k < i; k++)
			if (fat_name_same(file[k].name, f->name) &&
			    fat_name_same(file[k].folder, f->folder)) {
				snprintf(why, whysize,
				    "machine %s: channels %s and %s would be one file on the stick, "
				    "%s%s%s: put {channel} into 'name', or give each its own folder in "
				    "[line CHANNEL]",
				    m->conf->name, file[k].channel, f->channel, f->folder,
				    *f->folder ? "/" : "", f->name);
				return -1;
			}
	}
	return 0;
}

/* The bytes of a vault's program on their way into it once more, with other line ends. */
struct again {
	struct vault_stage *stage;
	struct with_ends *ends;
};

static int put(void *ctx, const void *bytes, size_t n)
{
	return vault_stage_add(((struct again *)ctx)->stage, bytes, n);
}

static int add(void *ctx, const void *bytes, size_t n)
{
	return with_ends_add(((struct again *)ctx)->ends, bytes, n);
}

static int convert(struct service *s, enum line_ends ends, struct stick_file *f)
{
	struct again a = {.stage = vault_stage_new(s->vault)};
	int result = -1;

	a.ends = with_ends_new(ends, put, &a);
	if (a.stage && a.ends && !vault_program_read(s->vault, &f->program, add, &a) &&
	    !with_ends_done(a.ends, &f->written, &f->size)) {
		result = vault_stage_keep(a.stage, &f->written);
		a.stage = NULL;
	}
	if (a.stage)
		vault_stage_drop(a.stage);
	with_ends_free(a.ends);
	return result;
}

int stick_programs(struct service *s, const struct service_machine *m, struct stick_file *file,
    uint32_t n, char *why, size_t whysize)
{
	for (uint32_t i = 0; i < n; i++) {
		const struct line *l = line_of(m, file[i].channel);
		int64_t size = vault_program_size(s->vault, &file[i].program);
		int failed = size < 0;

		file[i].written = file[i].program;
		file[i].size = size < 0 ? 0 : (uint64_t)size;
		if (!failed && l && l->eob != LINE_ENDS_AS_IS)
			failed = convert(s, l->eob, &file[i]);
		if (!failed)
			continue;
		snprintf(why, whysize, "the program of %s cannot be read from the vault: %s",
		    file[i].channel, vault_error(s->vault));
		return -1;
	}
	return 0;
}
