/*
 * Goal: the ladder shows at a glance where the channels meet, where one waits for ever and where
 * each stands in its text, at any width, in UTF-8 and in plain ASCII.
 */
#include <stdio.h>
#include <stdlib.h>
#include "pair_help.h"

#define PROGRAM(body) "%\nO4417(REV C)\n" body "M30\n%\n"

static void drawn(const struct checked *c, unsigned width, bool ascii, const char *want)
{
	char *have = pair_help_ladder(c, width, ascii);

	if (strcmp(have, want) != 0) {
		print_error("%s", have);
		fail_msg("the ladder is another");
	}
	free(have);
}

/* clang-format off */
static void both_agree(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("N10 G0 X40.\nN20 M201\nN30 M202\n"), 0},
	    {"J4417.LO", PROGRAM("M201\nG0 X1.\nN5 M202\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	drawn(&c, 64, false,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "          ┌───────────┐                   ┌───────────┐\n"
	    "          │   upper   │                   │   lower   │\n"
	    "          │ J4417.UP  │                   │ J4417.LO  │\n"
	    "          └─────┬─────┘                   └─────┬─────┘\n"
	    "                │                               │\n"
	    "   N20  line 4  ├──────────── M201 ─────────────┤  line 3\n"
	    "                │                               │\n"
	    "   N30  line 5  ├──────────── M202 ─────────────┤  line 5  N5\n"
	    "                │                               │\n"
	    "              ━━┷━━                           ━━┷━━\n"
	    "               end                             end\n"
	    "\n"
	    "agree: 2 meetings, then the programs end\n"
	    "Agreement of wait codes does not prove that tools cannot meet.\n");
	pair_help_free(&c);
}

/* Both arrows end open, with the cross between them. */
static void codes_that_differ(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("N10 M201\nN20 M202\n"), 0},
	    {"J4417.LO", PROGRAM("M201\nM210\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	drawn(&c, 72, false,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "          ┌───────────┐                           ┌───────────┐\n"
	    "          │   upper   │                           │   lower   │\n"
	    "          │ J4417.UP  │                           │ J4417.LO  │\n"
	    "          └─────┬─────┘                           └─────┬─────┘\n"
	    "                │                                       │\n"
	    "   N10  line 3  ├──────────────── M201 ─────────────────┤  line 3\n"
	    "                │                                       │\n"
	    "   N20  line 4  ╞════ M202 ═════▷   ╳   ◁════ M210 ═════╡  line 4\n"
	    "                ┆          both wait for ever           ┆\n"
	    "                ┆                                       ┆\n"
	    "\n"
	    "disagree at wait 2: upper M202 (line 4), lower M210 (line 4): both stand\n"
	    "for ever; likeliest repair: write M202 in place of M210 in line 4 of\n"
	    "lower, if upper is right\n"
	    "Agreement of wait codes does not prove that tools cannot meet.\n");
	pair_help_free(&c);
}

static void one_has_ended(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("M201\nM202\n"), 0},
	    {"J4417.LO", PROGRAM("M201\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	drawn(&c, 72, false,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "          ┌───────────┐                           ┌───────────┐\n"
	    "          │   upper   │                           │   lower   │\n"
	    "          │ J4417.UP  │                           │ J4417.LO  │\n"
	    "          └─────┬─────┘                           └─────┬─────┘\n"
	    "                │                                       │\n"
	    "        line 3  ├──────────────── M201 ─────────────────┤  line 3\n"
	    "                │                                       │\n"
	    "        line 4  ╞════ M202 ═════▷   ╳                 ━━┷━━\n"
	    "                ┆ waits                               ended\n"
	    "                ┆ for ever\n"
	    "                ┆\n"
	    "\n"
	    "disagree at wait 2: upper M202 (line 4), lower has ended: upper stands\n"
	    "for ever; likeliest repair: add M202 to lower between line 3 and line 4\n"
	    "Agreement of wait codes does not prove that tools cannot meet.\n");
	pair_help_free(&c);
}

static void one_has_ended_ascii(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("M201\nN120 M202\n"), 0},
	    {"J4417.LO", PROGRAM("M201\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	drawn(&c, 60, true,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "         +-----------+                 +-----------+\n"
	    "         |   upper   |                 |   lower   |\n"
	    "         | J4417.UP  |                 | J4417.LO  |\n"
	    "         +-----+-----+                 +-----+-----+\n"
	    "               |                             |\n"
	    "       line 3  +----------- M201 ------------+  line 3\n"
	    "               |                             |\n"
	    " N120  line 4  |== M202 ===>  X            =====\n"
	    "               : waits                     ended\n"
	    "               : for ever\n"
	    "               :\n"
	    "\n"
	    "disagree at wait 2: upper M202 (line 4), lower has ended:\n"
	    "upper stands for ever; likeliest repair: add M202 to lower\n"
	    "between line 3 and line 4\n"
	    "Agreement of wait codes does not prove that tools cannot\n"
	    "meet.\n");
	pair_help_free(&c);
}

static void other_has_ended_with_switch_on(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("M201\n/M202\n"), 0},
	    {"J4417.LO", PROGRAM("M201\nM202\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	drawn(&c, 60, true,
	    "J4417 revision C, block skip on\n"
	    "\n"
	    "         +-----------+                 +-----------+\n"
	    "         |   upper   |                 |   lower   |\n"
	    "         | J4417.UP  |                 | J4417.LO  |\n"
	    "         +-----+-----+                 +-----+-----+\n"
	    "               |                             |\n"
	    "       line 3  +----------- M201 ------------+  line 3\n"
	    "               |                             |\n"
	    "             =====            X  <== M202 ===|  line 4\n"
	    "             ended                     waits :\n"
	    "                                    for ever :\n"
	    "                                             :\n"
	    "\n"
	    "disagree at wait 2 with block skip on: upper has ended,\n"
	    "lower M202 (line 4): lower stands for ever; likeliest\n"
	    "repair: give M202 the same slash in both programs, upper\n"
	    "line 4 and lower line 4\n"
	    "Agreement of wait codes does not prove that tools cannot\n"
	    "meet.\n");
	pair_help_free(&c);
}

static void three_agree(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.A", PROGRAM("N10 M201\n"), 0},
	    {"J4417.B", PROGRAM("M201\n"), 0},
	    {"J4417.C", PROGRAM("G0 X1.\nM201\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "channels", "a, b, c");
	pair_help_check(&c, s, 3);
	drawn(&c, 76, false,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "   ┌─────────┐               ┌─────────┐               ┌─────────┐\n"
	    "   │    a    │               │    b    │               │    c    │\n"
	    "   │ J4417.A │               │ J4417.B │               │ J4417.C │\n"
	    "   └────┬────┘               └────┬────┘               └────┬────┘\n"
	    "        │                         │                         │\n"
	    "        ├───────── M201 ──────────┼───────── M201 ──────────┤\n"
	    "        │ line 3  N10             │ line 3                  │ line 4\n"
	    "        │                         │                         │\n"
	    "      ━━┷━━                     ━━┷━━                     ━━┷━━\n"
	    "       end                       end                       end\n"
	    "\n"
	    "agree: 1 meeting, then the programs end\n"
	    "Agreement of wait codes does not prove that tools cannot meet.\n");
	pair_help_free(&c);
}

static void three_disagree(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.A", PROGRAM("M201\nM202\n"), 0},
	    {"J4417.B", PROGRAM("M201\n"), 0},
	    {"J4417.C", PROGRAM("M201\nM203\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "channels", "a, b, c");
	pair_help_check(&c, s, 3);
	drawn(&c, 76, false,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "   ┌─────────┐               ┌─────────┐               ┌─────────┐\n"
	    "   │    a    │               │    b    │               │    c    │\n"
	    "   │ J4417.A │               │ J4417.B │               │ J4417.C │\n"
	    "   └────┬────┘               └────┬────┘               └────┬────┘\n"
	    "        │                         │                         │\n"
	    "        ├───────── M201 ──────────┼───────── M201 ──────────┤\n"
	    "        │ line 3                  │ line 3                  │ line 3\n"
	    "        │                         │                         │\n"
	    "        ╞════ M202 ═════▷       ━━┷━━                       ╞════ M203 ═════\n"
	    "        │ line 4                                            │ line 4\n"
	    "        ┆ waits                 ended                       ┆ waits\n"
	    "        ┆ for ever                                          ┆ for ever\n"
	    "        ┆                                                   ┆\n"
	    "\n"
	    "disagree at wait 2: a M202 (line 4), b has ended, c M203 (line 4): a and c\n"
	    "stand for ever; likeliest repair: add M202 to b between line 3 and line 4\n"
	    "Agreement of wait codes does not prove that tools cannot meet.\n");
	pair_help_free(&c);
}

static void four_ascii(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.A", PROGRAM("M201\nM202\n"), 0},
	    {"J4417.B", PROGRAM("M201\nM202\n"), 0},
	    {"J4417.C", PROGRAM("M201\nM202\n"), 0},
	    {"J4417.D", PROGRAM("M201\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "channels", "a, b, c, d");
	pair_help_check(&c, s, 4);
	drawn(&c, 60, true,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "  +---------+ +---------+ +---------+ +---------+\n"
	    "  |    a    | |    b    | |    c    | |    d    |\n"
	    "  | J4417.A | | J4417.B | | J4417.C | | J4417.D |\n"
	    "  +----+----+ +----+----+ +----+----+ +----+----+\n"
	    "       |           |           |           |\n"
	    "       +-- M201 ---+-- M201 ---+-- M201 ---+\n"
	    "       | line 3    | line 3    | line 3    | line 3\n"
	    "       |           |           |           |\n"
	    "       | M202 =>   | M202 =>   | M202 => =====\n"
	    "       | line 4    | line 4    | line 4\n"
	    "       : waits     : waits     : waits   ended\n"
	    "       : for ever  : for ever  : for ever\n"
	    "       :           :           :\n"
	    "\n"
	    "disagree at wait 2: a M202 (line 4), b M202 (line 4), c M202\n"
	    "(line 4), d has ended: a, b and c stand for ever; likeliest\n"
	    "repair: add M202 to d between line 3 and line 4\n"
	    "Agreement of wait codes does not prove that tools cannot\n"
	    "meet.\n");
	pair_help_free(&c);
}

static void a_mate_is_missing(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.LO", PROGRAM("M201\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 1);
	drawn(&c, 60, false,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "          ┌─────────┐                  ┌───────────┐\n"
	    "          │  upper  │                  │   lower   │\n"
	    "          │ missing │                  │ J4417.LO  │\n"
	    "          └────┬────┘                  └─────┬─────┘\n"
	    "               ┆                             │\n"
	    "               ┆                             ┆\n"
	    "               ┆  ? a program is missing ?   ┆\n"
	    "               ┆                             ┆\n"
	    "\n"
	    "cannot tell: a program is missing\n"
	    "Agreement of wait codes does not prove that tools cannot\n"
	    "meet.\n");
	pair_help_free(&c);
}

static void flow_that_is_not_followed(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("M201\nM#100\nM202\nG0X1.\n"), 0},
	    {"J4417.LO", PROGRAM("M201\nM202\n"), 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	drawn(&c, 60, false,
	    "J4417 revision C, block skip off\n"
	    "\n"
	    "         ┌───────────┐                 ┌───────────┐\n"
	    "         │   upper   │                 │   lower   │\n"
	    "         │ J4417.UP  │                 │ J4417.LO  │\n"
	    "         └─────┬─────┘                 └─────┬─────┘\n"
	    "               │                             │\n"
	    "       line 3  ├─────────── M201 ────────────┤  line 3\n"
	    "               │                             │\n"
	    "               ┆                             ┆\n"
	    "               ┆  ? cannot tell from here ?  ┆\n"
	    "               ┆                             ┆\n"
	    "\n"
	    "cannot tell: see the findings for what could not be read or\n"
	    "followed\n"
	    "Agreement of wait codes does not prove that tools cannot\n"
	    "meet.\n");
	pair_help_free(&c);
}

/* clang-format on */

/* Long runs are shortened, and say by how much. */
static void long_runs(void **state)
{
	struct checked c = {0};
	struct text t = {0};
	char *s;

	text_puts(&t, "%\nO4417(REV C)\nM98P1L1000\nM30\nO1\nM201\nM202\nM99\n%\n");
	pair_help_two(&c, t.s, t.s);
	s = pair_help_ladder(&c, 80, false);
	assert_int_equal(pair_meetings(c.report), 2000);
	assert_non_null(strstr(s, "1988 more meetings, in step"));
	assert_non_null(strstr(s, "agree: 2000 meetings"));
	free(s);
	pair_help_free(&c);
	text_free(&t);
}

static size_t cells(const char *line, size_t n)
{
	size_t cells = 0;

	for (size_t i = 0; i < n; i++)
		cells += ((unsigned char)line[i] & 0xc0) != 0x80;
	return cells;
}

/* No line is wider than asked for (60 at least), and ASCII is ASCII. */
static void every_width(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"a-name-that-is-much-longer-than-any-head-J4417.A",
	        PROGRAM("N99999M12345678\nN1M201\nM202\n"), 0},
	    {"J4417.B", PROGRAM("N1M12345678\nN1M201\nM202\n"), 0},
	    {"J4417.C", PROGRAM("N1M12345678\nN1M201\nM203\n"), 0},
	    {"J4417.D", PROGRAM("N1M12345678\nN1M201\n"), 0},
	};

	for (size_t n = 2; n <= 4; n++) {
		static const char *const names[] = {"a, b", "a, b, c", "a, b, c, d"};

		pair_help_profile(&c.profile);
		pair_help_set(&c.profile, "programs", "channels", names[n - 2]);
		pair_help_set(&c.profile, "wait", "codes", "M200-M299, M12345678");
		pair_help_check(&c, s, n);
		for (unsigned width = 0; width < 260; width += 13) {
			for (int ascii = 0; ascii < 2; ascii++) {
				char *ladder = pair_help_ladder(&c, width, ascii);
				size_t most = width < 60 ? 60 : width;

				for (const char *p = ladder; *p;) {
					size_t k = strcspn(p, "\n");

					assert_true(cells(p, k) <= most);
					for (size_t i = 0; i < k && ascii; i++)
						assert_true(p[i] >= ' ' && p[i] <= '~');
					p += k + (p[k] == '\n');
				}
				assert_non_null(strstr(ladder, "M12345678"));
				free(ladder);
			}
		}
		pair_help_free(&c);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(both_agree),
	    cmocka_unit_test(codes_that_differ),
	    cmocka_unit_test(one_has_ended),
	    cmocka_unit_test(one_has_ended_ascii),
	    cmocka_unit_test(other_has_ended_with_switch_on),
	    cmocka_unit_test(three_agree),
	    cmocka_unit_test(three_disagree),
	    cmocka_unit_test(four_ascii),
	    cmocka_unit_test(a_mate_is_missing),
	    cmocka_unit_test(flow_that_is_not_followed),
	    cmocka_unit_test(long_runs),
	    cmocka_unit_test(every_width),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
