/*
 * Goal: names, end marks, the root's identity and the two small containers decide as their
 * contracts say.
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
#include "due.h"
#include "endmark.h"
#include "filename.h"
#include "intake.h"
#include "seen.h"
#include "treeroot.h"

/* Names of editors, office and copy programs: common practice. */
static void temporary_names_are_ignored(void **state)
{
	static const char *const ignored[] = {"J4417.UP~", ".J4417.UP.swp", "4913", "J4417.UP.bak",
	    "J4417.UP.BAK", "~$J4417.UP", "x.tmp", "X.TMP", ".hidden", "#J4417.UP#", "a.part",
	    "J4417.UP.orig", "Thumbs.db", "~WRL0001.tmp"};
	static const char *const plain[] = {"J4417.UP", "4914", "O4913", "J4417-C.upper.nc", "tmp",
	    "bak", "A.tmpx", "#1", "J~4417", "Gr\303\266\303\237e.nc", "\xE2\x82\xAC",
	    "\xF0\x9F\x94\xA7"};

	(void)state;
	for (size_t i = 0; i < sizeof(ignored) / sizeof(*ignored); i++)
		if (filename_check(ignored[i]) != FILENAME_IGNORED)
			fail_msg("%s", ignored[i]);
	for (size_t i = 0; i < sizeof(plain) / sizeof(*plain); i++)
		if (filename_check(plain[i]) != FILENAME_PLAIN)
			fail_msg("%s", plain[i]);
}

/* Byte sequences from RFC 3629, clauses 3 and 4, and its security clause 10 (overlong forms). */
static void odd_names_are_told_apart(void **state)
{
	static const struct {
		const char *name;
		enum filename_kind kind;
	} cases[] = {
	    {"", FILENAME_DOTS},
	    {".", FILENAME_DOTS},
	    {"..", FILENAME_DOTS},
	    {"a/b", FILENAME_DOTS},
	    {"a\nb", FILENAME_CONTROL},
	    {"a\x1b[2J", FILENAME_CONTROL},
	    {"a\x7f", FILENAME_CONTROL},
	    {"a\xC2\x85", FILENAME_CONTROL},
	    {"a\xC2\xA0", FILENAME_PLAIN},
	    {"\xFF", FILENAME_ENCODING},
	    {"a\xC0\xAF", FILENAME_ENCODING},
	    {"a\xC1\xBF", FILENAME_ENCODING},
	    {"a\xE0\x80\xAF", FILENAME_ENCODING},
	    {"a\xED\xA0\x80", FILENAME_ENCODING},
	    {"a\xF0\x80\x80\xAF", FILENAME_ENCODING},
	    {"a\xF4\x90\x80\x80", FILENAME_ENCODING},
	    {"a\xE2\x82", FILENAME_ENCODING},
	    {"a\x80", FILENAME_ENCODING},
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++)
		if (filename_check(cases[i].name) != cases[i].kind)
			fail_msg("case %zu: %d", i, filename_check(cases[i].name));
}

static void paths_are_shown_printable(void **state)
{
	char out[64];

	(void)state;
	assert_string_equal(intake_path_text("a/b.nc", out, sizeof(out)), "a/b.nc");
	assert_string_equal(intake_path_text("a\n\x1b\xFF\xC2\x85", out, sizeof(out)),
	    "a\\x0A\\x1B\\xFF\\xC2\\x85");
	assert_string_equal(intake_path_text("\xE2\x82\xAC", out, sizeof(out)), "\xE2\x82\xAC");
	assert_string_equal(intake_path_text("12345678", out, 8), "1234...");
	assert_string_equal(intake_path_text("1234567", out, 8), "1234567");
	assert_string_equal(intake_path_text("123\342\202\25445", out, 8), "123...");
	assert_string_equal(intake_path_text("", out, 8), "");
	for (size_t size = 8; size < 40; size++) {
		memset(out, 'x', sizeof(out));
		intake_path_text("\x01\xE2\x82\xAC\xFF/\xC3\xB6\x02\x03\x04", out, size);
		assert_true(strlen(out) < size);
	}
	assert_true(filename_under("a/b", "a"));
	assert_true(filename_under("a", "a"));
	assert_true(filename_under("a", ""));
	assert_false(filename_under("ab", "a"));
	assert_int_equal(filename_depth("a/b/c"), 3);
	assert_int_equal(filename_depth(""), 0);
}

static int mark_of(const void *text, size_t size)
{
	FILE *f = tmpfile();

	assert_non_null(f);
	assert_int_equal(fwrite(text, 1, size, f), size);
	assert_int_equal(fflush(f), 0);
	int rc = endmark_of_file(fileno(f), size);
	assert_int_equal(lseek(fileno(f), 0, SEEK_CUR), (off_t)size);
	fclose(f);
	return rc;
}

/*
 * Percent rule: NISTIR 6556, 3.1 (a file that begins with a lone `%` ends with one; without, M2 or
 * M30 ends it). M99 as the end of a subprogram: common practice. Comments: NISTIR 6556, 3.3.4.
 */
static void end_marks(void **state)
{
	static const struct {
		const char *text;
		int marked;
	} cases[] = {
	    {"%\nO1\nM30\n%\n", 1},
	    {"%\nO1\nM30\n%", 1},
	    {"%\r\nO1\r\nM30\r\n%\r\n", 1},
	    {"%\nO1\nM30\n %\t\n\n\n", 1},
	    {"%O4417(BUSH)\nM30\n%\n", 1},
	    {"%\nO1\nM30\n%\n\x1A", 1},
	    {"%\nO1\nM30\n", 0},
	    {"%\nO1\nG1 X10", 0},
	    {"%", 0},
	    {"%\n", 0},
	    {"%\n\n\n", 0},
	    {"", 0},
	    {"\n\n", 0},
	    {"%\nM30 %\n", 0},
	    {"%\nM30\n%%\n", 0},
	    {"\xEF\xBB\xBF%\nM30\n", 0},
	    {"\xEF\xBB\xBF%\nM30\n%\n", 1},
	    {"O1\nM30\n", 1},
	    {"O1\nM30", 1},
	    {"O1\nM02\n", 1},
	    {"O1\nM2\n", 1},
	    {"O1\nM99 P10\n", 1},
	    {"O1\nN90M30\n", 1},
	    {"O1\nn90 m 30\n", 1},
	    {"O1\nM30 (END)\n", 1},
	    {"O1\nM30\n(END)\n\n", 1},
	    {"O1\nM30\n%\n", 1},
	    {"O1\nM3\n", 0},
	    {"O1\nM300\n", 0},
	    {"O1\nM30.1\n", 0},
	    {"O1\n(M30)\n", 0},
	    {"O1\nG0 X1 ;M30\n", 0},
	    {"O1\n(TEAM30)\n", 0},
	    {"O1\nTEAM30\n", 0},
	    {"O1\nM30\nG0 X1.\n", 0},
	    {"O1\nM", 0},
	    {"M30", 1},
	};

	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++)
		if (mark_of(cases[i].text, strlen(cases[i].text)) != cases[i].marked)
			fail_msg("case %zu: %s", i, cases[i].text);
}

/* Case "Leader, trailer, filler bytes": NUL leader, NUL and DEL trailer, wherever the 4096-byte
 * views cut. */
static void end_marks_among_filler(void **state)
{
	static const char body[] = "%\r\nO4417\r\nM30\r\n%\r\n";
	size_t n = sizeof(body) - 1;
	static const size_t sizes[] = {
	    0, 120, 4078, 4079, 4080, 4093, 4094, 4095, 4096, 4097, 9000, 60000};
	unsigned char *text = malloc(200000);

	(void)state;
	assert_non_null(text);
	for (size_t a = 0; a < sizeof(sizes) / sizeof(*sizes); a++) {
		for (size_t b = 0; b < sizeof(sizes) / sizeof(*sizes); b++) {
			memset(text, 0, sizes[a]);
			memcpy(text + sizes[a], body, n);
			for (size_t i = 0; i < sizes[b]; i++)
				text[sizes[a] + n + i] = i % 2 ? 0x7F : 0;
			if (mark_of(text, sizes[a] + n + sizes[b]) != 1)
				fail_msg("leader %zu, trailer %zu", sizes[a], sizes[b]);
			/* Cut before the closing `%`: the opening one must still be found. */
			assert_int_equal(mark_of(text, sizes[a] + n - 3), 0);
		}
	}
	memset(text, 0, 200000);
	assert_int_equal(mark_of(text, 200000), 0); /* a file full of zeros */
	memset(text, 'X', 10000);
	memcpy(text, "O1 ", 3);
	memcpy(text + 9996, " M30", 4);
	assert_int_equal(mark_of(text, 10000), 0); /* a block longer than the view is not judged */
	free(text);
	assert_true(endmark_of_file(-1, 10) < 0);
}

/* A file that got shorter than it was said to be is told, not read beyond. */
static void a_shrinking_file_is_told(void **state)
{
	FILE *f = tmpfile();

	(void)state;
	assert_non_null(f);
	fputs("M30\n", f);
	fflush(f);
	assert_true(endmark_of_file(fileno(f), 100) < 0);
	fclose(f);
}

/* Case "The share disappears": marker or device id tells; nothing else may be taken for the share.
 */
static void the_root_is_identified(void **state)
{
	struct treeroot_facts f = {.there = true, .dev = 7, .ino = 70};

	(void)state;
	assert_int_equal(treeroot_judge(&f), TREEROOT_NEW);
	f.known = true;
	f.dev_was = 7;
	f.ino_was = 70;
	assert_int_equal(treeroot_judge(&f), TREEROOT_SAME);
	f.ino = 71;
	assert_int_equal(treeroot_judge(&f), TREEROOT_NEW);
	f.dev = 8;
	assert_int_equal(treeroot_judge(&f), TREEROOT_OTHER_DEVICE);
	f.wants_marker = true;
	assert_int_equal(treeroot_judge(&f), TREEROOT_NO_MARKER);
	f.has_marker = true;
	assert_int_equal(treeroot_judge(&f), TREEROOT_NEW);
	f.there = false;
	assert_int_equal(treeroot_judge(&f), TREEROOT_MISSING);
}

static void count_one(void *ctx, struct seen_file *f)
{
	(void)f;
	++*(size_t *)ctx;
}

/* 5,000 names: all are found again, queue and deadlines keep their order, half of them dropped
 * midway. */
static void names_and_deadlines_keep_order(void **state)
{
	enum { N = 5000 };
	struct seen s;
	struct due d = {0};
	char path[32];
	size_t n = 0;
	uint64_t last = 0;

	(void)state;
	assert_int_equal(seen_init(&s), 0);
	srand(4417);
	for (int i = 0; i < N; i++) {
		snprintf(path, sizeof(path), "a/J%d.UP", i);
		assert_int_equal(due_reserve(&d, s.count + 1), 0);
		struct seen_file *f = seen_get(&s, path);
		assert_non_null(f);
		assert_ptr_equal(f, seen_get(&s, path));
		f->candidate.due_ms = (uint64_t)(rand() % 1000);
		due_set(&d, f);
		seen_queue(&s, f, CANDIDATE_FOUND);
		seen_queue(&s, f, CANDIDATE_CLOSED);
	}
	seen_each(&s, count_one, &n);
	assert_int_equal(n, N);
	for (int i = 0; i < N; i += 2) {
		snprintf(path, sizeof(path), "a/J%d.UP", i);
		struct seen_file *f = seen_find(&s, path);
		due_clear(&d, f);
		seen_drop(&s, f);
		assert_null(seen_find(&s, path));
	}
	for (int i = 1; i < N; i += 4) {
		snprintf(path, sizeof(path), "a/J%d.UP", i);
		struct seen_file *f = seen_find(&s, path);
		f->candidate.due_ms = (uint64_t)(rand() % 1000);
		due_set(&d, f);
	}
	for (int i = 1; i < N; i += 2) {
		struct seen_file *f = seen_next(&s);
		snprintf(path, sizeof(path), "a/J%d.UP", i);
		assert_string_equal(f->path, path);
		assert_int_equal(f->cue, CANDIDATE_CLOSED);
	}
	assert_null(seen_next(&s));
	n = 0;
	for (struct seen_file *f; (f = due_first(&d)); n++) {
		assert_true(f->candidate.due_ms >= last);
		last = f->candidate.due_ms;
		due_clear(&d, f);
	}
	assert_int_equal(n, N / 2);
	due_end(&d);
	seen_end(&s);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(temporary_names_are_ignored),
	    cmocka_unit_test(odd_names_are_told_apart),
	    cmocka_unit_test(paths_are_shown_printable),
	    cmocka_unit_test(end_marks),
	    cmocka_unit_test(end_marks_among_filler),
	    cmocka_unit_test(a_shrinking_file_is_told),
	    cmocka_unit_test(the_root_is_identified),
	    cmocka_unit_test(names_and_deadlines_keep_order),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
