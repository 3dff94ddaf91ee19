/*
 * Goal: names are taken as FAT takes them, by the rules of Microsoft's FAT32 File System
 * Specification (fatgen103), and refused with words where it does not.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <string.h>
#include "fat_name.h"

static void good(const char *name, bool eight_three)
{
	const char *fault = fat_name_fault(name, eight_three);

	if (fault)
		fail_msg("'%s' %s", name, fault);
}

static void bad(const char *name, bool eight_three, const char *said)
{
	const char *fault = fat_name_fault(name, eight_three);

	if (!fault || !strstr(fault, said))
		fail_msg("'%s' should be refused with '%s', but: %s", name, said, fault ? fault : "good");
}

static void test_long(void **state)
{
	char name[300];

	good("J4417_upper.NC", false);
	good("O4417", false);
	good("a b+c,d;e=f[g].h.nc", false);
	good(".hidden", false);
	for (const char *s = "\"*/:<>?\\|"; *s; s++) {
		snprintf(name, sizeof(name), "J4417%c.NC", *s);
		bad(name, false, "FAT does not take");
	}
	bad("", false, "empty");
	bad("J4417\x1f.NC", false, "printable ASCII");
	bad("J4417\x7f.NC", false, "printable ASCII");
	bad("J\xc3\xb6.NC", false, "printable ASCII");
	bad(" J.NC", false, "blank");
	bad("J.NC ", false, "blank");
	bad("J.NC.", false, "point");
	bad(".", false, "point");
	bad("..", false, "point");
	for (const char *s = "CON\0prn\0AUX\0nul\0COM1\0lpt9\0Con.NC\0nul.tar.gz\0"; *s; s += strlen(s) + 1)
		bad(s, false, "device");
	good("CON1", false);
	good("COM0", false);
	good("COM10", false);
	good("CONE", false);
	memset(name, 'A', 255);
	name[255] = '\0';
	good(name, false);
	strcat(name, "A");
	bad(name, false, "255");
}

static void test_short(void **state)
{
	good("O4417", true);
	good("O4417.NC", true);
	good("12345678.123", true);
	good("$%'-_@~`.!()", true);
	good("{}^#&.A", true);
	bad("123456789.NC", true, "8.3");
	bad("O4417.NC12", true, "8.3");
	bad("O4417.", true, "point");
	bad(".NC", true, "8.3");
	bad("A.B.C", true, "8.3");
	bad("o4417.NC", true, "upper case");
	bad("O4417.nc", true, "upper case");
	bad("O 4417.NC", true, "8.3");
	for (const char *s = "+,;=[]"; *s; s++) {
		char name[8] = "A_.NC";

		name[1] = *s;
		bad(name, true, "8.3");
		good(name, false);
	}
}

static void test_path(void **state)
{
	assert_null(fat_name_path_fault("", true));
	assert_null(fat_name_path_fault("CH1", true));
	assert_null(fat_name_path_fault("NC/PATH1", true));
	assert_non_null(fat_name_path_fault("/CH1", false));
	assert_non_null(fat_name_path_fault("CH1/", false));
	assert_non_null(fat_name_path_fault("CH1//X", false));
	assert_non_null(fat_name_path_fault("CH1/..", false));
	assert_non_null(fat_name_path_fault("ch1", true));
	assert_null(fat_name_path_fault("ch1", false));
	assert_true(fat_name_same("O4417.NC", "o4417.nc"));
	assert_false(fat_name_same("O4417.NC", "O4417"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_long), cmocka_unit_test(test_short), cmocka_unit_test(test_path)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
