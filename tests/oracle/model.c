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
 * executable (Promela's definition): then what became of the channels is told.
 */
static const char preface[] =
    "#define UNK 99\n"
    "#define ENDED 1\n#define LOST 2\n#define NOT_KNOWN 3\n"
    "#define RECEIVING 200\n"
    "#define OK(i,j) (!(with[i]>>j&1) || (key[j]==key[i] && with[j]==with[i]))\n"
    "#define FULL(i) (with[i]!=0 && OK(i,0) && OK(i,1) && OK(i,2) && OK(i,3))\n"
    "#define FREE(j) if :: m>>j&1 -> key[j]=0; with[j]=0; BEAT(j) :: else fi\n"
    "#define RELEASE(i) d_step { FULL(i) -> m=with[i]; FREE(0); FREE(1); FREE(2); FREE(3); m=0 }\n"
    "byte key[4], with[4], stop[4];\nshort sent[8];\nshort job;\nbyte set;\n"
    "#ifdef CYCLES\nbit pass[4];\n#define BEAT(i) pass[i]=1-pass[i]\n#else\n#define BEAT(i) skip\n"
    "#endif\n";

/*
 * Runs without end. GOES: every channel passes codes or rounds again and again, or has stopped.
 * STARVES: one channel waits for ever, and each of the others goes on, has stopped, or waits.
 */
static const char claims[] =
    "#define GOES(j) (stop[j]!=0 || pass[j])\n"
    "#define WENT(j) (stop[j]!=0 || !pass[j])\n"
    "#ifdef GOOD\n"
    "never {\n"
    "a0: if :: GOES(0) -> goto b0 :: else -> goto a0 fi;\n"
    "b0: if :: WENT(0) -> goto a1 :: else -> goto b0 fi;\n"
    "a1: if :: GOES(1) -> goto b1 :: else -> goto a1 fi;\n"
    "b1: if :: WENT(1) -> goto a2 :: else -> goto b1 fi;\n"
    "a2: if :: GOES(2) -> goto b2 :: else -> goto a2 fi;\n"
    "b2: if :: WENT(2) -> goto a3 :: else -> goto b2 fi;\n"
    "a3: if :: GOES(3) -> goto b3 :: else -> goto a3 fi;\n"
    "b3: if :: WENT(3) -> goto accept_all :: else -> goto b3 fi;\n"
    "accept_all: skip; goto a0\n"
    "}\n#endif\n"
    "#ifdef STARVES\n"
    "byte who;\n"
    "#define CAN(j) (key[j]>=RECEIVING && sent[(key[j]-RECEIVING)*4+j]>0)\n"
    "#define WAITS(j) (key[j]!=0 && !FULL(j) && !CAN(j))\n"
    "#define HERE WAITS(who)\n"
    "#define A(j) (j==who || WAITS(j) || GOES(j))\n"
    "#define B(j) (j==who || WAITS(j) || WENT(j))\n"
    "never {\n"
    "any: if :: true -> goto any :: HERE -> goto a0 fi;\n"
    "a0: if :: HERE && A(0) -> goto b0 :: HERE && !A(0) -> goto a0 fi;\n"
    "b0: if :: HERE && B(0) -> goto a1 :: HERE && !B(0) -> goto b0 fi;\n"
    "a1: if :: HERE && A(1) -> goto b1 :: HERE && !A(1) -> goto a1 fi;\n"
    "b1: if :: HERE && B(1) -> goto a2 :: HERE && !B(1) -> goto b1 fi;\n"
    "a2: if :: HERE && A(2) -> goto b2 :: HERE && !A(2) -> goto a2 fi;\n"
    "b2: if :: HERE && B(2) -> goto a3 :: HERE && !B(2) -> goto b2 fi;\n"
    "a3: if :: HERE && A(3) -> goto b3 :: HERE && !A(3) -> goto a3 fi;\n"
    "b3: if :: HERE && B(3) -> goto accept_who :: HERE && !B(3) -> goto b3 fi;\n"
    "accept_who: HERE; goto a0\n"
    "}\n"
    "#define CHOOSE_WHO if :: who=0 :: who=1 :: who=2 :: who=3 fi\n"
    "#else\n#define CHOOSE_WHO skip\n#endif\n";

static const char watcher[] =
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
    "run meet(); run watch(); CHOOSE_WHO;\nif\n";

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
	fprintf(out, "%s%s%s", preface, claims, watcher);
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
    struct model_count *count, bool *cycle)
{
	static const uint8_t kind[] = {RUN_GOOD, RUN_BLOCKED, RUN_UNKNOWN};
	char line[512];
	int s, k;
	unsigned long errors = 0, stand = 0;
	double states;
	bool whole = false, cut = false;
	FILE *in;

	snprintf(line, sizeof line, "cd '%s' && JOB=%d SET=%d %s -n 2>&1", folder, i, setting, pan);
	in = popen(line, "re");
	while (in && fgets(line, sizeof line, in)) {
		const char *e = strstr(line, "errors: ");

		cut |= strstr(line, "too small") || strstr(line, "bound");
		if (sscanf(line, "@ %d %d", &s, &k) == 2 && s >= 0 && s < JOB_SETTINGS && k >= 0 &&
		    k < 3)
			found[s] |= kind[k];
		else if (strstr(line, "acceptance cycle (at depth"))
			*cycle = true;
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

/* A loop that may go round any number of times, or for ever. */
static bool cycles(const struct job *j)
{
	const unsigned kinds = 1u << NODE_WHILE | 1u << NODE_UNTIL | 1u << NODE_ENDLESS;

	for (int c = 0; c < j->channels; c++) {
		if (j->tree[c].again)
			return true;
		for (int i = 1; i < j->tree[c].nodes; i++)
			if (kinds >> j->tree[c].node[i].kind & 1)
				return true;
	}
	return false;
}

/* Something in any channel goes one way or the other. */
static bool chooses(const struct job *j)
{
	const unsigned kinds = 1u << NODE_SKIP | 1u << NODE_EITHER | 1u << NODE_LEAVE |
	                       1u << NODE_THEN | 1u << NODE_WHILE | 1u << NODE_UNTIL;

	for (int c = 0; c < j->channels; c++)
		for (int i = 1; i < j->tree[c].nodes; i++)
			if (kinds >> j->tree[c].node[i].kind & 1)
				return true;
	return false;
}

/* Whether channel c meets somebody in each run of the list. */
static bool meets(const struct tree *t, int c, int16_t first)
{
	for (int16_t i = first; i; i = t->node[i].next) {
		const struct node *n = &t->node[i];

		if (n->slash)
			continue;
		if (n->kind == NODE_WAIT && n->partners >> c & 1)
			return true;
		if (n->kind == NODE_LOOP && meets(t, c, n->body))
			return true;
		if ((n->kind == NODE_CALL || n->kind == NODE_MACRO) &&
		    meets(t, c, t->unit[n->unit]))
			return true;
		if (n->kind == NODE_STOP || n->kind == NODE_LEAVE)
			return false;
	}
	return false;
}

/*
 * A round, or a loop without end, that choices may lead past all codes for ever: whether such a run
 * counts is not agreed. The check takes choices to come out otherwise one day.
 */
static bool evades(const struct job *j)
{
	for (int c = 0; c < j->channels; c++) {
		const struct tree *t = &j->tree[c];

		if (t->again && chooses(j) && !meets(t, c, t->unit[0]))
			return true;
		for (int i = 1; i < t->nodes; i++)
			if (t->node[i].kind == NODE_ENDLESS && chooses(j) &&
			    !meets(t, c, t->node[i].body))
				return true;
	}
	return false;
}

static int ask_job(
    const char *folder, const struct job *j, int i, uint8_t *found, struct model_count *count)
{
	bool cycle = false;

	if (evades(j)) {
		found[0] |= RUN_UNCLEAR;
		return 0;
	}
	if (search(folder, "./pan -c0 -m20000 -w16", i, -1, found, count, &cycle))
		return -1;
	for (int s = 0; s < JOB_SETTINGS && !(found[0] & RUN_LARGE); s++) {
		if (!counts(j, s))
			continue;
		if (!(found[s] & RUN_BLOCKED) && cycles(j)) {
			cycle = false;
			if (search(
			        folder, "./starves -a -E -m20000 -w16", i, s, found, count, &cycle))
				return -1;
			found[s] |= cycle ? RUN_BLOCKED : 0;
			/* the same with one that choices alone keep away from a mate */
			found[0] |= cycle && chooses(j) ? RUN_UNCLEAR : 0;
		}
		if (found[s] == RUN_BLOCKED && cycles(j)) {
			cycle = false;
			if (search(folder, "./good -a -E -m20000 -w16", i, s, found, count, &cycle))
				return -1;
			found[s] |= cycle ? RUN_GOOD : 0;
		}
		/* what never blocks and never ends runs for ever */
		if (!found[s])
			found[s] = RUN_GOOD;
	}
	return 0;
}

static int build(const char *folder, const char *spin, const char *cc)
{
	return shell(folder, spin) || shell(folder, cc) ? -1 : 0;
}

int model_ask(
    const char *folder, uint64_t from, uint64_t to, uint8_t *found, struct model_count *count)
{
	char path[512];
	int jobs = (int)(to - from), rc = -1;
	struct job *j = malloc(sizeof *j);

	/* Thousands of lines for one function: tcc takes a hundredth of the time. */
	memset(found, 0, (size_t)jobs * JOB_SETTINGS);
	snprintf(path, sizeof path, "%s/jobs.pml", folder);
	if (!j || write_model(path, from, to) ||
	    build(folder, "spin -a jobs.pml",
	        "tcc -w -DNOFAIR -DSAFETY -DMEMLIM=" MEMORY " -o pan pan.c") ||
	    build(folder, "spin -DCYCLES -DGOOD -a jobs.pml",
	        "tcc -w -DNOFAIR -DNOSTUTTER -DMEMLIM=" MEMORY " -o good pan.c") ||
	    build(folder, "spin -DCYCLES -DSTARVES -a jobs.pml",
	        "tcc -w -DNOFAIR -DNOSTUTTER -DMEMLIM=" MEMORY " -o starves pan.c"))
		goto out;
	for (int i = 0; i < jobs; i++) {
		job_invent(j, from + (uint64_t)i);
		if (ask_job(folder, j, i, found + i * JOB_SETTINGS, count))
			goto out;
	}
	rc = 0;
out:
	free(j);
	return rc;
}
