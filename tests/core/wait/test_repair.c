/*
 * Goal: after a disagreement the single mistake that explains most is named, with its place in both
 * programs. The mistakes are those of the trade (common practice): missing, doubled, swapped,
 * mistyped, behind the end.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "channels.h"

struct expected {
	const char *upper, *lower;
	enum finding_id repair;
	int channel_a;
	uint64_t line_a, line_b;
	uint32_t code_a, code_b;
};

static const struct expected table[] = {
    /* lower lacks 202: to be written before its M203 in line 2 */
    {"M201\nM202\nM203\nM30\n", "M201\nM203\nM30\n", FINDING_WAIT_MISSING, 1, 2, 2, 203, 202},
    /* upper lacks it */
    {"M201\nM203\nM30\n", "M201\nM202\nM203\nM30\n", FINDING_WAIT_MISSING, 0, 2, 2, 203, 202},
    /* lacking at the very end: the place is the program end */
    {"M201\nM202\nM30\n", "M201\nG0 X1.\nM30\n", FINDING_WAIT_MISSING, 1, 3, 2, 0, 202},
    {"M201\nM202\nM30\n", "M201\n", FINDING_WAIT_MISSING, 1, 0, 2, 0, 202},
    /* twice in upper */
    {"M201\nM201\nM202\nM30\n", "M201\nM202\nM30\n", FINDING_WAIT_DOUBLED, 0, 2, 2, 201, 202},
    {"M201\nM202\nM30\n", "M201\nM202\nM202\nM30\n", FINDING_WAIT_DOUBLED, 1, 3, 3, 202, 0},
    /* two codes in the other order */
    {"M201\nM202\nM30\n", "M202\nM201\nM30\n", FINDING_WAIT_SWAPPED, 1, 1, 1, 202, 201},
    {"M200\nM201\nM202\nM203\nM209\nM30\n", "M200\nM203\nM202\nM201\nM209\nM30\n",
        FINDING_WAIT_SWAPPED, 1, 2, 2, 203, 201},
    /* mistyped */
    {"M201\nM202\nM203\nM30\n", "M201\nM205\nM203\nM30\n", FINDING_WAIT_DIFFERS, 1, 2, 2, 205, 202},
    /* mistyped in upper: the numbers of the other stand in order */
    {"M201\nM205\nM203\nM30\n", "M201\nM202\nM203\nM30\n", FINDING_WAIT_DIFFERS, 0, 2, 2, 205, 202},
    {"M209\nM202\nM30\n", "M201\nM202\nM30\n", FINDING_WAIT_DIFFERS, 0, 1, 1, 209, 201},
    /* two in a row are lacking: the first is named, and nothing is put in place of it */
    {"M201\nM204\nM30\n", "M201\nM202\nM203\nM204\nM30\n", FINDING_WAIT_MISSING, 0, 2, 2, 204, 202},
    {"M201\nM202\nM203\nM204\nM205\nM30\n", "M201\nM205\nM30\n", FINDING_WAIT_MISSING, 1, 2, 2, 205,
        202},
    /* one was moved over two others: it is there, and not to be added */
    {"M203\nM201\nM202\nM204\nM30\n", "M201\nM202\nM203\nM204\nM30\n", FINDING_WAIT_SWAPPED, 1, 1,
        1, 201, 203},
    {"M201\nM202\nM203\nM30\n", "M203\nM201\nM202\nM30\n", FINDING_WAIT_SWAPPED, 1, 1, 1, 203, 201},
    /* nothing fits: they differ */
    {"M211\nM212\nM30\n", "M201\nM202\nM30\n", FINDING_WAIT_DIFFERS, 1, 1, 1, 201, 211},
    /* behind the end */
    {"M201\nM202\nM30\n", "M201\nM30\nM202\n", FINDING_WAIT_AFTER_END, 1, 3, 2, 202, 202},
    /* in a subprogram: the place is in the text, not in the run */
    {"O1\nM98 P2 L2\nM30\nO2\nM201\nM202\nM99\n", "M201\nM202\nM201\nM30\n", FINDING_WAIT_MISSING,
        1, 4, 6, 0, 202},
};

static void likeliest(void **state)
{
	for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
		const struct expected *e = &table[i];
		struct channels c;

		print_message("row %zu\n", i);
		assert_int_equal(channels_two(&c, e->upper, e->lower), VERDICT_DISAGREE);
		assert_string_equal(finding_name(c.result.repair), finding_name(e->repair));
		assert_int_equal(c.result.channel_a, e->channel_a);
		assert_int_equal(c.result.channel_b, 1 - e->channel_a);
		assert_int_equal(c.result.place_a.line, e->line_a);
		assert_int_equal(c.result.place_b.line, e->line_b);
		assert_int_equal(c.result.code_a, e->code_a);
		assert_int_equal(c.result.code_b, e->code_b);
		channels_end(&c);
	}
}

static void none_when_agreed(void **state)
{
	struct channels c;

	assert_int_equal(channels_two(&c, "M201\nM30\n", "M201\nM30\n"), VERDICT_AGREE);
	assert_int_equal(c.result.repair, FINDING_COUNT);
	channels_end(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(likeliest),
	    cmocka_unit_test(none_when_agreed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
