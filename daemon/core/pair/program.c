/*
 * One pass over the bytes: reader -> blocks -> rules and flow. What is known only at the end (who
 * the program is, whether it was cut off) is told in program_finish.
 */
#include <stdlib.h>
#include <string.h>
#include "program_plain.h"
#include "rules.h"

static int block(void *ctx, const struct nc_block *b)
{
	struct program *p = ctx;
	struct facts f;
	int rc;

	if (p->state.close_line) {
		rules_file_after_close(p, b);
		return wait_flow_block(p->flow, b);
	}
	facts_read(&f, p->profile, b);
	program_plain_print(p, b->text, b->length);
	p->motion |= f.motion;
	identity_block(&p->identity, p->profile, b, f.motion);
	rules_text_block(p, b);
	rules_word_block(p, b, &f);
	rules_wait_block(p, b, &f);
	if (!rules_number_block(p, b, &f))
		return -1;
	rules_file_block(p, b, &f);
	rc = wait_flow_block(p->flow, b);
	program_plain_allow(p);
	return rc;
}

struct program *program_new(const struct profile *profile, const char *file)
{
	struct program *p = calloc(1, sizeof(*p));

	if (!p)
		return NULL;
	p->profile = profile;
	p->file = strdup(file);
	p->reader = nc_reader_new(block, p);
	p->flow = wait_flow_new(profile);
	if (!p->file || !p->reader || !p->flow) {
		program_free(p);
		return NULL;
	}
	nc_reader_call(p->reader, profile->wait_call);
	nc_reader_plain(p->reader, program_plain_run);
	program_plain_begin(p);
	identity_begin(&p->identity, profile, file);
	return p;
}

struct program *program_new_sister(const struct profile *profile, const char *file)
{
	struct program *p = program_new(profile, file);

	if (p)
		p->library = true;
	return p;
}

int program_sister(struct program *p, const struct program *sister)
{
	if (p->sisters == WAIT_SISTERS_MAX || wait_flow_sister(p->flow, sister->flow) != 0)
		return -1;
	p->sister[p->sisters++] = sister;
	return 0;
}

const char *program_place_file(const struct program *p, uint32_t file)
{
	return file == 0 || file > p->sisters ? p->file : p->sister[file - 1]->file;
}

void program_keep(struct program *p)
{
	p->keep = true;
}

int program_feed(struct program *p, const void *bytes, size_t n)
{
	if (p->keep && !p->error) {
		text_add(&p->kept, bytes, n);
		program_lend(p, p->kept.s, p->kept.n);
		if (p->kept.failed)
			p->error = -1;
	}
	if (!p->error && n > 0 && nc_reader_feed(p->reader, bytes, n) != 0)
		p->error = -1;
	return p->error;
}

void program_lend(struct program *p, const void *bytes, size_t n)
{
	p->bytes = bytes;
	p->bytes_n = bytes ? n : 0;
}

/*
 * What the flow tells, less a missing end where the file was cut off or empty: one cause, one
 * finding. quiet: the flow is finished, nothing is told.
 */
static int tell_flow(struct program *p, bool quiet)
{
	bool no_end = p->state.texts == 0 || rules_file_cut_off(p);
	struct findings list = {0};
	int rc = wait_flow_finish(p->flow, &list, p->file, -1, p->library);

	if (rc == 0 && list.failed)
		rc = -1;
	for (size_t i = 0; i < list.n && rc == 0 && !quiet && no_end; i++) {
		const struct finding *f = &list.v[i];

		if (f->id != FINDING_END_MISSING)
			findings_add(&p->findings, p->profile->weight, f->id,
			    &(struct finding_place){-1, p->file, f->line, f->col}, f->remedy, "%s",
			    f->text);
	}
	if (rc == 0 && !quiet && !no_end)
		findings_append(&p->findings, &list);
	findings_free(&list);
	return rc;
}

static int tell(struct program *p)
{
	if (rules_file_framing(p)) {
		/* Bytes with parity are no program: what the rules made of them means nothing. */
		findings_free(&p->findings);
		rules_file_framing(p);
		return tell_flow(p, true);
	}
	if (!p->library)
		identity_finish(p);
	rules_file_finish(p);
	rules_number_finish(p);
	rules_word_finish(p);
	if (!p->library)
		rules_wait_finish(p);
	return tell_flow(p, false);
}

int program_finish(struct program *p)
{
	if (p->finished)
		return p->error;
	p->finished = true;
	if (!p->error && nc_reader_finish(p->reader, &p->shape) != 0)
		p->error = -1;
	if (!p->error && tell(p) != 0)
		p->error = -1;
	if (p->findings.failed)
		p->error = -1;
	for (size_t i = 0; i < p->findings.n; i++)
		p->findings.v[i].channel = p->identity.channel;
	findings_sort(&p->findings);
	return p->error;
}

void program_free(struct program *p)
{
	if (!p)
		return;
	findings_free(&p->findings);
	wait_flow_free(p->flow);
	nc_reader_free(p->reader);
	text_free(&p->kept);
	free(p->numbers);
	free(p->file);
	free(p);
}

const char *program_job(const struct program *p)
{
	return p->identity.job;
}

const char *program_revision(const struct program *p)
{
	return p->identity.revision;
}

int program_channel(const struct program *p)
{
	return p->identity.channel;
}

uint32_t program_number(const struct program *p)
{
	return p->number;
}

uint64_t program_size(const struct program *p)
{
	return p->shape.bytes;
}

uint64_t program_blocks(const struct program *p)
{
	return p->shape.blocks;
}

const struct findings *program_findings(const struct program *p)
{
	return &p->findings;
}

bool program_complete(const struct program *p)
{
	return p->state.close_line || (!p->state.open_line && p->state.end.line);
}
