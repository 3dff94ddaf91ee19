/* The command in front of the fake service: one scratch folder, which is the service's home. */
#ifndef PLAY_H
#define PLAY_H

#include "fake.h"

struct play {
	void *scratch; /* the folder */
	struct fake *fake;
};

/* cmocka setup and teardown; *state is a struct play. */
int play_setup(void **state);
int play_teardown(void **state);

/* What the last command wrote. */
extern char play_out[1 << 18], play_err[1 << 16];

/*
 * Run a shell line in the scratch folder: $Y is the command, YOKE_HOME the folder, the locale
 * UTF-8, the time zone UTC+2 without summer time, 80 columns. The exit status.
 */
int play_run(void **state, const char *line);

/* The same, which must end with status, and say said (on either stream; NULL: anything). */
void play_expect(void **state, const char *line, int status, const char *said);

#endif
