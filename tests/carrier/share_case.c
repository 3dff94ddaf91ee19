#include "share_case.h"

#include <string.h>
#include <sys/wait.h>

struct rig r;

/* A machine with both old programs in two folders, and an order for both new ones. */
int set_up(void **state)
{
	rig_open(&r, CARRY_SEND);
	rig_directory(&r, 0, "path1", "4417.NC");
	rig_directory(&r, 1, "path2", "4417.NC");
	rig_write(&r, "share/path1/4417.NC", OLD_UP);
	rig_write(&r, "share/path2/4417.NC", OLD_LO);
	rig_program(&r, 0, NEW_UP);
	rig_program(&r, 1, NEW_LO);
	return 0;
}

int tear_down(void **state)
{
	rig_close(&r);
	return 0;
}

void holds(const char *up, const char *lo)
{
	const char *a = rig_read(&r, "share/path1/4417.NC"),
	           *b = rig_read(&r, "share/path2/4417.NC");

	if (up)
		assert_string_equal(a, up);
	else
		assert_null(a);
	if (lo)
		assert_string_equal(b, lo);
	else
		assert_null(b);
}

void clean(void)
{
	assert_int_equal(rig_leftovers(&r, "share/path1"), 0);
	assert_int_equal(rig_leftovers(&r, "share/path2"), 0);
}

void ended(enum carry_error error, enum carry_held up, enum carry_held lo)
{
	assert_true(r.has_outcome);
	if (r.outcome.error != error)
		print_message("%s\n", r.outcome.text);
	assert_int_equal(r.outcome.error, error);
	assert_int_equal(r.outcome.items, 2);
	assert_int_equal(r.outcome.channel[0].held, up);
	assert_int_equal(r.outcome.channel[1].held, lo);
	assert_true(WIFEXITED(r.status));
	assert_int_equal(WEXITSTATUS(r.status), 0);
}
