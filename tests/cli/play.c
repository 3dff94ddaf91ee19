#include "play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include "scratch.h"

char play_out[1 << 18], play_err[1 << 16];

int play_setup(void **state)
{
	struct play *p = calloc(1, sizeof(*p));

	assert_non_null(p);
	if (scratch_setup(&p->scratch))
		return -1;
	p->fake = fake_start(p->scratch);
	*state = p;
	return 0;
}

int play_teardown(void **state)
{
	struct play *p = *state;
	int failed;

	fake_stop(p->fake);
	failed = scratch_teardown(&p->scratch);
	free(p);
	return failed;
}

static void read_file(struct play *p, const char *name, char *out, size_t max)
{
	FILE *f = fopen(scratch_path(&p->scratch, name), "r");
	size_t n;

	assert_non_null(f);
	n = fread(out, 1, max - 1, f);
	out[n] = '\0';
	fclose(f);
}

int play_run(void **state, const char *line)
{
	struct play *p = *state;
	char command[8192];
	int status;

	snprintf(command, sizeof(command),
	    "cd '%s' && export Y='%s/cli/yoke' YOKE_HOME=. LC_ALL=C.UTF-8 TZ=XXX-2 COLUMNS=80 && { "
	    "%s; } >.out 2>.err",
	    (char *)p->scratch, BUILD_DIR, line);
	status = system(command);
	read_file(p, ".out", play_out, sizeof(play_out));
	read_file(p, ".err", play_err, sizeof(play_err));
	assert_true(WIFEXITED(status));
	return WEXITSTATUS(status);
}

void play_expect(void **state, const char *line, int status, const char *said)
{
	int got = play_run(state, line);

	if (got != status || (said && !strstr(play_out, said) && !strstr(play_err, said)))
		fail_msg("%s: status %d, expected %d with '%s'; it said:\n%s--- and on stderr:\n%s",
		    line, got, status, said ? said : "", play_out, play_err);
}
