/*
 * Goal: a file that holds several channels is read as the programs that it holds, each finding with
 * the line of the file; what belongs to no channel is told; and neither line ends, nor the size of
 * chunks, nor hostile bytes change what is read.
 */
#include <stdio.h>
#include <stdlib.h>
#include "pair_help.h"
#include "separator.h"
#include "yoke/split.h"

static void profile_with(struct profile *p, const char *separator)
{
	pair_help_profile(p);
	pair_help_set(p, "programs", "separator", separator);
}

/* Read n bytes in chunks of a size, take the programs and check them. */
static void check_split(struct checked *c, const char *text, size_t n, size_t chunk)
{
	struct split *s = split_new(&c->profile, "J4417.NC");

	assert_non_null(s);
	for (size_t at = 0; at < n; at += chunk)
		assert_int_equal(split_feed(s, text + at, n - at < chunk ? n - at : chunk), 0);
	assert_int_equal(split_finish(s), 0);
	c->n = 0;
	c->report = NULL;
	for (uint32_t i = 0; i < c->profile.channels; i++) {
		struct program *p = split_take(s, (int)i);

		if (p)
			c->program[c->n++] = p;
		assert_null(split_take(s, (int)i));
	}
	split_free(s);
	if (c->n > 0) {
		c->report = pair_check(&c->profile, c->program, c->n);
		assert_non_null(c->report);
	}
}

static char *printed(const struct checked *c)
{
	struct text t = {0};

	if (c->report) {
		pair_print_findings(pair_findings(c->report), &t);
		pair_print_summary(c->report, &t);
	}
	for (size_t i = 0; i < c->n; i++)
		text_printf(&t, "%llu blocks of %s, %llu\n",
		    (unsigned long long)program_blocks(c->program[i]), program_job(c->program[i]),
		    (unsigned long long)program_number(c->program[i]));
	return text_take(&t);
}

static int match(const char *separator, const char *line, const char *expected_name)
{
	struct profile p;
	const char *name = NULL;
	size_t n = 0;
	int channel;

	profile_with(&p, separator);
	channel = separator_match(&p, line, strlen(line), &name, &n);
	if (expected_name && (n != strlen(expected_name) || memcmp(name, expected_name, n) != 0))
		fail_msg("%s: '%.*s' is no '%s'", line, (int)n, name ? name : "", expected_name);
	return channel;
}

static void separators(void **state)
{
	assert_int_equal(match("$ {channel}", "$ UPPER", "UPPER"), 0);
	assert_int_equal(match("$ {channel}", "$2", "2"), 1);
	assert_int_equal(match("$ {channel}", " $  lo (TURRET) ; side", "lo"), 1);
	assert_int_equal(match("$ {channel}", "$ 3", "3"), SEPARATOR_UNKNOWN);
	assert_int_equal(match("$ {channel}", "$ 0", "0"), SEPARATOR_UNKNOWN);
	assert_int_equal(match("$ {channel}", "$ middle", "middle"), SEPARATOR_UNKNOWN);
	assert_int_equal(match("$ {channel}", "$", NULL), SEPARATOR_NO);
	assert_int_equal(match("$ {channel}", "$ 1 X5.", NULL), SEPARATOR_NO);
	assert_int_equal(match("$ {channel}", "$ 1 (X5.", NULL), SEPARATOR_NO);
	assert_int_equal(match("$ {channel}", "N5 $ 1", NULL), SEPARATOR_NO);
	assert_int_equal(match("$ {channel}", "", NULL), SEPARATOR_NO);
	assert_int_equal(match("(CHANNEL {channel})", "(channel  Upper )", "Upper"), 0);
	assert_int_equal(match("(CHANNEL {channel})", "(CHANNEL LOWER", NULL), SEPARATOR_NO);
	assert_int_equal(match("%_{channel}_PART", "%_UP_PART", "UP"), 0);
	assert_int_equal(
	    match("%_{channel}_PART", "%_LWR_PART_PART", "LWR_PART"), SEPARATOR_UNKNOWN);
	assert_int_equal(match("HEAD {channel} FROM HERE", "HEAD 1 FROM  HERE", "1"), 0);
	assert_int_equal(match("HEAD {channel} FROM HERE", "HEAD 1 FROM", NULL), SEPARATOR_NO);
}

#define WHOLE                                                                                      \
	"%\nO4417(REV C)\n$1\nG0X1.\nM201\n$2\nG0X2.\nM201\nM202\nM30\n$ UPPER\nM202\nM30\n%\n"

/* The parts of a channel are one program; head and closing % belong to all. */
static void parts(void **state)
{
	struct checked c;

	profile_with(&c.profile, "$ {channel}");
	check_split(&c, WHOLE, strlen(WHOLE), 1 << 20);
	assert_int_equal(c.n, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_meetings(c.report), 2);
	assert_string_equal(pair_revision(c.report), "C");
	for (int i = 0; i < 2; i++) {
		assert_int_equal(program_channel(c.program[i]), i);
		assert_int_equal(program_number(c.program[i]), 4417);
		assert_true(program_complete(c.program[i]));
		/* %, O4417, motion, two codes, end, % */
		assert_int_equal(program_blocks(c.program[i]), 7);
	}
	assert_int_equal(pair_help_seen(&c, FINDING_PERCENT_MISSING), 0);
	assert_int_equal(pair_help_seen(&c, FINDING_CUT_OFF), 0);
	assert_int_equal(pair_help_seen(&c, FINDING_PART_UNKNOWN), 0);
	pair_help_free(&c);
}

/* Findings name lines of the file, whatever its line ends. */
static void lines_of_the_file(void **state)
{
	static const char *const ends[] = {"\n", "\r\n", "\r", "\r\r\n"};
	static const char text[] = "%|O4417(REV C)||$1|M201||M202|M30|$2|M201|(X|M203|M30|%|";

	for (int e = 0; e < 4; e++) {
		const struct finding *f;
		struct checked c;
		char file[400];
		size_t n = 0;

		for (const char *s = text; *s; s++)
			n += *s == '|' ? (size_t)sprintf(file + n, "%s", ends[e])
			               : (size_t)sprintf(file + n, "%c", *s);
		profile_with(&c.profile, "$ {channel}");
		pair_help_set(&c.profile, "weights", "comment-open", "warn");
		check_split(&c, file, n, 1 << 20);
		f = pair_help_find(&c, FINDING_WAIT_DIFFERS);
		assert_int_equal(f->line == 7 ? f->also_line : f->line, 12);
		assert_int_equal(f->line == 7 ? f->line : f->also_line, 7);
		assert_int_equal(pair_help_find(&c, FINDING_COMMENT_OPEN)->line, 11);
		assert_int_equal(pair_help_seen(&c, FINDING_LINE_ENDS_MIXED), 0);
		assert_int_equal(pair_help_seen(&c, FINDING_LINE_ENDS_DOUBLED), e == 3 ? 1 : 0);
		pair_help_free(&c);
	}
}

/* CR alone and LF side by side: a line of another channel between them is still a line. */
static void ends_do_not_run_together(void **state)
{
	static const char text[] = "%\n$1\nM201\r$2\nM201\r\n$1\rM209\nM30\r$2\r\nM208\nM30\n%\n";
	const struct finding *f;
	struct checked c;

	profile_with(&c.profile, "$ {channel}");
	check_split(&c, text, strlen(text), 1 << 20);
	f = pair_help_find(&c, FINDING_WAIT_DIFFERS);
	assert_int_equal(f->line == 7 ? f->also_line : f->line, 10);
	pair_help_free(&c);
}

/* Each part of a file may also bring % and number of its own. */
static void parts_with_percent(void **state)
{
	static const char text[] = "\n$1\n%\nO1(REV C)\nM201\nM30\n%\n\n$2\n%\nO1(REV "
	                           "C)\nM201\nG0X1.\nM30\n%\n";
	struct checked c;

	profile_with(&c.profile, "$ {channel}");
	check_split(&c, text, strlen(text), 1 << 20);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_help_seen(&c, FINDING_PERCENT_MIDDLE), 0);
	assert_int_equal(pair_help_seen(&c, FINDING_PERCENT_MISSING), 0);
	pair_help_free(&c);
}

static void told(const char *text, enum finding_id id, uint64_t line, const char *what)
{
	const struct finding *f;
	struct checked c;

	profile_with(&c.profile, "$ {channel}");
	check_split(&c, text, strlen(text), 1 << 20);
	f = pair_help_find(&c, id);
	assert_int_equal(f->line, line);
	pair_help_text(&c, id, what);
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
}

static void what_belongs_to_nobody(void **state)
{
	told("%\nO1(REV C)\n(BUSH) ;x\nO<BUSH>\n:12\nG28U0\nM8\n$1\nM30\n$2\nM30\n%\n",
	    FINDING_PART_UNKNOWN, 6,
	    "a block in front of the first separator ($ {channel}) belongs to no channel");
	told("%\nO1(REV C)\n$1\nM201\nM30\n$2\nM201\nM30\n$3\nM203\nM30\n%\n", FINDING_PART_UNKNOWN,
	    9, "separator for channel '3'; the channels are 1 upper, 2 lower");
	told("%\n$9\nM30\n$1\nM30\n$2\nM30\n%\n", FINDING_PART_UNKNOWN, 2,
	    "separator for channel '9'; the channels are 1 upper, 2 lower");
	told("%\nO1(REV C)\n$1\nM201\nM30\n%\n", FINDING_MATE_MISSING, 0,
	    "no program for channel lower");
}

/* Whether text that was read for no channel holds a wait code is not known. */
static void no_agreement_beside_text_of_nobody(void **state)
{
	static const char text[] = "%\n$1\nM201\nM30\n$2\nM201\nM30\n$3\nM203\n%\n";
	struct checked c;

	profile_with(&c.profile, "$ {channel}");
	check_split(&c, text, strlen(text), 1 << 20);
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	assert_int_equal(pair_help_seen(&c, FINDING_CUT_OFF), 0);
	pair_help_free(&c);
}

/* A header behind a separator can contradict it; the file's name cannot. */
static void header_and_separator(void **state)
{
	static const char text[] =
	    "%\n$1\n(JOB J4417 REV C UPPER)\nM30\n$2\n(JOB J4417 REV C UPPER)\nM30\n%\n";
	struct checked c;

	profile_with(&c.profile, "$ {channel}");
	pair_help_set(&c.profile, "programs", "names", "{job}.{channel}");
	pair_help_set(&c.profile, "programs", "header", "(JOB {job} REV {rev} {channel})");
	check_split(&c, text, strlen(text), 1 << 20);
	pair_help_text(
	    &c, FINDING_CHANNEL_DIFFERS, "separator says channel lower, header comment says upper");
	assert_int_equal(pair_help_find(&c, FINDING_CHANNEL_DIFFERS)->line, 6);
	assert_int_equal(pair_help_seen(&c, FINDING_CHANNEL_DIFFERS), 1);
	assert_string_equal(pair_job(c.report), "J4417");
	pair_help_free(&c);
}

/* The head is read for each channel, and what is found in it told once. */
static void head_is_told_once(void **state)
{
	static const char text[] = "%\nO1(REV \xC4)\n$1\nM201\nM30\n$2\nM201\nM30\n%\n";
	struct checked c;

	profile_with(&c.profile, "$ {channel}");
	pair_help_set(&c.profile, "programs", "names", "{job}-{rev}.{channel}");
	check_split(&c, text, strlen(text), 1 << 20);
	assert_int_equal(pair_help_seen(&c, FINDING_CHARACTER_COMMENT), 1);
	assert_int_equal(pair_help_seen(&c, FINDING_JOB_UNKNOWN), 1);
	pair_help_free(&c);
}

static void nothing_to_split(void **state)
{
	static const char *const text[] = {"", "%\nO1\nM201\nM30\n%\n", "$\n$ \n$9\nM30\n"};

	for (size_t i = 0; i < sizeof(text) / sizeof(*text); i++) {
		struct checked c;

		profile_with(&c.profile, "$ {channel}");
		check_split(&c, text[i], strlen(text[i]), 1 << 20);
		assert_int_equal(c.n, 0);
		pair_help_free(&c);
	}
}

static void four_channels(void **state)
{
	static const char text[] =
	    "%\n(REV C)\nCH 4\nM201\nM30\nCH 2\nM201\nM30\nCH a\nM201\nM30\nCH C\nM201\nM30\n%\n";
	struct checked c;

	profile_with(&c.profile, "CH {channel}");
	pair_help_set(&c.profile, "programs", "channels", "a b c d");
	check_split(&c, text, strlen(text), 1 << 20);
	assert_int_equal(c.n, 4);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	pair_help_free(&c);
}

/* The same bytes in chunks of any size. */
static void chunks(void **state)
{
	struct checked c;
	char *whole, *cut;

	profile_with(&c.profile, "$ {channel}");
	check_split(&c, WHOLE, strlen(WHOLE), 1 << 20);
	whole = printed(&c);
	pair_help_free(&c);
	for (size_t chunk = 1; chunk < strlen(WHOLE); chunk++) {
		check_split(&c, WHOLE, strlen(WHOLE), chunk);
		cut = printed(&c);
		assert_string_equal(cut, whole);
		free(cut);
		pair_help_free(&c);
	}
	free(whole);
}

/* Lines longer than any separator go to their channel whole. */
static void long_lines(void **state)
{
	enum { LONG = 70000 };
	char *text = calloc(1, LONG + 400);
	struct checked c;

	assert_non_null(text);
	for (size_t blanks = 900; blanks < LONG; blanks = blanks < 1100 ? blanks + 1 : blanks * 3) {
		size_t n = (size_t)sprintf(
		    text, "%%\n$1\nM201\n(%*s)\nM30\n$2\nM201\nM30\n%%\n", (int)blanks, "");

		profile_with(&c.profile, "$ {channel}");
		pair_help_set(&c.profile, "limits", "block_max", "65536");
		check_split(&c, text, n, 777);
		assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
		assert_int_equal(program_blocks(c.program[0]), 4);
		pair_help_free(&c);
	}
	free(text);
}

/* Random pieces, in random chunks: never a crash, and the same as in one piece. */
static void hostile(void **state)
{
	static const char *const piece[] = {"$1", "$2", "$ UP", "$3", "$", "\n", "\r", "\r\n", "%",
	    "M201", "M30", "O1", "(", ")", " ", "\t", "\x00", "\x7f", "\xEF\xBB\xBF", "\x1a",
	    "G1X1", "/", "\n$1\n", "\n%\n", "M98P1", "GOTO1"};
	uint64_t seed = 4417;

	for (int round = 0; round < 600; round++) {
		char text[600], *whole, *cut;
		size_t n = 0, chunk;
		struct checked c;

		while (n < 500) {
			const char *s;

			seed = seed * 6364136223846793005u + 1442695040888963407u;
			s = piece[(seed >> 33) % (sizeof(piece) / sizeof(*piece))];
			memcpy(text + n, s, *s ? strlen(s) : 1);
			n += *s ? strlen(s) : 1;
		}
		chunk = 1 + (seed >> 20) % 40;
		profile_with(&c.profile, "$ {channel}");
		check_split(&c, text, n, n);
		whole = printed(&c);
		pair_help_free(&c);
		check_split(&c, text, n, chunk);
		cut = printed(&c);
		pair_help_free(&c);
		assert_string_equal(cut, whole);
		free(whole);
		free(cut);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(separators),
	    cmocka_unit_test(parts),
	    cmocka_unit_test(lines_of_the_file),
	    cmocka_unit_test(ends_do_not_run_together),
	    cmocka_unit_test(parts_with_percent),
	    cmocka_unit_test(what_belongs_to_nobody),
	    cmocka_unit_test(no_agreement_beside_text_of_nobody),
	    cmocka_unit_test(header_and_separator),
	    cmocka_unit_test(head_is_told_once),
	    cmocka_unit_test(nothing_to_split),
	    cmocka_unit_test(four_channels),
	    cmocka_unit_test(chunks),
	    cmocka_unit_test(long_lines),
	    cmocka_unit_test(hostile),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
