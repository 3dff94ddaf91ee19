#include "remote_case.h"

#include <string.h>
#include <sys/stat.h>

static struct {
	char verb[8], end[64];
	unsigned n, seen;
	enum ftp_act act;
	bool down;
} wish;

static enum ftp_act play(const char *verb, const char *argument, unsigned n)
{
	size_t have = strlen(argument), want = strlen(wish.end);

	if (strcmp(verb, wish.verb) || have < want || strcmp(argument + have - want, wish.end) ||
	    ++wish.seen != wish.n)
		return FTP_DO;
	ftp.down = wish.down;
	return wish.act;
}

static void set_script(
    const char *verb, const char *end, unsigned n, enum ftp_act act, bool down)
{
	ftp_forget();
	ftp.password = SESAME;
	snprintf(wish.verb, sizeof wish.verb, "%s", verb);
	snprintf(wish.end, sizeof wish.end, "%s", end);
	wish.n = n;
	wish.seen = 0;
	wish.act = act;
	wish.down = down;
	ftp.on_command = play;
}

void script(const char *verb, const char *end, unsigned n, enum ftp_act act)
{
	set_script(verb, end, n, act, false);
}

void script_down(const char *verb, const char *end, unsigned n, enum ftp_act act)
{
	set_script(verb, end, n, act, true);
}

void remote_lines(void)
{
	char address[64], password[128];

	snprintf(address, sizeof address, "ftp://127.0.0.1:%d", ftp.port);
	snprintf(password, sizeof password, "file:%s", rig_path(&r, "password"));
	for (uint32_t i = 0; i < 2; i++) {
		rig_directory(&r, i, i ? "path2" : "path1", "4417.NC");
		rig_remote(&r, i, address, "cnc", password);
	}
}

int remote_set_up(void **state)
{
	set_up(state);
	ftp_start();
	ftp_forget();
	ftp.password = SESAME;
	rig_write(&r, "password", SESAME "\n");
	chmod(rig_path(&r, "password"), 0600);
	remote_lines();
	return 0;
}

int remote_tear_down(void **state)
{
	ftp_wake();
	ftp_forget();
	return tear_down(state);
}

void inspect(void)
{
	bool no_replace = ftp.no_replace;

	ftp_forget();
	ftp.password = SESAME;
	ftp.no_replace = no_replace;
	r.order.act = CARRY_INSPECT;
	r.on_step = NULL;
	rig_run(&r);
	assert_true(r.has_outcome);
	if (r.outcome.error)
		print_message("%s\n", r.outcome.text);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
}

void says(const char *words)
{
	if (!strstr(r.outcome.text, words))
		fail_msg("not said: '%s'\nbut: %s", words, r.outcome.text);
	assert_null(strstr(r.outcome.text, SESAME));
}
