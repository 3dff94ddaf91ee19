/*
 * Goal: programs may call what stands in a file of subprograms, which is asked for no job,
 * revision, channel or end of its own; what is found in it is told once, for both channels.
 */
#include "pair_help.h"
#include "yoke/split.h"

static struct program *read_sister(const struct profile *p, const char *text)
{
	struct program *s = program_new_sister(p, "SUBS.NC");

	assert_non_null(s);
	assert_int_equal(program_feed(s, text, strlen(text)), 0);
	assert_int_equal(program_finish(s), 0);
	return s;
}

static struct program *read_with(
    const struct profile *p, const char *file, const char *text, const struct program *sister)
{
	struct program *program = program_new(p, file);

	assert_non_null(program);
	if (sister)
		assert_int_equal(program_sister(program, sister), 0);
	assert_int_equal(program_feed(program, text, strlen(text)), 0);
	assert_int_equal(program_finish(program), 0);
	return program;
}

#define UPPER "%\nO4417(REV C)\nM98P8000\nM98P8001L2\nM30\n%\n"
#define LOWER "%\nO4417(REV C)\nM201\nM202\nM202\nM30\n%\n"
#define SUBS "%\nO8000\nM201\nM99\nO8001\nM202\nM99\n%\n"

static void check(struct checked *c, const struct program *sister)
{
	c->n = 2;
	c->program[0] = read_with(&c->profile, "J4417.UP", UPPER, sister);
	c->program[1] = read_with(&c->profile, "J4417.LO", LOWER, sister);
	c->report = pair_check(&c->profile, c->program, 2);
	assert_non_null(c->report);
}

static void calls_into_a_sister(void **state)
{
	struct program *sister;
	struct checked c;

	pair_help_profile(&c.profile);
	sister = read_sister(&c.profile, SUBS);
	assert_int_equal(program_findings(sister)->n, 0);
	check(&c, sister);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_meetings(c.report), 3);
	assert_int_equal(pair_findings(c.report)->n, 0);
	pair_help_free(&c);
	check(&c, NULL);
	assert_true(pair_help_seen(&c, FINDING_SUB_MISSING) > 0);
	pair_help_free(&c);
	program_free(sister);
}

static void its_findings_are_told_once(void **state)
{
	struct program *sister;
	struct checked c;

	pair_help_profile(&c.profile);
	sister =
	    read_sister(&c.profile, "%\nO8000\nM201\nG0X1\nM99\nO8001\nM202\nM99\nO8001\nM99\n%\n");
	check(&c, sister);
	assert_int_equal(pair_help_seen(&c, FINDING_POINT_MISSING), 1);
	assert_int_equal(pair_help_seen(&c, FINDING_NUMBER_DOUBLED), 1);
	assert_string_equal(pair_help_find(&c, FINDING_POINT_MISSING)->file, "SUBS.NC");
	assert_int_equal(pair_help_find(&c, FINDING_POINT_MISSING)->line, 4);
	pair_help_free(&c);
	program_free(sister);
}

static void the_own_file_comes_first(void **state)
{
	static const char own[] = "%\nO4417(REV C)\nM98P8000\nM30\nO8000\nM203\nM99\n%\n";
	static const char mate[] = "%\nO4417(REV C)\nM203\nM30\n%\n";
	struct program *sister;
	struct checked c;

	pair_help_profile(&c.profile);
	sister = read_sister(&c.profile, SUBS);
	c.n = 2;
	c.program[0] = read_with(&c.profile, "J4417.UP", own, sister);
	c.program[1] = read_with(&c.profile, "J4417.LO", mate, sister);
	c.report = pair_check(&c.profile, c.program, 2);
	assert_non_null(c.report);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	pair_help_free(&c);
	program_free(sister);
}

static void no_more_than_sixteen(void **state)
{
	struct program *sister, *p;
	struct profile profile;

	pair_help_profile(&profile);
	sister = read_sister(&profile, SUBS);
	p = program_new(&profile, "J4417.UP");
	assert_non_null(p);
	for (int i = 0; i < 16; i++)
		assert_int_equal(program_sister(p, sister), 0);
	assert_int_equal(program_sister(p, sister), -1);
	assert_int_equal(program_finish(p), 0);
	program_free(p);
	program_free(sister);
}

/* A file that holds both channels may call into one too. */
static void of_a_split_file(void **state)
{
	static const char both[] = "%\nO4417(REV C)\n$1\nM98P8000\nM30\n$2\nM201\nG0X1.\nM30\n%\n";
	struct program *sister;
	struct checked c;
	struct split *s;

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "separator", "$ {channel}");
	sister = read_sister(&c.profile, SUBS);
	s = split_new(&c.profile, "J4417.NC");
	assert_non_null(s);
	assert_int_equal(split_sister(s, sister), 0);
	assert_int_equal(split_feed(s, both, strlen(both)), 0);
	assert_int_equal(split_finish(s), 0);
	c.n = 2;
	c.program[0] = split_take(s, 0);
	c.program[1] = split_take(s, 1);
	split_free(s);
	c.report = pair_check(&c.profile, c.program, 2);
	assert_non_null(c.report);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	pair_help_free(&c);
	program_free(sister);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(calls_into_a_sister),
	    cmocka_unit_test(its_findings_are_told_once),
	    cmocka_unit_test(the_own_file_comes_first),
	    cmocka_unit_test(no_more_than_sixteen),
	    cmocka_unit_test(of_a_split_file),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
