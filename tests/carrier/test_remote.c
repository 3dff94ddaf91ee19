/*
 * Goal: over a server the machine ends with both new programs, or with both old ones, and the outcome
 * says which and why, whatever the server refuses or says that is not so; names are never commands; and
 * the password is nowhere to be seen. The server is scripted; tests/peers does the same with real ones.
 */
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include "remote_case.h"

static void both_are_replaced(void **state)
{
	static const struct carry_step steps[] = {
	    {CARRY_STEP_WRITE, 2}, {CARRY_STEP_REPLACE, 0}, {CARRY_STEP_REPLACE, 1}};

	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
	assert_int_equal(r.steps, 3);
	assert_memory_equal(r.step, steps, sizeof steps);
	assert_int_equal(r.contents, 2);
	assert_string_equal(r.content[0].text, OLD_UP);
	assert_string_equal(r.content[1].text, OLD_LO);
	for (uint32_t i = 0; i < 2; i++)
		assert_int_equal(r.outcome.channel[i].compared, 1);
	assert_int_equal(ftp.not_binary, 0);
	assert_true(ftp_count("STOR") >= 4);
	/* Nothing was uploaded under a name that a machine reads. */
	for (unsigned i = 0; i < ftp.commands && i < FTP_LOG; i++)
		assert_true(strncmp(ftp.log[i], "STOR ", 5) || !strncmp(ftp.log[i] + 5, "yoke-", 5));
	says("put in place");
	assert_null(strstr(r.outcome.text, "away"));
}

static void a_first_pair(void **state)
{
	unlink(rig_path(&r, "share/path1/4417.NC"));
	unlink(rig_path(&r, "share/path2/4417.NC"));
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
	assert_int_equal(r.contents, 0);
}

static bool ends(const char *line, const char *end)
{
	size_t have = strlen(line), want = strlen(end);

	return have >= want && !strcmp(line + have - want, end);
}

/*
 * An order is one login, and asks for nothing twice in a row: it once listed each folder seven times and
 * read the marker nine times. What it must not save is to look for the marker after what is written and
 * before each program that is replaced.
 */
static void few_questions(void **state)
{
	for (int first = 1; first >= 0; first--) {
		unsigned placed = 0;
		bool marked = false;

		ftp_forget();
		ftp.password = SESAME;
		if (first) {
			unlink(rig_path(&r, "share/path1/4417.NC"));
			unlink(rig_path(&r, "share/path2/4417.NC"));
		}
		rig_run(&r);
		ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
		assert_int_equal(ftp.logins, 1);
		assert_true(ftp_count("NLST") <= 6);
		assert_true(ftp.commands <= 110);
		for (unsigned i = 0; i < ftp.commands && i < FTP_LOG; i++) {
			bool places = !strncmp(ftp.log[i], "RNTO ", 5) && ends(ftp.log[i], "/4417.NC");

			assert_true(!places || marked);
			placed += places;
			if (places || !strncmp(ftp.log[i], "STOR ", 5))
				marked = false;
			marked |= !strcmp(ftp.log[i], "SIZE MARKER");
		}
		assert_int_equal(placed, 2);
		assert_true(marked);
	}
}

static void one_folder_at_the_root(void **state)
{
	for (uint32_t i = 0; i < 2; i++)
		strcpy(r.order.item[i].line.remote.folder, "");
	strcpy(r.order.item[0].target, "O1.NC");
	strcpy(r.order.item[1].target, "O2.NC");
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_string_equal(rig_read(&r, "share/O1.NC"), NEW_UP);
	assert_string_equal(rig_read(&r, "share/O2.NC"), NEW_LO);
	assert_int_equal(rig_leftovers(&r, "share"), 0);
	/* One login, or few: not one for each call. */
	assert_true(ftp.logins < 6);
}

/* Characters that mean something in a URL, a command or a shell are characters of a name. */
static void strange_names(void **state)
{
	static const char *const name[] = {"a b;type=a.NC", "100%25 #1?.NC", "\"q\" 'q'.NC",
	    "\xc3\xbc.NC", "~x&$(y).NC"};

	for (size_t i = 0; i < sizeof name / sizeof *name; i++) {
		char path[128];

		snprintf(path, sizeof path, "share/path1/%s", name[i]);
		strcpy(r.order.item[0].target, name[i]);
		rig_write(&r, path, OLD_UP);
		r.order.id++;
		rig_run(&r);
		ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
		assert_string_equal(rig_read(&r, path), NEW_UP);
		clean();
	}
}

static void names_that_would_be_commands(void **state)
{
	static const char *const name[] = {"a\r\nDELE 4417.NC", "a\nb", "a\x01", "../4417.NC",
	    "yoke-1-upper.old", "yoke-1.0000001f-upper.part",
	    "..\\4417.NC", "4417.NC.", "4417.NC "};

	for (size_t i = 0; i < sizeof name / sizeof *name; i++) {
		strcpy(r.order.item[0].target, name[i]);
		rig_run(&r);
		ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
		assert_int_equal(r.steps, 0);
	}
	strcpy(r.order.item[0].target, "4417.NC");
	strcpy(r.order.item[0].line.remote.folder, "path1\r\nDELE x");
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	remote_lines();
	strcpy(r.order.item[0].line.remote.root, "/srv/../etc");
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(ftp_count("DELE"), 0);
	holds(OLD_UP, OLD_LO);
}

/*
 * Shares that hold names of 8.3 give a long name a short one beside, which no list shows: a job whose program
 * is called BUSHIN~1.NC replaced the program of another job, BUSHING4.NCX, and called it its own old one.
 */
static void a_name_that_reaches_another_file(void **state)
{
	ftp.alias = "BUSHIN~1.NC";
	ftp.alias_of = "BUSHING4.NCX";
	rig_write(&r, "share/path1/BUSHING4.NCX", "another job's");
	strcpy(r.order.item[0].target, "BUSHIN~1.NC");
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("another name in its folder");
	assert_int_equal(r.steps, 0);
	assert_string_equal(rig_read(&r, "share/path1/BUSHING4.NCX"), "another job's");
}

static void fetch(void **state)
{
	r.order.act = CARRY_FETCH;
	rig_expect(&r, 0, OLD_UP);
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	assert_int_equal(r.steps, 0);
	assert_int_equal(r.contents, 2);
	assert_string_equal(r.content[1].text, OLD_LO);
	unlink(rig_path(&r, "share/path2/4417.NC"));
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_ABSENT);
}

/* --- What a server refuses --- */

/*
 * Some servers refuse the list of an empty folder, with the code of one that may not be read: the first pair of
 * a machine could not be carried there. One that may not be read is still told as such.
 */
static void no_list_of_an_empty_folder(void **state)
{
	ftp.no_empty_list = true;
	unlink(rig_path(&r, "share/path1/4417.NC"));
	unlink(rig_path(&r, "share/path2/4417.NC"));
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
	script("NLST", "", 1, FTP_REFUSE);
	rig_run(&r);
	assert_int_equal(r.outcome.error, CARRY_ERROR_REFUSED);
	says("550 Permission denied");
	holds(NEW_UP, NEW_LO);
}

/* Case "rename refused": RNTO of the upper 250, of the lower 553. */
static void second_rename_is_refused(void **state)
{
	script("RNTO", "path2/4417.NC", 1, FTP_REFUSE);
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
	assert_int_equal(r.step[r.steps - 1].step, CARRY_STEP_PUT_BACK);
	says("550 Permission denied");
	says("the old programs were put back");
}

static void renames_are_refused(void **state)
{
	script("RNFR", "upper.part", 1, FTP_REFUSE);
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
	says("nothing was changed");
}

static void nothing_can_be_written(void **state)
{
	script("STOR", ".part", 1, FTP_REFUSE);
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("550 Permission denied");
	script("STOR", ".part", 2, FTP_FULL);
	rig_run(&r);
	ended(CARRY_ERROR_SPACE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
}

static void nobody_more_is_taken(void **state)
{
	script("USER", "", 1, FTP_BUSY);
	rig_run(&r);
	ended(CARRY_ERROR_BUSY, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("421 Too many");
}

static void wrong_password(void **state)
{
	ftp.password = "another";
	rig_run(&r);
	ended(CARRY_ERROR_LOGIN, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("the login of user 'cnc' is refused");
	assert_int_equal(r.steps, 0);
}

/* Where nobody may look, there the password is not. */
static enum rig_answer peek(struct rig *rig, const struct carry_step *s)
{
	static const char *const place[] = {"cmdline", "environ"};
	static char bytes[65536];

	for (size_t i = 0; i < 2; i++) {
		char path[64];
		FILE *f;
		size_t n;

		snprintf(path, sizeof path, "/proc/%d/%s", (int)rig->pid, place[i]);
		f = fopen(path, "re");
		n = f ? fread(bytes, 1, sizeof bytes, f) : 0;
		assert_null(memmem(bytes, n, SESAME, strlen(SESAME)));
		if (f)
			fclose(f);
	}
	return RIG_GO;
}

static void the_password_is_nowhere(void **state)
{
	r.on_step = peek;
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	says("");
}

/* Servers repeat a command that they do not take, as "500 'PASS ...': command not understood" (common
 * practice), and the server's words stand in the outcome, in the trail, and on every screen. */
static void a_server_that_tells_the_password(void **state)
{
	ftp.tells_password = true;
	rig_run(&r);
	ended(CARRY_ERROR_LOGIN, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("500 'PASS ***': command not understood");
	assert_int_equal(r.steps, 0);
}

/* libcurl writes the keys of every TLS connection, from which the password can be read, into the file
 * that the environment names; and makes that file as soon as it is loaded. */
static void keys_are_not_written_down(void **state)
{
	char path[256];

	snprintf(path, sizeof path, "%s", rig_path(&r, "keys"));
	setenv("SSLKEYLOGFILE", path, 1);
	rig_run(&r);
	unsetenv("SSLKEYLOGFILE");
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_not_equal(access(path, F_OK), 0);
}

static void a_password_that_others_can_read(void **state)
{
	chmod(rig_path(&r, "password"), 0640);
	rig_run(&r);
	ended(CARRY_ERROR_SECRET, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("mode 0640");
	unlink(rig_path(&r, "password"));
	rig_run(&r);
	ended(CARRY_ERROR_SECRET, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("No such file");
	rig_write(&r, "password", SESAME "\n" SESAME "\n");
	chmod(rig_path(&r, "password"), 0600);
	rig_run(&r);
	ended(CARRY_ERROR_SECRET, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("not one line");
	assert_int_equal(ftp.commands, 0);
}

static void a_credential(void **state)
{
	char folder[128];

	for (uint32_t i = 0; i < 2; i++)
		strcpy(r.order.item[i].line.remote.password, "credential:password");
	unsetenv("CREDENTIALS_DIRECTORY");
	rig_run(&r);
	ended(CARRY_ERROR_SECRET, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("LoadCredential=");
	snprintf(folder, sizeof folder, "%s", rig_path(&r, ""));
	setenv("CREDENTIALS_DIRECTORY", folder, 1);
	rig_run(&r);
	unsetenv("CREDENTIALS_DIRECTORY");
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
}

/* --- What is not there --- */

static void no_marker_no_write(void **state)
{
	unlink(rig_path(&r, "share/MARKER"));
	rig_run(&r);
	ended(CARRY_ERROR_MARKER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.steps, 0);
	assert_int_equal(ftp_count("STOR"), 0);
}

static enum rig_answer marker_goes(struct rig *rig, const struct carry_step *s)
{
	if (s->step == CARRY_STEP_REPLACE && s->item == 1)
		unlink(rig_path(&r, "share/MARKER"));
	return RIG_GO;
}

static void the_marker_goes_during_the_order(void **state)
{
	r.on_step = marker_goes;
	rig_run(&r);
	ended(CARRY_ERROR_MARKER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
}

static void no_folder(void **state)
{
	strcpy(r.order.item[1].line.remote.folder, "path3");
	rig_run(&r);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.item, 1);
	assert_int_not_equal(access(rig_path(&r, "share/path3"), F_OK), 0);
}

static void no_server(void **state)
{
	int port = ftp.port;

	ftp.port = 1; /* where nobody listens, since only root may */
	remote_lines();
	ftp.port = port;
	rig_run(&r);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("does not answer");
}

/* FTP says 550 to a file that is not there, and to one that may not be read: the old program of the
 * second kind was about to be replaced without having been kept. */
static void there_and_not_readable(void **state)
{
	script("SIZE", "4417.NC", 1, FTP_REFUSE);
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("is there and cannot be read");
	assert_int_equal(r.steps, 0);
	unlink(rig_path(&r, "share/path2/4417.NC"));
	assert_int_equal(mkdir(rig_path(&r, "share/path2/4417.NC"), 0777), 0);
	ftp_forget();
	ftp.password = SESAME;
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("is it a folder");
}

/* --- What a server says and is not so --- */

static void the_size_is_a_lie(void **state)
{
	script("SIZE", ".part", 2, FTP_LIE);
	rig_run(&r);
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
	script("SIZE", "4417.NC", 2, FTP_LIE);
	rig_run(&r);
	ended(CARRY_ERROR_IO, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.steps, 0);
}

static void an_endless_list(void **state)
{
	static char garbage[60001];

	for (uint32_t i = 0; i < 2; i++)
		r.order.item[i].line.remote.open_ms = r.order.item[i].line.remote.answer_ms = 600;
	memset(garbage, 'x', sizeof garbage - 1);
	ftp.list_garbage = garbage;
	rig_run(&r);
	ended(CARRY_ERROR_NO_ANSWER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	ftp.list_garbage = "yoke-7-upper.old\r\n../../x\r\n\r\n\n";
	rig_run(&r);
	ended(CARRY_ERROR_NO_ANSWER, CARRY_HELD_OLD, CARRY_HELD_OLD);
}

/* A server that lists the same temporary over and over: each was removed with a command of its own, for hours,
 * and by an order that was cleaning up nobody could end it. */
static void endless_left_overs(void **state)
{
	static const char form[] = "yoke-3.0000001f-upper.part\r\n";
	static char lines[6000 * (sizeof form - 1) + 1];

	for (size_t i = 0; i < 6000; i++)
		memcpy(lines + i * (sizeof form - 1), form, sizeof form - 1);
	ftp.list_once = lines;
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("thousands of temporaries");
	assert_int_equal(ftp_count("DELE"), 0);
}

/* --- Others --- */

static void left_overs_of_others(void **state)
{
	rig_write(&r, "share/path1/yoke-3.0000001f-upper.part", "stump");
	rig_write(&r, "share/path2/yoke-3-lower.old", "old");
	rig_write(&r, "share/path2/yoke-999999-lower.old", "needed");
	rig_write(&r, "share/path2/yoke-readme", "not ours");
	rig_write(&r, "share/path2/.yoke-3-lower.old", "a mount's");
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.step[0].step, CARRY_STEP_TIDY);
	assert_null(rig_read(&r, "share/path1/yoke-3.0000001f-upper.part"));
	assert_null(rig_read(&r, "share/path2/yoke-3-lower.old"));
	assert_string_equal(rig_read(&r, "share/path2/yoke-999999-lower.old"), "needed");
	assert_int_equal(rig_leftovers(&r, "share/path2"), 3);
}

static enum rig_answer edit_lower(struct rig *rig, const struct carry_step *s)
{
	if (s->step == CARRY_STEP_REPLACE && s->item == 1)
		rig_write(&r, "share/path2/4417.NC", "edited at the machine");
	return RIG_GO;
}

static void an_edit_meanwhile_is_not_lost(void **state)
{
	r.on_step = edit_lower;
	rig_run(&r);
	ended(CARRY_ERROR_IO, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	holds(OLD_UP, "edited at the machine");
	clean();
}

static void a_file_while_it_runs(void **state)
{
	r.order.running.kind = RUNNING_FILE;
	strcpy(r.order.running.file, "RUN.FLG");
	rig_write(&r, "share/RUN.FLG", "");
	rig_run(&r);
	ended(CARRY_ERROR_RUNNING, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	assert_int_equal(unlink(rig_path(&r, "share/RUN.FLG")), 0);
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
}

static void a_file_in_other_letters(void **state)
{
	r.order.running.kind = RUNNING_FILE;
	strcpy(r.order.running.file, "RUN.FLG");
	rig_write(&r, "share/Run.flg", "");
	rig_run(&r);
	ended(CARRY_ERROR_RUNNING, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
}

/* Why it cannot be told stands in the server's words: they were taken for an errno. */
static void whether_it_runs_is_not_told(void **state)
{
	r.order.running.kind = RUNNING_FILE;
	strcpy(r.order.running.file, "RUN.FLG");
	script("NLST", "", 3, FTP_BUSY); /* after those of the two folders */
	rig_run(&r);
	ended(CARRY_ERROR_RUNNING, CARRY_HELD_OLD, CARRY_HELD_OLD);
	says("nothing is replaced on a guess");
	says("421 Too many.");
	holds(OLD_UP, OLD_LO);
	clean();
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, remote_set_up, remote_tear_down)
	const struct CMUnitTest tests[] = {
	    T(both_are_replaced),
	    T(a_first_pair),
	    T(few_questions),
	    T(one_folder_at_the_root),
	    T(strange_names),
	    T(names_that_would_be_commands),
	    T(a_name_that_reaches_another_file),
	    T(fetch),
	    T(no_list_of_an_empty_folder),
	    T(second_rename_is_refused),
	    T(renames_are_refused),
	    T(nothing_can_be_written),
	    T(nobody_more_is_taken),
	    T(wrong_password),
	    T(the_password_is_nowhere),
	    T(a_server_that_tells_the_password),
	    T(keys_are_not_written_down),
	    T(a_password_that_others_can_read),
	    T(a_credential),
	    T(no_marker_no_write),
	    T(the_marker_goes_during_the_order),
	    T(no_folder),
	    T(no_server),
	    T(there_and_not_readable),
	    T(the_size_is_a_lie),
	    T(an_endless_list),
	    T(endless_left_overs),
	    T(left_overs_of_others),
	    T(an_edit_meanwhile_is_not_lost),
	    T(a_file_while_it_runs),
	    T(a_file_in_other_letters),
	    T(whether_it_runs_is_not_told),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
