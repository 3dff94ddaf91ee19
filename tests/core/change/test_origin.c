/*
 * Goal: each block is traced to the version in which it was last changed, wherever it stands now; and
 * line by line to what a general-purpose tool says of the same texts (git blame -M).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "yoke/origin.h"
#include "yoke/text.h"

enum { BLOCKS_MAX = 400, VERSIONS = 12, SEEDS = 8 };

static struct profile profile;
static struct change_origin *origin;

static void begin(void)
{
	change_origin_free(origin);
	origin = change_origin_new(&profile);
	assert_non_null(origin);
}

static void version(const char *text)
{
	assert_int_equal(change_origin_add(origin, text, strlen(text)), 0);
}

static int put(void *ctx, const struct change_origin_place *p)
{
	text_printf(ctx, "%llu: %u:%llu<%llu ", (unsigned long long)p->line, p->version,
	    (unsigned long long)p->version_line, (unsigned long long)p->before_line);
	return 0;
}

/* Each place as "LINE: VERSION:ITS LINE THERE<LINE OF WHAT IT REPLACED". */
static void find(const char *query, const char *wanted)
{
	struct text t = {0};

	text_puts(&t, "");
	assert_true(change_origin_find(origin, query, put, &t) >= 0);
	if (strcmp(t.s ? t.s : "", wanted) != 0)
		fail_msg("%s: expected '%s', got '%s'", query, wanted, t.s ? t.s : "");
	text_free(&t);
}

static void test_changed(void **state)
{
	begin();
	version("N10 G0 X1.\nN20 G1 Z-1. F0.2\nN30 M30\n");
	version("N10 G0 X1.\nN20 G1 Z-1. F0.25\nN30 M30\n");
	version("N10 G0 X1.\nN15 M8\nN20 G1 Z-1. F0.25\nN30 M30\n");
	find("N10", "1: 0:1<0 ");
	find("N20", "3: 1:2<2 ");
	find("N0020", "3: 1:2<2 ");
	find("n 20", "3: 1:2<2 ");
	find("G1Z-1.0F.25", "3: 1:2<2 ");
	find("N15", "2: 2:2<0 ");
	find("m30 (end)", "4: 0:3<0 ");
	find("N99", "");
	find("G1 Z-1. F0.2", "");
	find("N20 M30", "");
	find("", "");
	find("(only a comment)", "");
}

static void test_not_changed(void **state)
{
	begin();
	version("N10 G0 X1.5\nN20 M201\nN30 G1 Z-1.\nN40 GOTO 20\nN50 M30\n");
	/* Comments, blanks and zeros; then all numbers, and the jump that follows them. */
	version("N10 G0 X1.50 (roughing)\nN20 M201\r\nN30 G01 Z-1.\nN40 GOTO 20\nN50 M30\n");
	version("N100 G0 X1.5\nN200 M201\nN300 G1 Z-1.\nN400 GOTO 200\nN500 M30\n");
	find("N100", "1: 0:1<0 ");
	find("N200", "2: 0:2<0 ");
	find("N300", "3: 0:3<0 ");
	find("GOTO 200", "4: 0:4<0 ");
	/* A jump that leads elsewhere now was changed. */
	version("N100 G0 X1.5\nN200 M201\nN300 G1 Z-1.\nN400 GOTO 300\nN500 M30\n");
	find("N400", "4: 3:4<4 ");
	begin();
	version("G1 X1. Z-5. F0.2\nM30\n");
	version("F0.2 G1 Z-5. X1.\nM30\n");
	find("F0.2 G1 Z-5. X1.", "1: 0:1<0 ");
}

static void test_moved(void **state)
{
	begin();
	version("G0 X1.\nT0101\nG1 Z-5.\nM201\nG0 X2.\nG1 Z-6.\nM202\nM30\n");
	version("G0 X1.\nG0 X2.\nG1 Z-6.\nM202\nT0101\nG1 Z-5.\nM201\nM30\n");
	find("T0101", "5: 0:2<0 ");
	find("M201", "7: 0:4<0 ");
	find("G1 Z-6.", "3: 0:6<0 ");
	/* Moved back, and changed on the way. */
	version("G0 X1.\nT0102\nG1 Z-5.\nM201\nG0 X2.\nG1 Z-6.\nM202\nM30\n");
	find("M201", "4: 0:4<0 ");
	find("G1 Z-6.", "6: 0:6<0 ");
	find("T0102", "2: 2:2<5 ");
}

/* The move was taken for that of M202, so that the changed block stood in no region with what it was
 * before, and nobody was told what it said then. */
static void test_changed_beside_a_move(void **state)
{
	begin();
	version("G0 X40.\nM201\nT0101\nG1 Z-18.5 F0.2\nM202\nG0 X90.\nM30\n");
	version("G0 X40.\nM201\nG1 Z-18.5 F0.25\nM202\nT0101\nG0 X80.\nM30\n");
	find("G1 Z-18.5 F0.25", "3: 1:3<4 ");
	find("G0 X80.", "6: 1:6<6 ");
	find("T0101", "5: 0:3<0 ");
	find("M202", "4: 0:5<0 ");
}

static void test_ambiguous(void **state)
{
	begin();
	version("G0 X1.\nG1 Z-5.\nM201\n");
	version("G0 X1.\nG1 Z-5.\nM201\nG0 X3.\nG1 Z-5.\nM202\n");
	find("G1 Z-5.", "2: 0:2<0 5: 1:5<0 ");
	/* A number that stands twice, and one alone on its line. */
	begin();
	version("N10 G0 X1.\nN20\n(finishing)\n/N10 G1 Z-5.\nM30\n");
	find("N10", "1: 0:1<0 4: 0:4<0 ");
	find("N20", "");
	begin();
	version("N10 G0 X1.\nN20\n(finishing)\nG1 Z-5.\nM30\n");
	find("N20", "4: 0:4<0 ");
	find("N20 G1 Z-5.", "4: 0:4<0 ");
	find("N10 G1 Z-5.", "");
}

/* What was taken out and is put in again has no memory of its first time. */
static void test_back_again(void **state)
{
	begin();
	version("G0 X1.\nM8\nG1 Z-5.\n");
	version("G0 X1.\nG1 Z-5.\n");
	version("G0 X1.\nM8\nG1 Z-5.\n");
	find("M8", "2: 2:2<0 ");
	begin();
	find("M8", "");
	version("");
	find("M8", "");
	version("M8\n");
	find("M8", "1: 1:1<0 ");
}

/* --- The same questions to git --- */

/* A text of blocks that are all different, and long enough for git to follow when they move (20
 * letters or digits; git-blame(1), -M). */
struct sheet {
	unsigned block[BLOCKS_MAX]; /* what tells it from all others */
	size_t n;
	unsigned next;
	uint64_t seed;
};

/* A linear congruential generator, Knuth, The Art of Computer Programming, vol. 2, 3.3.4: MMIX. */
static unsigned draw(struct sheet *s, unsigned below)
{
	s->seed = s->seed * 6364136223846793005u + 1442695040888963407u;
	return (unsigned)(s->seed >> 33) % below;
}

static void edit(struct sheet *s)
{
	size_t at = draw(s, (unsigned)s->n), to, n = 3 + draw(s, 8);
	unsigned run[16];

	switch (draw(s, 4)) {
	case 0: /* changed */
		s->block[at] = s->next++;
		break;
	case 1: /* put in */
		if (s->n == BLOCKS_MAX)
			break;
		memmove(&s->block[at + 1], &s->block[at], (s->n++ - at) * sizeof(s->block[0]));
		s->block[at] = s->next++;
		break;
	case 2: /* taken out */
		memmove(&s->block[at], &s->block[at + 1], (--s->n - at) * sizeof(s->block[0]));
		break;
	default: /* moved */
		if (at + n > s->n)
			break;
		memcpy(run, &s->block[at], n * sizeof(run[0]));
		memmove(&s->block[at], &s->block[at + n], (s->n - at - n) * sizeof(run[0]));
		to = draw(s, (unsigned)(s->n - n));
		memmove(&s->block[to + n], &s->block[to], (s->n - n - to) * sizeof(run[0]));
		memcpy(&s->block[to], run, n * sizeof(run[0]));
	}
}

static void write_sheet(const struct sheet *s, struct text *out)
{
	for (size_t i = 0; i < s->n; i++)
		text_printf(out, "G1 X%u.%03u Y%u.125 Z-%u.875 F0.%u\n", s->block[i] / 7, s->block[i],
		    s->block[i] % 13, s->block[i] * 3, 100 + s->block[i]);
}

static void run(const char *folder, const char *command)
{
	char line[1200];

	snprintf(line, sizeof(line),
	    "cd %s && GIT_CONFIG_GLOBAL=/dev/null GIT_CONFIG_NOSYSTEM=1 git -c user.name=t -c "
	    "user.email=t@localhost %s",
	    folder, command);
	assert_int_equal(system(line), 0);
}

static void commit(const char *folder, const struct text *text, unsigned number)
{
	char path[600], command[100];
	FILE *f;

	snprintf(path, sizeof(path), "%s/program", folder);
	f = fopen(path, "w");
	assert_non_null(f);
	assert_int_equal(fwrite(text->s, 1, text->n, f), text->n);
	assert_int_equal(fclose(f), 0);
	run(folder, "add program");
	snprintf(command, sizeof(command), "commit -q --allow-empty -m 'version %u'", number);
	run(folder, command);
}

struct compared {
	unsigned git[BLOCKS_MAX + 1]; /* by line */
	size_t lines;
	unsigned ours;
};

/* "summary version 7" stands before the lines of a commit; each line's own text begins with a tab. */
static void read_blame(const char *folder, struct compared *c)
{
	char path[600], line[400];
	unsigned number = 0;
	FILE *f;

	run(folder, "blame -M --line-porcelain program >blame");
	snprintf(path, sizeof(path), "%s/blame", folder);
	f = fopen(path, "r");
	assert_non_null(f);
	while (fgets(line, sizeof(line), f)) {
		sscanf(line, "summary version %u", &number);
		if (*line == '\t')
			c->git[++c->lines] = number;
	}
	fclose(f);
}

static int same_as_git(void *ctx, const struct change_origin_place *p)
{
	struct compared *c = ctx;

	if (p->version != c->git[p->line])
		fail_msg("line %llu: version %u here, %u by git", (unsigned long long)p->line,
		    p->version, c->git[p->line]);
	c->ours++;
	return 0;
}

static void blame(uint64_t seed)
{
	char folder[] = "/tmp/yoke-origin.XXXXXX", remove[64];
	struct text text[VERSIONS] = {0};
	struct sheet s = {.n = 120, .next = 120, .seed = seed};
	struct compared c = {0};

	assert_non_null(mkdtemp(folder));
	run(folder, "init -q .");
	for (unsigned i = 0; i < s.n; i++)
		s.block[i] = i;
	begin();
	for (unsigned v = 0; v < VERSIONS; v++) {
		for (unsigned e = 0; v > 0 && e < 5; e++)
			edit(&s);
		write_sheet(&s, &text[v]);
		assert_int_equal(change_origin_add(origin, text[v].s, text[v].n), 0);
		commit(folder, &text[v], v);
	}
	read_blame(folder, &c);
	assert_int_equal(c.lines, s.n);
	for (unsigned i = 0; i < s.n; i++) {
		struct sheet lone = {.block = {s.block[i]}, .n = 1};
		struct text block = {0};

		write_sheet(&lone, &block);
		assert_int_equal(change_origin_find(origin, block.s, same_as_git, &c), 1);
		text_free(&block);
	}
	assert_int_equal(c.ours, s.n);
	for (unsigned v = 0; v < VERSIONS; v++)
		text_free(&text[v]);
	snprintf(remove, sizeof(remove), "rm -rf %s", folder);
	assert_int_equal(system(remove), 0);
}

static void test_git(void **state)
{
	if (system("git --version >/dev/null 2>&1") != 0)
		skip();
	for (uint64_t seed = 1; seed <= SEEDS; seed++)
		blame(seed);
}

static int before(void **state)
{
	profile_defaults(&profile);
	return 0;
}

static int after(void **state)
{
	change_origin_free(origin);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_changed),
	    cmocka_unit_test(test_not_changed),
	    cmocka_unit_test(test_moved),
	    cmocka_unit_test(test_changed_beside_a_move),
	    cmocka_unit_test(test_ambiguous),
	    cmocka_unit_test(test_back_again),
	    cmocka_unit_test(test_git),
	};

	return cmocka_run_group_tests(tests, before, after);
}
