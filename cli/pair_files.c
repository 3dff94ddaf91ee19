#include "pair_files.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "exit.h"
#include "load.h"
#include "out.h"

int pair_files_machine(const char *path, struct conf_machine *machine)
{
	struct conf_report report = {0};
	struct profile shop;
	int result = 0;

	profile_defaults(&shop);
	if (!path) {
		memset(machine, 0, sizeof(*machine));
		machine->profile = shop;
		return 0;
	}
	if (conf_machine_read(path, &shop, machine, &report) < 0) {
		fprintf(stderr, "%s", report.text.s ? report.text.s : "yoke: out of memory\n");
		result = -1;
	}
	conf_report_free(&report);
	return result;
}

/* One program's way into memory, on a thread of its own: the programs share nothing but the
 * profile. */
struct job {
	const char *path;
	const struct profile *profile;
	struct program *program;
	uint8_t *sum;
	char **keep; /* where the text goes that must stay; NULL: it need not */
	struct text why;
	int result;
	pthread_t thread;
	bool running;
};

/* The whole text in memory, and the program read from there. */
static int load_kept(int fd, struct job *j)
{
	struct program *p = program_new(j->profile, j->path);
	size_t n;

	if (!p || load_bytes(fd, j->path, j->keep, &n, j->sum, &j->why) < 0)
		goto failed;
	program_lend(p, *j->keep, n);
	if (program_feed(p, *j->keep, n) != 0 || program_finish(p) != 0)
		goto failed;
	j->program = p;
	return 0;
failed:
	program_free(p);
	return -1;
}

static void *load(void *ctx)
{
	struct job *j = ctx;
	int fd = load_open(j->path, &j->why);

	j->result = -1;
	if (fd < 0)
		return NULL;
	j->result = j->keep ? load_kept(fd, j)
	                    : load_program(fd, j->path, j->profile, &j->program, j->sum, &j->why);
	close(fd);
	return NULL;
}

static int load_all(struct pair_files *p, char **files, bool keep)
{
	struct job job[YOKE_CHANNELS_MAX] = {0};
	int result = 0;

	for (size_t i = 0; i < p->n; i++) {
		job[i].path = files[i];
		job[i].profile = &p->machine.profile;
		job[i].sum = p->loaded[i].sum;
		job[i].keep = keep ? &p->text[i] : NULL;
		job[i].running = i > 0 && pthread_create(&job[i].thread, NULL, load, &job[i]) == 0;
	}
	for (size_t i = 0; i < p->n; i++) {
		if (job[i].running)
			pthread_join(job[i].thread, NULL);
		else
			load(&job[i]);
		p->loaded[i].file = files[i];
		p->loaded[i].program = job[i].program;
		if (job[i].result < 0) {
			fprintf(
			    stderr, "%s\n", job[i].why.s ? job[i].why.s : "yoke: out of memory");
			result = -1;
		}
		text_free(&job[i].why);
	}
	return result;
}

static bool number_fits(const char *verb, const struct profile *profile, size_t n)
{
	struct text names = {0};

	if (n >= 2 && n <= profile->channels)
		return true;
	for (uint32_t i = 0; i < profile->channels; i++)
		text_printf(&names, "%s%s", i ? " " : "", profile->channel[i].name);
	out_error("%s: %zu file%s given; 2%s needed, one for each channel (%s)", verb, n,
	    n == 1 ? "" : "s", profile->channels == 2 ? " are" : " or more are",
	    names.s ? names.s : "");
	text_free(&names);
	return false;
}

static struct pair_files *check(
    const char *verb, const char *machine, char **files, size_t n, bool keep)
{
	struct pair_files *p = calloc(1, sizeof(*p));
	struct program *programs[YOKE_CHANNELS_MAX];

	if (!p) {
		out_error("%s: out of memory", verb);
		return NULL;
	}
	if (pair_files_machine(machine, &p->machine) < 0 ||
	    !number_fits(verb, &p->machine.profile, n))
		goto failed;
	p->n = n;
	if (load_all(p, files, keep) < 0)
		goto failed;
	for (size_t i = 0; i < n; i++)
		programs[i] = (struct program *)p->loaded[i].program;
	p->report = pair_check(&p->machine.profile, programs, n);
	if (!p->report || pair_findings(p->report)->failed) {
		out_error("%s: out of memory", verb);
		goto failed;
	}
	return p;
failed:
	pair_files_free(p);
	return NULL;
}

struct pair_files *pair_files_check(const char *verb, const char *machine, char **files, size_t n)
{
	return check(verb, machine, files, n, false);
}

struct pair_files *pair_files_read(const char *verb, const char *machine, char **files, size_t n)
{
	return check(verb, machine, files, n, true);
}

void pair_files_free(struct pair_files *p)
{
	if (!p)
		return;
	pair_report_free(p->report);
	for (size_t i = 0; i < p->n; i++) {
		program_free((struct program *)p->loaded[i].program);
		free(p->text[i]);
	}
	free(p);
}

int pair_files_status(const struct pair_files *p)
{
	const struct findings *f = pair_findings(p->report);

	for (size_t i = 0; i < f->n; i++)
		if (f->v[i].weight == WEIGHT_REFUSE && f->v[i].id != FINDING_FLOW_UNFOLLOWED &&
		    f->v[i].id != FINDING_RUN_LONG && f->v[i].id != FINDING_SKIP_MANY)
			return EXIT_REFUSED;
	if (pair_verdict(p->report) == VERDICT_CANNOT_TELL)
		return EXIT_CANNOT_TELL;
	return pair_may_release(p->report) ? EXIT_DONE : EXIT_REFUSED;
}
