/*
 * Goal: what a control cannot execute while it reads it is found before the first character, with
 * its place; a program without anything of the kind may go. That such a control has neither the
 * text that is past nor the text to come, and calls programs of its own memory, is common practice.
 */
#include "pair_help.h"

struct drip_case {
	const char *blocks; /* between O1 and the end */
	const char *says;   /* NULL: it may go */
};

static void judge(const struct profile *profile, const char *text, bool waits, const char *says)
{
	const struct source s = {"J4417-C.upper.nc", text, 0};
	struct program *p = pair_help_program(profile, &s);
	struct text why = {0};
	bool may = program_drips(p, waits, &why);

	if (may != !says || (says && (!why.s || !strstr(why.s, says))))
		fail_msg("%s: %s, '%s'; expected '%s'", text, may ? "may go" : "may not go",
		    why.s ? why.s : "", says ? says : "");
	assert_true(may || !strncmp(why.s, "line ", 5) || !strncmp(why.s, "it cannot", 9) ||
	            !strncmp(why.s, "no M02", 6));
	text_free(&why);
	program_free(p);
}

static void block(const struct profile *profile, const struct drip_case *c, bool waits)
{
	struct text t = {0};

	text_printf(&t, "%%\nO1(JOB J4417 REV C UPPER)\nN10 G0 X62. Z3.\n%s\nN90 M30\n%%\n", c->blocks);
	assert_false(t.failed);
	judge(profile, t.s, waits, c->says);
	text_free(&t);
}

static void what_goes(void **state)
{
	static const char *const goes[] = {
	    "N20 G1 Z-18. F0.2",
	    "N20 #1=2. \nN30 G1 X#1",
	    "N20 IF[#100 EQ 1] THEN #101=2.",
	    "/N20 M08",
	    "N20 M01\nN30 M00",
	    "N20 G83 Z-20. R2. P500 Q5000",
	    "N20 G76 P020060 Q100 R0.05\nN30 G76 X18.2 Z-20. R0 P1200 Q300 F2.",
	    "N20 M98 P9010\nN30 M98 P9010 L3",
	    "N20 G65 P9020 A1. B2.",
	    "N20 G66 P9020 A1.\nN30 X2.\nN40 G67",
	    "N20 G4 P500",
	};
	struct profile p;

	profile_defaults(&p);
	pair_help_set(&p, "programs", "resident", "O9000-O9999");
	for (size_t i = 0; i < sizeof(goes) / sizeof(*goes); i++) {
		block(&p, &(struct drip_case){goes[i], NULL}, false);
		block(&p, &(struct drip_case){goes[i], NULL}, true);
	}
}

static void what_does_not(void **state)
{
	static const struct drip_case cases[] = {
	    {"N20 GOTO 10", "line 4 (N20): a jump (GOTO)"},
	    {"N20 GOTO 90", "line 4 (N20): a jump (GOTO)"},
	    {"G1 X2.\nN30 IF[#1 EQ 1] GOTO 90", "line 5 (N30): a jump (GOTO)"},
	    {"WHILE[#1 LT 3] DO1\nN30 X2.\nEND1", "line 4: a loop"},
	    {"N20 M99", "line 4 (N20): M99 leads back"},
	    {"N20 M99 P10", "line 4 (N20): M99 leads back"},
	    {"/N20 M99", "line 4 (N20): M99 leads back"},
	    {"N20 M98 P1", "line 4 (N20): a call of a program in this file"},
	    {"N20 M98 P2000", "line 4 (N20): a call of a program that 'resident' does not name"},
	    {"N20 G65 P2000", "line 4 (N20): a call of a program that 'resident' does not name"},
	    {"N20 M98 P#1", "line 4 (N20): a call of a program whose number is computed"},
	    {"N20 M98", "line 4 (N20): a call without P, so that it cannot be told"},
	    {"N20 M198 P30", "so that it cannot be told"},
	    {"N20 M97 P10", "so that it cannot be told"},
	    {"N20 M#1", "a computed M code, so that it cannot be told"},
	    {"N20 IF[#1 GT 0 GOTO 90", "so that it cannot be told"},
	    {"N20 G71 U2. R1.\nN30 G71 P40 Q50 U0.4 W0.1 F0.3\nN40 G0 X20.\nN50 G1 Z-30.",
	        "line 5 (N30): a cycle over a contour"},
	    {"N40 G0 X20.\nN50 G1 Z-30.\nN60 G70 P40 Q50\nN70 GOTO 10",
	        "line 6 (N60): a cycle over a contour"},
	    {"N20 GOTO 90\nN30 G73 P40 Q50 U1. W1. R3\nN40 X2.\nN50 Z-3.",
	        "line 4 (N20): a jump (GOTO)"},
	    {"N20 M30\nN30 G1 X2.", "line 5: text stands behind the program's end (line 4)"},
	};
	struct profile p;

	profile_defaults(&p);
	for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
		block(&p, &cases[i], false);
		block(&p, &cases[i], true);
	}
}

/* Wait codes, wait calls and signals, wherever they stand in the text. */
static void wait_codes(void **state)
{
	static const char *const codes[] = {"N20 M201", "/N20 M201", "/2 N20 M201", "N20 MEET(7,1,2)",
	    "N20 M400", "N20 M410", "IF[#1 EQ 1] THEN M201"};
	struct profile p;

	profile_defaults(&p);
	pair_help_set(&p, "wait", "call", "MEET({code},{channels})");
	pair_help_set(&p, "wait", "send", "M400-M409");
	pair_help_set(&p, "wait", "receive", "M410-M419");
	for (size_t i = 0; i < sizeof(codes) / sizeof(*codes); i++) {
		block(&p, &(struct drip_case){codes[i], "line 4"}, false);
		block(&p, &(struct drip_case){codes[i], "drip = alone"}, false);
		block(&p, &(struct drip_case){codes[i], NULL}, true);
	}
	/* Not of this machine. */
	pair_help_set(&p, "wait", "codes", "M300-M399");
	block(&p, &(struct drip_case){"N20 M201", NULL}, false);
}

/* What stands behind the program's end is never read: neither subprograms nor anything else. */
static void ends(void **state)
{
	static const struct drip_case files[] = {
	    {"%\nO1\nG0X1.\nM30\n%\n", NULL},
	    {"%\nO1\nG0X1.\nM02\n%\n", NULL},
	    {"O1\nG0X1.\nM30\n", NULL},
	    {"%\nO1\nG0X1.\nM30\n\n\n%\n", NULL},
	    {"%\nO1\nM98P2000\nM30\nO2000\nG0X1.\nM99\n%\n",
	        "line 3: a call of a program in this file, which the control has not read yet"},
	    {"%\nO1\nG0X1.\nM30\nO2000\nM201\nM99\n%\n", "line 5: a second program"},
	    {"%\nO1\nG0X1.\nM30\nO<SUB>\nG0X1.\nM99\n%\n", "line 5: a second program"},
	    {"%\nO1\nG0X1.\n%\n", "no M02 or M30 ends it"},
	    {"%\nO1\nG0X1.\n/M30\n%\n", "no M02 or M30 ends it"},
	    {"%\nO1\nG0X1.\nM30\n%\nG0X2.\n", "line 5: text stands behind the program's end"},
	    {"O1\nG0X1.\n%\nM30\n", "it cannot be told: "},
	};
	struct profile p;

	profile_defaults(&p);
	for (size_t i = 0; i < sizeof(files) / sizeof(*files); i++)
		judge(&p, files[i].blocks, true, files[i].says);
	/* An M99 that ends the machine's main programs begins them again. */
	pair_help_set(&p, "limits", "end_m99", "yes");
	judge(&p, "%\nO1\nG0X1.\nM99\n%\n", true, "line 4: M99 leads back");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_goes),
	    cmocka_unit_test(what_does_not),
	    cmocka_unit_test(wait_codes),
	    cmocka_unit_test(ends),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
