/*
 * Goal: the proof of wait codes says what an independent model checker says. Invented jobs are
 * written as programs and as processes; spin searches the processes (expect), the check reads the
 * programs (compare).
 *
 *     oracle expect SEED JOBS FOLDER    ask spin; the answers go to FOLDER/expected
 *     oracle compare SEED JOBS FOLDER   status 0 when the check says the same of each job
 *     oracle show SEED                  what the check says of one job, its programs, its model
 */
#include <stdlib.h>
#include <string.h>
#include "job.h"
#include "model.h"
#include "yoke/pair.h"

enum { BATCH = 60, TOLD_MAX = 10 };

static const char *const verdict_name[] = {"agree", "disagree", "cannot tell"};

/* disagree: under some setting every run blocks; cannot tell: only some do, or one is not known. */
static enum verdict expected(const uint8_t *found)
{
	enum verdict v = VERDICT_AGREE;

	for (int s = 0; s < JOB_SETTINGS; s++) {
		if (found[s] == RUN_BLOCKED)
			return VERDICT_DISAGREE;
		if (found[s] & (RUN_BLOCKED | RUN_UNKNOWN))
			v = VERDICT_CANNOT_TELL;
	}
	return v;
}

static void set_profile(const struct job *j, struct profile *p)
{
	static const char *const channels[] = {
	    "upper, lower", "upper, lower, third", "upper, lower, third, fourth"};
	static const enum profile_partners list[] = {[LIST_NONE] = PROFILE_PARTNERS_ALL,
	    [LIST_DIGITS] = PROFILE_PARTNERS_DIGITS,
	    [LIST_MASK] = PROFILE_PARTNERS_MASK};
	struct text why = {0};

	profile_defaults(p);
	if (profile_set(p, "programs", "channels", channels[j->channels - 2], &why) != PROFILE_OK)
		abort();
	p->partners = list[j->list];
	p->partners_letter = 'P';
	p->skip_separate = j->separate;
	p->end_m99 = true;
	p->send[0] = (struct profile_range){301, 304};
	p->receive[0] = (struct profile_range){401, 404};
	p->sends = p->receives = 1;
}

static struct program *read_program(const struct job *j, const struct profile *p, int c)
{
	char name[YOKE_NAME_MAX + 16], *text = NULL;
	size_t n = 0;
	FILE *out = open_memstream(&text, &n);
	struct program *program;

	if (!out)
		abort();
	job_write_text(j, c, out);
	fclose(out);
	snprintf(name, sizeof name, "J1-A.%s.nc", p->channel[c].name);
	program = program_new(p, name);
	if (!program || program_feed(program, text, n) || program_finish(program))
		abort();
	free(text);
	return program;
}

static void print_report(const struct pair_report *r, FILE *out)
{
	struct text t = {0};

	pair_print_findings(pair_findings(r), &t);
	pair_print_summary(r, &t);
	fputs(t.s, out);
	text_free(&t);
}

/* out: where what the check has to say is printed, NULL for nowhere. */
static enum verdict ours(const struct job *j, FILE *out)
{
	static struct profile p;
	struct program *program[JOB_CHANNELS];
	struct pair_report *r;
	enum verdict v;

	set_profile(j, &p);
	for (int c = 0; c < j->channels; c++)
		program[c] = read_program(j, &p, c);
	r = pair_check(&p, program, (size_t)j->channels);
	if (!r)
		abort();
	v = pair_verdict(r);
	if (out)
		print_report(r, out);
	pair_report_free(r);
	for (int c = 0; c < j->channels; c++)
		program_free(program[c]);
	return v;
}

static int expect(uint64_t seed, uint64_t jobs, const char *folder)
{
	uint8_t *found = calloc(BATCH, JOB_SETTINGS);
	struct model_count count = {0};
	char path[512];
	FILE *out;

	snprintf(path, sizeof path, "%s/expected", folder);
	out = fopen(path, "we");
	if (!found || !out)
		return 2;
	for (uint64_t at = 0; at < jobs; at += BATCH) {
		uint64_t n = jobs - at < BATCH ? jobs - at : BATCH;

		if (model_ask(folder, seed + at, seed + at + n, found, &count))
			return 2;
		if (fwrite(found, JOB_SETTINGS, n, out) != n)
			return 2;
	}
	if (fclose(out) != 0)
		return 2;
	free(found);
	printf("seed %llu, %llu jobs: %llu states, %llu invalid end states, %llu runs that stand\n",
	    (unsigned long long)seed, (unsigned long long)jobs, (unsigned long long)count.states,
	    (unsigned long long)count.errors, (unsigned long long)count.blocked);
	return count.errors == count.blocked ? 0 : 1;
}

static void tell(const struct job *j, enum verdict want, enum verdict got)
{
	printf("job %llu: spin says %s, the check says %s\n", (unsigned long long)j->seed,
	    verdict_name[want], verdict_name[got]);
}

static int compare(uint64_t seed, uint64_t jobs, const char *folder)
{
	struct job *j = malloc(sizeof *j);
	uint64_t count[3][3] = {{0}}, wrong = 0, large = 0, unclear = 0;
	uint8_t found[JOB_SETTINGS];
	char path[512];
	FILE *in;

	snprintf(path, sizeof path, "%s/expected", folder);
	in = fopen(path, "re");
	if (!j || !in)
		return 2;
	for (uint64_t i = 0; i < jobs; i++) {
		enum verdict want, got;

		if (fread(found, JOB_SETTINGS, 1, in) != 1)
			return 2;
		large += found[0] & RUN_LARGE ? 1 : 0;
		unclear += (found[0] & (RUN_LARGE | RUN_UNCLEAR)) == RUN_UNCLEAR;
		if (found[0] & (RUN_LARGE | RUN_UNCLEAR))
			continue;
		job_invent(j, seed + i);
		want = expected(found);
		got = ours(j, NULL);
		count[want][got]++;
		if (want != got && wrong++ < TOLD_MAX)
			tell(j, want, got);
	}
	fclose(in);
	free(j);
	for (int v = 0; v < 3; v++)
		printf("%-11s by spin; by the check: %llu agree, %llu disagree, %llu cannot tell\n",
		    verdict_name[v], (unsigned long long)count[v][0],
		    (unsigned long long)count[v][1], (unsigned long long)count[v][2]);
	printf(
	    "%llu disagreements in %llu jobs; left out: %llu too large for spin, %llu whose runs "
	    "without end are not agreed\n",
	    (unsigned long long)wrong, (unsigned long long)(jobs - large - unclear),
	    (unsigned long long)large, (unsigned long long)unclear);
	for (int v = 0; v < 3; v++) {
		uint64_t n = count[v][0] + count[v][1] + count[v][2];

		if (jobs >= 100 && n * 10 < jobs) {
			printf("%s is rare: too few jobs to tell\n", verdict_name[v]);
			return 2;
		}
	}
	return wrong ? 1 : 0;
}

static int show(uint64_t seed)
{
	struct job *j = malloc(sizeof *j);

	if (!j)
		return 2;
	job_invent(j, seed);
	ours(j, stdout);
	for (int c = 0; c < j->channels; c++)
		job_write_text(j, c, stdout);
	job_write_model(j, 0, stdout);
	free(j);
	return 0;
}

int main(int argc, char **argv)
{
	uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 0;
	uint64_t jobs = argc > 3 ? strtoull(argv[3], NULL, 10) : 0;

	if (argc == 5 && strcmp(argv[1], "expect") == 0)
		return expect(seed, jobs, argv[4]);
	if (argc == 5 && strcmp(argv[1], "compare") == 0)
		return compare(seed, jobs, argv[4]);
	if (argc == 3 && strcmp(argv[1], "show") == 0)
		return show(seed);
	fprintf(stderr, "usage: oracle expect|compare SEED JOBS FOLDER | show SEED\n");
	return 2;
}
