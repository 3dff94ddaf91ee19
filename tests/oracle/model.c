#include "model.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include "job.h"

/* MB for one job's states; what needs more is left out and counted. */
#define MEMORY "14"

/*
 * Channels post where they stand; a process of its own lets those go whose partners all stand at
 * the same code with the same partners. A system in which nothing can move makes `timeout`
 * executable (Promela's definition): then what became of the channels is told. With CYCLES the
 * never claim accepts runs in which there are meetings, or rounds of a program that begins again,
 * without end.
 */
static const char preface[] =
    "#define UNK 99\n"
    "#define ENDED 1\n#define LOST 2\n#define NOT_KNOWN 3\n"
    "#define OK(i,j) (!(with[i]>>j&1) || (key[j]==key[i] && with[j]==with[i]))\n"
    "#define FULL(i) (key[i]!=0 && OK(i,0) && OK(i,1) && OK(i,2) && OK(i,3))\n"
    "#define FREE(j) if :: m>>j&1 -> key[j]=0; with[j]=0 :: else fi\n"
    "#define RELEASE(i) d_step { FULL(i) -> m=with[i]; FREE(0); FREE(1); FREE(2); FREE(3); m=0; "
    "BEAT }\n"
    "#ifdef CYCLES\n#define BEAT beat=1-beat\nbit beat;\n"
    "never {\n"
    "low: if :: beat -> goto high :: else -> goto low fi;\n"
    "high: if :: !beat -> goto accept_both :: else -> goto high fi;\n"
    "accept_both: if :: true -> goto low fi\n"
    "}\n#else\n#define BEAT skip\n#endif\n"
    "byte key[4], with[4], stop[4];\nshort sent[8];\nshort job;\nbyte set;\n"
    "c_decl {\n"
    "static unsigned char told[16][3];\n"
    "static unsigned long not_good;\n"
    "static int only_set;\n"
    "static void sum(void) { printf(\"# %lu\\n\", not_good); }\n"
    "}\n"
    "proctype meet() {\nbyte m;\n"
    "end_meet: do :: RELEASE(0) :: RELEASE(1) :: RELEASE(2) od\n}\n"
    "proctype watch() {\ntimeout -> c_code {\n"
    "int kind = 0;\n"
    "for (int i = 0; i < 4; i++)\n"
    "  if (now.stop[i] == 0 && kind == 0) kind = 1; else if (now.stop[i] == 3) kind = 2;\n"
    "not_good += now.stop[0]==0 || now.stop[1]==0 || now.stop[2]==0 || now.stop[3]==0;\n"
    "if (!told[now.set][kind]++) printf(\"@ %d %d\\n\", now.set, kind);\n"
    "}\n}\n";

static const char start[] =
    "init {\natomic {\n"
    "c_code { static int once; if (!once++) { atexit(sum);\n"
    "now.job = atoi(getenv(\"JOB\")); only_set = atoi(getenv(\"SET\")); } };\n"
    "run meet(); run watch();\nif\n";

/* A switch that no block of its channels asks for makes no setting. */
static bool counts(const struct job *j, int setting)
{
	unsigned any = 0;

	for (int c = 0; c < j->channels; c++)
		any |= job_levels(j, c);
	for (int c = 0; c < j->channels; c++)
		if (job_on(j, setting, c) & ~(j->separate ? job_levels(j, c) : any))
			return false;
	return setting < job_settings(j);
}

static void write_start(const struct job *j, int k, FILE *out)
{
	fprintf(out, ":: job==%d -> if", k);
	for (int s = 0; s < JOB_SETTINGS; s++)
		if (counts(j, s))
			fprintf(
			    out, " :: c_expr { only_set < 0 || only_set == %d } -> set=%d", s, s);
	fprintf(out, " fi;");
	for (int c = j->channels; c < JOB_CHANNELS; c++)
		fprintf(out, " stop[%d]=ENDED;", c);
	for (int c = 0; c < j->channels; c++) {
		if (j->separate)
			fprintf(out, " run j%dc%d((set>>%d&3)<<1)%s", k, c, 2 * c,
			    c + 1 < j->channels ? ";" : "\n");
		else
			fprintf(
			    out, " run j%dc%d(set<<1)%s", k, c, c + 1 < j->channels ? ";" : "\n");
	}
}

static int write_model(const char *path, uint64_t from, uint64_t to)
{
	struct job *j = malloc(sizeof *j);
	FILE *out = fopen(path, "we");
	char *starts = NULL;
	size_t n = 0;
	FILE *later = open_memstream(&starts, &n);
	int rc = -1;

	if (!j || !out || !later)
		goto out;
	fputs(preface, out);
	for (uint64_t seed = from; seed < to; seed++) {
		job_invent(j, seed);
		job_write_model(j, (int)(seed - from), out);
		write_start(j, (int)(seed - from), later);
	}
	fflush(later);
	fprintf(out, "%s%sfi\n}\n}\n", start, starts);
	rc = ferror(out) ? -1 : 0;
out:
	if (later)
		fclose(later);
	if (out && fclose(out) != 0)
		rc = -1;
	free(starts);
	free(j);
	if (rc)
		fprintf(stderr, "oracle: %s: %s\n", path, strerror(errno));
	return rc;
}

static int shell(const char *folder, const char *command)
{
	char line[1024];
	int rc;

	snprintf(line, sizeof line,
	    "cd '%s' && %s >tool.out 2>&1 || { tail -n 20 tool.out; exit 1; }", folder, command);
	rc = system(line);
	if (rc != 0)
		fprintf(stderr, "oracle: status %d: %s\n", rc, line);
	return rc == 0 ? 0 : -1;
}

/* One search: job i under one setting, or under all with -1. RUN_LARGE where it did not fit. */
static int search(const char *folder, const char *pan, int i, int setting, uint8_t *found,
    struct model_count *count)
{
	static const uint8_t kind[] = {RUN_GOOD, RUN_BLOCKED, RUN_UNKNOWN};
	char line[512];
	int s, k;
	unsigned long errors = 0, stand = 0;
	double states;
	bool whole = false, cut = false;
	FILE *in;

	snprintf(line, sizeof line, "cd '%s' && JOB=%d SET=%d %s 2>&1", folder, i, setting, pan);
	in = popen(line, "re");
	while (in && fgets(line, sizeof line, in)) {
		const char *e = strstr(line, "errors: ");

		cut |= strstr(line, "too small") || strstr(line, "bound");
		if (sscanf(line, "@ %d %d", &s, &k) == 2 && s >= 0 && s < JOB_SETTINGS && k >= 0 &&
		    k < 3)
			found[s] |= kind[k];
		else if (strstr(line, "acceptance cycle (at depth"))
			found[setting] |= RUN_GOOD;
		else if (e)
			whole = sscanf(e, "errors: %lu", &errors) == 1;
		else if (strstr(line, "states, stored") && sscanf(line, "%lf", &states) == 1)
			count->states += (uint64_t)states;
		else
			sscanf(line, "# %lu", &stand);
	}
	if (!in || pclose(in) < 0 || (!whole && !cut)) {
		fprintf(stderr, "oracle: pan came to no end with job %d\n", i);
		return -1;
	}
	if (cut)
		found[0] |= RUN_LARGE;
	if (cut || setting >= 0)
		return 0;
	count->errors += errors;
	count->blocked += stand;
	return 0;
}

static int ask_job(const char *folder, int i, uint8_t *found, struct model_count *count)
{
	if (search(folder, "./pan -n -c0 -m20000 -w16", i, -1, found, count))
		return -1;
	/* Where a job blocks and never ends well it may still go on for ever: a cycle of meetings.
	 */
	for (int s = 0; s < JOB_SETTINGS && !(found[0] & RUN_LARGE); s++)
		if (found[s] == RUN_BLOCKED &&
		    search(folder, "./cycles -n -a -E -m20000 -w16", i, s, found, count))
			return -1;
	return 0;
}

/* What never blocks, and never ends, runs for ever. */
static int fill(uint64_t from, uint64_t to, uint8_t *found)
{
	struct job *j = malloc(sizeof *j);

	if (!j)
		return -1;
	for (uint64_t seed = from; seed < to; seed++) {
		job_invent(j, seed);
		for (int s = 0; s < JOB_SETTINGS; s++)
			if (counts(j, s) && !found[(seed - from) * JOB_SETTINGS + (uint64_t)s])
				found[(seed - from) * JOB_SETTINGS + (uint64_t)s] = RUN_GOOD;
	}
	free(j);
	return 0;
}

int model_ask(
    const char *folder, uint64_t from, uint64_t to, uint8_t *found, struct model_count *count)
{
	char path[512];
	int jobs = (int)(to - from);

	/* Thousands of lines for one function: tcc takes a hundredth of the time. */
	memset(found, 0, (size_t)jobs * JOB_SETTINGS);
	snprintf(path, sizeof path, "%s/jobs.pml", folder);
	if (write_model(path, from, to) || shell(folder, "spin -a jobs.pml") ||
	    shell(folder, "tcc -w -DNOFAIR -DSAFETY -DMEMLIM=" MEMORY " -o pan pan.c") ||
	    shell(folder, "spin -DCYCLES -a jobs.pml") ||
	    shell(folder, "tcc -w -DNOFAIR -DMEMLIM=" MEMORY " -o cycles pan.c"))
		return -1;
	for (int i = 0; i < jobs; i++)
		if (ask_job(folder, i, found + i * JOB_SETTINGS, count))
			return -1;
	return fill(from, to, found);
}
