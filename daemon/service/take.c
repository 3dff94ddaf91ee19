#include "take.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>
#include "rights.h"
#include "sha256.h"
#include "stand.h"
#include "verdict.h"

enum {
	SMALL = 1 << 20,   /* bytes: one piece of a stage, which is all or nothing by itself */
	WORKING = 32 << 20 /* bytes that the vault needs beside a large program: its log */
};

struct take {
	struct service *s;
	struct intake_file file;
	char *path;
	char area[YOKE_NAME_MAX + 1];
	struct vault_stage *stage;
	struct sha256 *sum;
	struct program *program;
	struct judgement judged;
	bool begun;
	char why[2 * YOKE_PATH_MAX];
};

/* The machine whose folder the path lies in, "" for none. */
static void area_of(struct service *s, const char *path, char out[YOKE_NAME_MAX + 1])
{
	const char *slash = strchr(path, '/');
	size_t n = slash ? (size_t)(slash - path) : 0;

	out[0] = '\0';
	if (n == 0 || n > YOKE_NAME_MAX)
		return;
	memcpy(out, path, n);
	out[n] = '\0';
	if (!service_machine_find(s, out))
		out[0] = '\0';
}

struct take *take_new(struct service *s, const struct intake_file *file)
{
	struct take *t = calloc(1, sizeof(*t));

	if (!t)
		return NULL;
	t->path = strdup(file->path);
	if (!t->path) {
		free(t);
		return NULL;
	}
	t->s = s;
	t->file = *file;
	t->file.path = t->path;
	area_of(s, t->path, t->area);
	return t;
}

void take_free(struct take *t)
{
	if (!t)
		return;
	if (t->stage)
		vault_stage_drop(t->stage);
	sha256_free(t->sum);
	program_free(t->program);
	judge_free(&t->judged);
	close(t->file.fd);
	free(t->path);
	free(t);
}

/*
 * Whose file it is. The owner made it; who else may write it may have written what is in it, and where a
 * second person counts that is said, so that nobody is taken for the owner.
 */
static void name_owner(const struct take *t, char out[RIGHTS_NAME])
{
	struct stat st;
	size_t n;

	rights_owner(t->s, t->file.uid, out);
	n = strlen(out);
	if (stand_matters(t->s) && (fstat(t->file.fd, &st) || st.st_mode & (S_IWGRP | S_IWOTH)))
		snprintf(out + n, RIGHTS_NAME - n, ", in a file that others may write");
}

static enum take_result vault_failed(struct take *t)
{
	snprintf(t->why, sizeof(t->why), "%s", vault_error(t->s->vault));
	return TAKE_FAILED;
}

static enum take_result no_memory(struct take *t)
{
	snprintf(t->why, sizeof(t->why), "memory ran out");
	return TAKE_FAILED;
}

/*
 * Pieces of a large program are durable long before it is whole. One that cannot end would fill the
 * disk with them, and then nothing else could be recorded either. False: there is no room.
 */
static bool has_room(struct take *t)
{
	char path[YOKE_PATH_MAX + 32];
	struct statvfs fs;

	snprintf(path, sizeof(path), "%s/vault", t->s->conf->home);
	if (t->file.state.size <= SMALL || statvfs(path, &fs))
		return true; /* the vault tells when there is none after all */
	if (fs.f_bavail > (t->file.state.size + WORKING) / fs.f_frsize)
		return true;
	snprintf(t->why, sizeof(t->why),
	    "no space is left for it: it has %llu MB, and the vault needs %d MB more to work with; "
	    "free space on the device of %s",
	    (unsigned long long)(t->file.state.size >> 20), WORKING >> 20, path);
	return false;
}

bool take_begin(struct take *t)
{
	if (!t->sum)
		t->sum = sha256_new();
	if (!t->stage)
		t->stage = vault_stage_new(t->s->vault);
	if (!t->program)
		t->program = program_new(service_profile(t->s, t->area), t->path);
	return t->sum && t->stage && t->program;
}

/*
 * Its path brought the same bytes before, as after a restart: the content decides, not the file's
 * time. Only a verdict that a crash kept from being written is made up for, as far as that goes.
 */
static enum take_result known(struct take *t, const struct judge_arrival *in)
{
	if (t->s->reconfigured)
		return judge_under_new_rules(t->s, in, &t->judged) ? vault_failed(t) : TAKE_ENDED;
	if (!verdict_is_there(t->s, in) && judge_again(t->s, in, &t->judged))
		judge_free(&t->judged);
	return TAKE_ENDED;
}

static enum take_result finish(struct take *t)
{
	struct sha sha, old;
	char owner[RIGHTS_NAME] = "";
	struct judge_arrival in = {
	    .area = t->area,
	    .path = t->path,
	    .who = owner,
	    .sha = &sha,
	    .program = t->program,
	    .file = &t->file,
	};
	struct vault_stage *stage = t->stage;
	bool same;
	int found;

	if (sha256_end(t->sum, sha.b) || program_finish(t->program))
		return no_memory(t);
	if (!intake_still_same(t->s->intake, &t->file))
		return TAKE_ENDED; /* torn: a new look has been scheduled */
	found = vault_path(t->s->vault, t->path, &old);
	if (found < 0)
		return vault_failed(t);
	same = found == 1 && !memcmp(&old, &sha, sizeof(sha));
	if (!same || t->s->reconfigured)
		name_owner(t, owner);
	if (same)
		return known(t, &in);
	t->stage = NULL;
	if (vault_stage_keep(stage, &sha))
		return vault_failed(t);
	return judge_arrival(t->s, &in, &t->judged) ? vault_failed(t) : TAKE_ENDED;
}

enum take_result take_step(struct take *t, void *slice, size_t n)
{
	ssize_t got;

	if (!t->begun && !has_room(t))
		return TAKE_UNREADABLE;
	if (!t->begun && !take_begin(t))
		return no_memory(t);
	t->begun = true;
	do
		got = read(t->file.fd, slice, n);
	while (got < 0 && errno == EINTR);
	if (got < 0) {
		snprintf(t->why, sizeof(t->why), "cannot be read: %s", strerror(errno));
		return TAKE_UNREADABLE;
	}
	if (got == 0)
		return finish(t);
	if (sha256_add(t->sum, slice, (size_t)got) || program_feed(t->program, slice, (size_t)got))
		return no_memory(t);
	if (vault_stage_add(t->stage, slice, (size_t)got))
		return vault_failed(t);
	return TAKE_MORE;
}

const char *take_path(const struct take *t)
{
	return t->path;
}

const char *take_why(const struct take *t)
{
	return t->why;
}

const struct judgement *take_judgement(const struct take *t)
{
	return &t->judged;
}
