/*
 * Goal: of all that came in one text each program is found, by its number; what was expected is put
 * together from it in the expected order, and nothing is guessed where a number came twice.
 *
 * The forms of streams are those of controls with a punch, common practice. Which blocks begin a
 * program is compared with the system's own regular expressions (POSIX regcomp).
 */
#include "wire_test.h"

#include <regex.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "canonical.h"
#include "several.h"

static struct several of(const char *text)
{
	struct several s;

	assert_int_equal(several_read(&s, (const uint8_t *)text, strlen(text)), 0);
	return s;
}

/* The parts as "line:name[text]", one behind the other. */
static void reads(const char *text, const char *expected)
{
	struct several s = of(text);
	char told[1000] = "", name[SEVERAL_NAME];
	size_t n = 0;

	for (size_t i = 0; i < s.parts; i++) {
		several_name(&s.part[i], name);
		n += (size_t)snprintf(told + n, sizeof(told) - n, "%d:%s[%.*s]",
		    (int)s.part[i].line, name, (int)s.part[i].size, text + s.part[i].at);
	}
	if (s.behind)
		snprintf(told + n, sizeof(told) - n, "+%d", (int)s.behind);
	if (s.cut)
		strcat(told, "cut");
	assert_string_equal(told, expected);
	several_free(&s);
}

static void taken_apart(void **state)
{
	reads("%\nO1\nM30\n%\n", "2:O0001[O1\nM30\n]");
	/* One % at either end; a % each; one shared; the number directly behind the %. */
	reads("%\nO1\nM30\nO2\nM99\n%\n", "2:O0001[O1\nM30\n]4:O0002[O2\nM99\n]");
	reads("%\nO1\nM30\n%\n%\nO2\nM99\n%\n", "2:O0001[O1\nM30\n]6:O0002[O2\nM99\n]");
	reads("%\nO1\nM30\n%\nO2\nM99\n%\n", "2:O0001[O1\nM30\n]5:O0002[O2\nM99\n]");
	reads("%O1\nM30\n%O2\nM99\n%\n", "1:O0001[O1\nM30\n]3:O0002[O2\nM99\n]");
	/* A label behind %, blanks, colon, leading zeros, no number at all. */
	reads("%(TAPE 7)\n O 0417(X)\n\nM30\n\n\n%\n", "2:O0417[ O 0417(X)\n\nM30\n]");
	reads("%\n:4417 G0\n%\n", "2:O4417[:4417 G0\n]");
	reads("%\n(NOTE)\nG0\nO5\n%\n", "2:[(NOTE)\nG0\n]4:O0005[O5\n]");
	reads("O5\nM30\n", "1:O0005[O5\nM30\n]");
	reads("%\nO5\nM30\n", "2:O0005[O5\nM30\n]");
	reads("O5\nM30\n%\n", "1:O0005[O5\nM30\n]");
	/* No program numbers. */
	reads("%\nO\nO1.5\nN10 O7\nOX1\n(\nO9\n%\n", "2:[O\nO1.5\nN10 O7\nOX1\n(\n]7:O0009[O9\n]");
	reads("%\nO1234567890123456789\n%\n", "2:[O1234567890123456789\n]");
	reads("%\n%\n", "");
	reads("", "");
	/* Behind the last %. */
	reads("%\nO1\n%\nCONNECTION LOST\n", "2:O0001[O1\n]+14");
	reads("%\nO1\n%\n%\nG0\n", "2:O0001[O1\n]+2cut");
	reads("%\nO1\n%\nO2\nG0\n", "2:O0001[O1\n]+4cut");
	reads("%\nO1\n%O2\nG0\n", "2:O0001[O1\n]+2cut");
	reads("%\nO1\n%\n\n \n", "2:O0001[O1\n]");
}

/* How the match comes out, its line, and what is put together. */
static void match(
    const char *expected, const char *came, enum several_way way, uint64_t line, const char *text)
{
	struct several e = of(expected), c = of(came);
	struct several_match m;

	assert_int_equal(several_match(&m, &e, &c), 0);
	assert_int_equal(m.way, way);
	if (way <= SEVERAL_SOME)
		assert_int_equal(m.line, line);
	assert_int_equal(m.text != NULL, text != NULL);
	if (text) {
		assert_int_equal(m.size, strlen(text));
		assert_memory_equal(m.text, text, m.size);
	}
	several_match_free(&m);
	several_free(&e);
	several_free(&c);
}

#define ONE "O0001\nM30\n"
#define JOB "O4417(JOB)\nG1 F0.2\nM30\n"
#define SUB "O9001\nG0\nM99\n"

static void put_together(void **state)
{
	static const char job[] = "%\n" JOB "%\n", both[] = "%\n" JOB SUB "%\n";

	match(job, job, SEVERAL_ALL, 0, job);
	match(job, "%\n" ONE JOB SUB "%\n", SEVERAL_ALL, 0, job);
	match(job, "%\n" ONE "%\n" SUB "%\n" JOB "%\n", SEVERAL_ALL, 0, job);
	/* The control's own order. */
	match(both, "%\n" SUB ONE "%\n%\n" JOB "%\n", SEVERAL_ALL, 0, both);
	match("%\n" JOB "%\n%\n" SUB "%\n", "%\n" SUB JOB "%\n", SEVERAL_ALL, 0,
	    "%\n" JOB "%\n%\n" SUB "%\n");
	match("%O4417(JOB)\nG1 F0.2\nM30\n%\n", "%\n" ONE JOB "%\n", SEVERAL_ALL, 0,
	    "%O4417(JOB)\nG1 F0.2\nM30\n%\n");
	match(JOB, "%\n" ONE JOB "%\n", SEVERAL_ALL, 0, job);
	/* The label of a tape is not made up. */
	match("%(TAPE)\n" JOB "%\n", "%\n" ONE JOB "%\n", SEVERAL_ALL, 0, job);
	/* Changed, at the place where it was expected. */
	match(both, "%\n" SUB ONE "O4417(JOB)\nG1 F0.3\nM30\n%\n", SEVERAL_ALL, 3,
	    "%\nO4417(JOB)\nG1 F0.3\nM30\n" SUB "%\n");
	match(both, "%\nO9001\nG0\n" JOB "%\n", SEVERAL_ALL, 7, "%\n" JOB "O9001\nG0\n%\n");
	match(both, "%\nO9001\nG0\nM99\nM99\n" JOB "%\n", SEVERAL_ALL, 8,
	    "%\n" JOB "O9001\nG0\nM99\nM99\n%\n");
	/* Numbers are numbers. */
	match(
	    "%\nO0417\nM30\n%\n", "%\n" ONE "O417\nM30\n%\n", SEVERAL_ALL, 2, "%\nO417\nM30\n%\n");
	/* Some of it, or nothing. */
	match(both, "%\n" ONE JOB "%\n", SEVERAL_SOME, 5, job);
	match(job, "%\n" ONE SUB "%\n", SEVERAL_NONE, 0, NULL);
	match(job, "%\n%\n", SEVERAL_NONE, 0, NULL);
	/* What has no number is known by its text. */
	match("%\n(A)\n" JOB "%\n", "%\n" ONE "%\n(A)\n" JOB "%\n", SEVERAL_ALL, 0,
	    "%\n(A)\n" JOB "%\n");
	match("%\n(A)\n" JOB "%\n", "%\n" ONE JOB "%\n", SEVERAL_SOME, 2, job);
}

static void came_twice(void **state)
{
	static const char job[] = "%\n" JOB "%\n";

	match(job, "%\n" JOB ONE JOB "%\n", SEVERAL_ALL, 0, job);
	match(job, "%\n" JOB "O4417(OTHER)\nM30\n%\n", SEVERAL_TWICE, 0, NULL);
	match("%\nO1\nO01\n%\n", "%\nO1\nO2\n%\n", SEVERAL_TWICE, 0, NULL);
	/* One that nobody asked for. */
	match(job, "%\n" JOB "O0001\nM30\nO1\nM30\n%\n", SEVERAL_ALL, 0, job);
}

static void what_is_named(void **state)
{
	struct several e = of("%\n" JOB "%\n"), c = of("%\n" ONE JOB "%\n(X)\n%\n" SUB "%\n"), many;
	char names[200], text[4000] = "%\n";
	struct several_match m;

	assert_int_equal(several_match(&m, &e, &c), 0);
	assert_int_equal(several_names(&c, m.used, names, sizeof(names)), 3);
	assert_string_equal(names, "O0001, one without a number, O9001");
	several_match_free(&m);
	several_free(&e);
	several_free(&c);
	for (int i = 100; i < 300; i++)
		sprintf(text + strlen(text), "O%d\nM30\n", i);
	many = of(text);
	assert_int_equal(several_names(&many, NULL, names, sizeof(names)), 200);
	assert_true(!strncmp(names, "O0100, O0101, ", 14));
	assert_true(strstr(names, " and 1") && strstr(names, " more"));
	assert_true(strlen(names) < sizeof(names) - 1);
	several_free(&many);
}

enum { PROGRAMS = 8, LONG = 4000 };

/* Programs in chance's order and framing, with others between, are put together to what was
 * expected. */
static void any_order_and_framing(void **state)
{
	uint32_t seed = 6983;

	for (int round = 0; round < 3000; round++) {
		char program[PROGRAMS][80], expected[LONG] = "%\n", came[LONG] = "%\n";
		size_t wanted = 1 + chance(&seed) % PROGRAMS, order[PROGRAMS];
		struct several e, c;
		struct several_match m;

		for (size_t i = 0; i < PROGRAMS; i++) {
			int n = sprintf(program[i], "O%d(JOB)\n", (int)(100 * i + 7));

			for (uint32_t k = chance(&seed) % 4; k > 0; k--)
				n += sprintf(program[i] + n, "G1 X%u\n", chance(&seed) % 100);
			order[i] = i;
		}
		for (size_t i = PROGRAMS; i > 1; i--) {
			size_t k = chance(&seed) % i, was = order[i - 1];

			order[i - 1] = order[k];
			order[k] = was;
		}
		for (size_t i = 0; i < wanted; i++)
			strcat(expected, program[i]);
		strcat(expected, "%\n");
		for (size_t i = 0; i < PROGRAMS; i++) {
			strcat(came, program[order[i]]);
			strcat(came, chance(&seed) & 1 ? "" : chance(&seed) & 1 ? "%\n" : "%\n%\n");
		}
		strcat(came, "%\n");
		e = of(expected);
		c = of(came);
		assert_int_equal(e.parts, wanted);
		assert_int_equal(c.parts, PROGRAMS);
		assert_int_equal(several_match(&m, &e, &c), 0);
		assert_int_equal(m.way, SEVERAL_ALL);
		assert_int_equal(m.line, 0);
		assert_int_equal(m.size, strlen(expected));
		assert_memory_equal(m.text, expected, m.size);
		for (size_t i = 0; i < PROGRAMS; i++)
			assert_int_equal(m.used[i], order[i] < wanted);
		several_match_free(&m);
		several_free(&e);
		several_free(&c);
	}
}

/* Which blocks begin a program, by a regular expression. */
static void against_regular_expressions(void **state)
{
	static const char alphabet[] = "O:%0417 .X\n\nO1\n";
	uint32_t seed = 4417;
	regex_t begins;

	assert_int_equal(
	    regcomp(&begins, "^%?[ \t]*[O:][ \t]*[0-9]{1,18}($|[^0-9.])", REG_EXTENDED), 0);
	for (int round = 0; round < 20000; round++) {
		char text[60] = "%\n", copy[60], *line, *rest = copy;
		size_t n = 2 + chance(&seed) % 50, found = 0;
		struct several s;

		for (size_t i = 2; i < n; i++)
			text[i] = alphabet[chance(&seed) % (sizeof(alphabet) - 1)];
		strcpy(text + n, "\n%\n");
		s = of(text);
		memcpy(copy, text, sizeof(copy));
		while ((line = strsep(&rest, "\n")))
			if (!regexec(&begins, line, 0, NULL, 0))
				found++;
		for (size_t i = 0; i < s.parts; i++)
			found -= s.part[i].numbered;
		assert_int_equal(found, 0);
		several_free(&s);
	}
	regfree(&begins);
}

/* As many as there may be, and more: nothing is left out. */
static void too_many(void **state)
{
	size_t n = 0, room = 16 * (SEVERAL_MOST + 10);
	char *text = malloc(room);
	struct several s;

	assert_non_null(text);
	n += (size_t)sprintf(text, "%%\n");
	for (int i = 0; i < SEVERAL_MOST + 9; i++)
		n += (size_t)sprintf(text + n, "O%d\n", 10000 + i);
	sprintf(text + n, "%%\nBYE\n");
	s = of(text);
	assert_int_equal(s.parts, SEVERAL_MOST);
	assert_int_equal(s.behind, 3);
	assert_int_equal(s.part[SEVERAL_MOST - 1].size, 7 * 10);
	several_free(&s);
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(taken_apart),
	    cmocka_unit_test(put_together),
	    cmocka_unit_test(came_twice),
	    cmocka_unit_test(what_is_named),
	    cmocka_unit_test(any_order_and_framing),
	    cmocka_unit_test(against_regular_expressions),
	    cmocka_unit_test(too_many),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
