/*
 * Goal: no two files trip the check, the report or the ladder; every place that is told lies inside
 * its file; what is printed can be shown on a terminal; the report does not depend on the pieces in
 * which the bytes came; and with no weight changed nothing is released whose wait codes do not
 * agree. What a control may execute while it reads, wait codes left out, meets nobody.
 */
#include <stdlib.h>
#include <string.h>
#include "input.h"
#include "yoke/pair.h"

struct file {
	const char *name;
	struct input bytes;
};

static uint64_t lines_of(const struct input *in)
{
	uint64_t n = 1;

	for (size_t i = 0; i < in->left; i++)
		n += in->at[i] == '\n' || in->at[i] == '\r';
	return n;
}

static struct program *read_file(const struct profile *p, const struct file *f, uint32_t seed)
{
	struct program *program = program_new(p, f->name);

	must(program != NULL);
	for (size_t at = 0; at < f->bytes.left;) {
		size_t left = f->bytes.left - at, n = seed ? input_step(&seed, 7) : left;

		n = n < left ? n : left;
		must(program_feed(program, f->bytes.at + at, n) == 0);
		at += n;
	}
	must(program_finish(program) == 0);
	must(program_size(program) == f->bytes.left);
	must_be_plain(program_job(program), strlen(program_job(program)));
	must_be_plain(program_revision(program), strlen(program_revision(program)));
	must(program_channel(program) >= -1 && program_channel(program) < (int)p->channels);
	return program;
}

static void check_place(const struct file file[2], const char *name, uint64_t line, uint32_t col)
{
	const struct file *f = NULL;

	for (int i = 0; i < 2; i++)
		if (strcmp(file[i].name, name) == 0)
			f = &file[i];
	must(f != NULL || (*name == '\0' && line == 0 && col == 0));
	if (!f)
		return;
	must(line <= lines_of(&f->bytes));
	must(col <= f->bytes.left + 1);
	must(line > 0 || col == 0);
}

static void check_findings(const struct findings *list, const struct file file[2])
{
	must(!list->failed);
	for (size_t i = 0; i < list->n; i++) {
		const struct finding *f = &list->v[i];

		must(f->id < FINDING_COUNT && f->weight > WEIGHT_OFF && f->weight <= WEIGHT_REFUSE);
		must(f->text && *f->text && f->remedy && !strchr(f->text, '\n'));
		check_place(file, f->file, f->line, f->col);
		if (f->also)
			check_place(file, f->also_file, f->also_line, f->also_col);
	}
}

/* Everything that a person would see. */
static void print(const struct pair_report *r, const struct file file[2], struct text *out)
{
	static const struct ladder_style style[] = {{60, true}, {80, false}, {200, false}};

	check_findings(pair_findings(r), file);
	pair_print_findings(pair_findings(r), out);
	pair_print_summary(r, out);
	for (size_t i = 0; i < sizeof(style) / sizeof(style[0]); i++)
		ladder_draw(r, NULL, &style[i], out);
	must(!out->failed);
	must_be_plain(out->s, out->n);
}

/* Whether a control may execute them while it reads: one that does wait codes then may do more, and
 * two programs that it may have without meet nobody. */
static void drip(const struct pair_report *r, struct program *const program[2], struct text *out)
{
	bool alone[2];

	for (int i = 0; i < 2; i++) {
		size_t before = out->n;

		alone[i] = program_drips(program[i], false, out);
		must(alone[i] == (out->n == before));
		must(program_drips(program[i], true, out) || !alone[i]);
		must(!out->failed);
	}
	must(!alone[0] || !alone[1] || pair_meetings(r) == 0);
	if (out->n)
		must_be_plain(out->s, out->n);
}

static void check(
    const struct profile *p, const struct file file[2], uint32_t seed, struct text *out)
{
	struct program *program[2] = {read_file(p, &file[0], seed), read_file(p, &file[1], seed)};
	struct pair_report *r = pair_check(p, program, 2);

	must(r != NULL);
	must(!pair_may_release(r) || pair_verdict(r) == VERDICT_AGREE);
	print(r, file, out);
	drip(r, program, out);
	pair_report_free(r);
	program_free(program[0]);
	program_free(program[1]);
}

/* The first byte: settings that change what is executed. */
static void settings(struct profile *p, uint8_t bits)
{
	profile_defaults(p);
	p->run_max = 20000; /* so that one input is a matter of milliseconds */
	p->wait_alone = bits & 1;
	p->skip_separate = bits & 2;
	p->end_m99 = bits & 4;
	p->colon_number = bits & 8;
	p->number_from_job = bits & 16;
	p->lower_case = bits & 32;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size};
	uint8_t bits = input_byte(&in);
	struct file file[2] = {{.name = "J1-A.upper.nc"}, {.name = "J1-A.lower.nc"}};
	struct text whole = {0}, pieces = {0};
	static struct profile p;

	settings(&p, bits);
	if (bits & 64)
		file[1].name = "J1-B.nc";
	file[0].bytes = input_part(&in);
	file[1].bytes = in;
	check(&p, file, 0, &whole);
	check(&p, file, (uint32_t)size + 1, &pieces);
	must(whole.n == pieces.n && memcmp(whole.s, pieces.s, whole.n) == 0);
	text_free(&whole);
	text_free(&pieces);
	return 0;
}
