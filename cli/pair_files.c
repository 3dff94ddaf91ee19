#include "pair_files.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
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

static int fail(struct text *why)
{
	fprintf(stderr, "%s\n", why->s ? why->s : "yoke: out of memory");
	text_free(why);
	return -1;
}

/* Map the file that was just read and lend it; what cannot be mapped, a pipe, has no text then. */
static void lend(int fd, struct program *program, struct pair_files_text *text)
{
	struct stat st;
	void *bytes;

	if (fstat(fd, &st) < 0 || !S_ISREG(st.st_mode) || st.st_size <= 0 ||
	    (uint64_t)st.st_size != program_size(program))
		return;
	bytes = mmap(NULL, (size_t)st.st_size, PROT_READ, MAP_PRIVATE, fd, 0);
	if (bytes == MAP_FAILED)
		return;
	*text = (struct pair_files_text){bytes, (size_t)st.st_size};
	program_lend(program, bytes, text->n);
}

/* The files of subprograms, before the programs that call them. */
static int load_sisters(struct pair_files *p, const struct pair_files_ask *ask)
{
	for (size_t i = 0; i < ask->withs; i++) {
		struct program *s = program_new_sister(&p->machine.profile, ask->with[i]);
		uint8_t sum[YOKE_SHA_SIZE];
		struct text why = {0};
		int fd = load_open(ask->with[i], &why);
		int result = !s || fd < 0 ? -1 : load_into(fd, ask->with[i], s, sum, &why);

		if (result == 0 && ask->text)
			lend(fd, s, &p->sister_text[p->sisters]);
		if (fd >= 0)
			close(fd);
		if (result < 0) {
			program_free(s);
			return fail(&why);
		}
		p->sister[p->sisters++] = s;
	}
	return 0;
}

/* One program's way into memory, on a thread of its own: the programs share nothing but the profile
 * and their sisters, which nobody changes. */
struct job {
	const char *path;
	const struct pair_files *files;
	struct program *program;
	uint8_t *sum;
	struct pair_files_text *text; /* NULL: the text is not read again */
	struct text why;
	int result;
	pthread_t thread;
	bool running;
};

static int read_into(struct job *j, int fd)
{
	j->program = program_new(&j->files->machine.profile, j->path);
	if (!j->program)
		return -1;
	for (size_t i = 0; i < j->files->sisters; i++)
		if (program_sister(j->program, j->files->sister[i]) < 0)
			return -1;
	return load_into(fd, j->path, j->program, j->sum, &j->why);
}

static void *load(void *ctx)
{
	struct job *j = ctx;
	int fd = load_open(j->path, &j->why);

	j->result = fd < 0 ? -1 : read_into(j, fd);
	if (j->result == 0 && j->text)
		lend(fd, j->program, j->text);
	if (fd >= 0)
		close(fd);
	return NULL;
}

static int load_all(struct pair_files *p, char **files, size_t n, bool text)
{
	struct job job[YOKE_CHANNELS_MAX] = {0};
	int result = 0;

	p->n = n;
	for (size_t i = 0; i < p->n; i++) {
		job[i].path = files[i];
		job[i].files = p;
		job[i].sum = p->loaded[i].sum;
		job[i].text = text ? &p->text[i] : NULL;
		job[i].running = i > 0 && pthread_create(&job[i].thread, NULL, load, &job[i]) == 0;
	}
	for (size_t i = 0; i < p->n; i++) {
		if (job[i].running)
			pthread_join(job[i].thread, NULL);
		else
			load(&job[i]);
		p->loaded[i].file = files[i];
		p->loaded[i].program = job[i].program;
		if (job[i].result < 0)
			result = fail(&job[i].why);
	}
	return result;
}

/* One file that holds the programs of all channels. */
static int load_one(struct pair_files *p, const char *verb, const char *file, bool text)
{
	const struct profile *profile = &p->machine.profile;
	struct program *program[YOKE_CHANNELS_MAX];
	uint8_t sum[YOKE_SHA_SIZE];
	struct text why = {0};
	int fd = load_open(file, &why);
	int n =
	    fd < 0 ? -1
	           : load_split(fd, file, profile, p->sister, p->sisters, text, program, sum, &why);

	if (fd >= 0)
		close(fd);
	if (n < 0)
		fail(&why);
	else if (n == 0)
		out_error(
		    "%s: %s: no block gives what follows to a channel (separator = %s), so it "
		    "holds one program; give one file for each channel",
		    verb, file, profile->separator);
	for (int i = 0; i < n; i++) {
		p->loaded[i].file = file;
		p->loaded[i].program = program[i];
		memcpy(p->loaded[i].sum, sum, sizeof(sum));
	}
	p->n = n > 0 ? (size_t)n : 0;
	return n > 0 ? 0 : -1;
}

static bool number_fits(const char *verb, const struct profile *profile, size_t n)
{
	struct text names = {0};

	if ((n >= 2 && n <= profile->channels) || (n == 1 && profile->separator[0]))
		return true;
	for (uint32_t i = 0; i < profile->channels; i++)
		text_printf(&names, "%s%s", i ? " " : "", profile->channel[i].name);
	out_error("%s: %zu file%s given; 2%s needed, one for each channel (%s)%s", verb, n,
	    n == 1 ? "" : "s", profile->channels == 2 ? " are" : " or more are",
	    names.s ? names.s : "",
	    n == 1 ? "; or --machine FILE whose [programs] has a separator, for a file that holds "
	             "them all"
	           : "");
	text_free(&names);
	return false;
}

struct pair_files *pair_files_read(const struct pair_files_ask *ask)
{
	struct pair_files *p = calloc(1, sizeof(*p));
	struct program *programs[YOKE_CHANNELS_MAX];

	if (!p) {
		out_error("%s: out of memory", ask->verb);
		return NULL;
	}
	if (pair_files_machine(ask->machine, &p->machine) < 0 ||
	    !number_fits(ask->verb, &p->machine.profile, ask->n) || load_sisters(p, ask) < 0)
		goto failed;
	if (ask->n == 1 ? load_one(p, ask->verb, ask->files[0], ask->text) < 0
	                : load_all(p, ask->files, ask->n, ask->text) < 0)
		goto failed;
	for (size_t i = 0; i < p->n; i++)
		programs[i] = (struct program *)p->loaded[i].program;
	p->report = pair_check(&p->machine.profile, programs, p->n);
	if (!p->report || pair_findings(p->report)->failed) {
		out_error("%s: out of memory", ask->verb);
		goto failed;
	}
	return p;
failed:
	pair_files_free(p);
	return NULL;
}

struct pair_files *pair_files_check(const char *verb, const char *machine, char **files, size_t n)
{
	return pair_files_read(
	    &(struct pair_files_ask){.verb = verb, .machine = machine, .files = files, .n = n});
}

static void unmap(const struct pair_files_text *text, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (text[i].bytes)
			munmap(text[i].bytes, text[i].n);
}

void pair_files_free(struct pair_files *p)
{
	if (!p)
		return;
	pair_report_free(p->report);
	for (size_t i = 0; i < p->n; i++)
		program_free((struct program *)p->loaded[i].program);
	for (size_t i = 0; i < p->sisters; i++)
		program_free(p->sister[i]);
	unmap(p->text, YOKE_CHANNELS_MAX);
	unmap(p->sister_text, PAIR_FILES_SISTERS_MAX);
	free(p);
}

int pair_files_status(const struct pair_files *p)
{
	const struct findings *f = pair_findings(p->report);

	for (size_t i = 0; i < f->n; i++)
		if (f->v[i].weight == WEIGHT_REFUSE && f->v[i].id != FINDING_FLOW_UNFOLLOWED &&
		    f->v[i].id != FINDING_RUN_LONG && f->v[i].id != FINDING_SKIP_MANY &&
		    f->v[i].id != FINDING_WAIT_BRANCH)
			return EXIT_REFUSED;
	if (pair_verdict(p->report) == VERDICT_CANNOT_TELL)
		return EXIT_CANNOT_TELL;
	return pair_may_release(p->report) ? EXIT_DONE : EXIT_REFUSED;
}
