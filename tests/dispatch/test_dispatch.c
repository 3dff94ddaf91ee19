/*
 * Goal: whatever a carrier does or does not do, its order gives exactly one outcome that claims no
 * more than is known, the machine becomes free exactly when the process is gone, and other machines
 * do not notice.
 */
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>
#include "dispatch.h"

static struct {
	uv_loop_t loop;
	uv_timer_t limit;
	struct dispatch *d;
	bool refuse; /* steps */
	unsigned outcomes, steps, progresses, contents, freed;
	struct carry_outcome outcome; /* the last one */
	char machine[YOKE_NAME_MAX + 1];
	char old[8];
	unsigned want;     /* stop the loop after so many outcomes */
	const char *again; /* start this machine once from within an outcome */
	int again_rc;
} t;

static struct carry_order order(const char *machine)
{
	struct carry_order o = {.id = 1, .act = CARRY_FETCH, .items = 2};

	strcpy(o.machine, machine);
	for (int i = 0; i < 2; i++) {
		strcpy(o.item[i].channel, i ? "lower" : "upper");
		o.item[i].line.kind = LINE_DIRECTORY;
	}
	return o;
}

static int start(const char *machine)
{
	struct carry_order o = order(machine);

	return dispatch_start(t.d, &o, NULL);
}

static bool on_step(void *ctx, const struct carry_order *o, const struct carry_step *s)
{
	t.steps++;
	return !t.refuse;
}

static void on_progress(void *ctx, const struct carry_order *o, const struct carry_progress *p)
{
	t.progresses++;
}

static void on_content(
    void *ctx, const struct carry_order *o, const struct carry_content *c, int fd)
{
	t.contents++;
	assert_int_equal(fcntl(fd, F_GETFD), FD_CLOEXEC);
	assert_int_equal(pread(fd, t.old, sizeof t.old - 1, 0), c->size);
	close(fd);
}

static void on_outcome(void *ctx, const struct carry_order *o, const struct carry_outcome *out)
{
	t.outcomes++;
	t.outcome = *out;
	strcpy(t.machine, o->machine);
	if (t.again) {
		const char *machine = t.again;

		t.again = NULL;
		t.again_rc = start(machine);
	}
	if (t.outcomes == t.want)
		uv_stop(&t.loop);
}

static void on_freed(void *ctx, const char *machine)
{
	t.freed++;
	uv_stop(&t.loop);
}

static const struct dispatch_calls calls = {on_step, on_progress, on_content, on_outcome, on_freed};

static void on_limit(uv_timer_t *timer)
{
	uv_stop(&t.loop);
}

static int set_up(void **state)
{
	const struct dispatch_times times = {300, 200, 200};

	memset(&t, 0, sizeof t);
	uv_loop_init(&t.loop);
	uv_timer_init(&t.loop, &t.limit);
	t.d = dispatch_new(&t.loop, FAKE_CARRIER, &calls, &t, &times);
	return t.d ? 0 : -1;
}

/* Ends in a bounded time with no child and no handle left. */
static int tear_down(void **state)
{
	dispatch_stop(t.d);
	uv_close((uv_handle_t *)&t.limit, NULL);
	uv_run(&t.loop, UV_RUN_DEFAULT);
	dispatch_free(t.d);
	if (uv_loop_close(&t.loop))
		return -1;
	return waitpid(-1, NULL, WNOHANG) == -1 && errno == ECHILD ? 0 : -1;
}

/* Run until n outcomes came, 10 s at most. */
static void run(unsigned n)
{
	t.want = n;
	uv_timer_start(&t.limit, on_limit, 10000, 0);
	if (t.outcomes < n)
		uv_run(&t.loop, UV_RUN_DEFAULT);
	assert_int_equal(t.outcomes, n);
}

/* Run on for ms: nothing more may come. */
static void run_on(unsigned ms)
{
	unsigned before = t.outcomes;

	t.want = 0;
	uv_timer_start(&t.limit, on_limit, ms, 0);
	uv_run(&t.loop, UV_RUN_DEFAULT);
	assert_int_equal(t.outcomes, before);
}

static void ended(enum carry_error error, enum carry_held up, enum carry_held lo)
{
	assert_int_equal(t.outcome.error, error);
	assert_int_equal(t.outcome.items, 2);
	assert_int_equal(t.outcome.channel[0].held, up);
	assert_int_equal(t.outcome.channel[1].held, lo);
	assert_int_not_equal(t.outcome.text[0], '\0');
}

/* One order of a machine from start to end. */
static void one(const char *machine, enum carry_error error, enum carry_held up, enum carry_held lo)
{
	assert_int_equal(start(machine), 0);
	assert_true(dispatch_busy(t.d, machine));
	assert_int_equal(start(machine), -EBUSY);
	run(t.outcomes + 1);
	ended(error, up, lo);
	assert_false(dispatch_busy(t.d, machine));
	run_on(50);
}

static void a_good_one(void **state)
{
	one("good", CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(t.steps, 2);
	assert_int_equal(t.progresses, 1);
	assert_int_equal(t.contents, 1);
	assert_string_equal(t.old, "old");
}

static void a_refused_step(void **state)
{
	t.refuse = true;
	one("good", CARRY_ERROR_CANCELLED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(t.steps, 1);
}

static void nothing_of_ours_goes_with_it(void **state)
{
	int open_one = open("/dev/null", O_RDONLY); /* not close-on-exec */
	sigset_t term, before;

	sigemptyset(&term);
	sigaddset(&term, SIGTERM);
	sigprocmask(SIG_BLOCK, &term, &before);
	signal(SIGPIPE, SIG_IGN);
	one("clean", CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	signal(SIGPIPE, SIG_DFL);
	sigprocmask(SIG_SETMASK, &before, NULL);
	close(open_one);
}

static void silent_ones_are_ended(void **state)
{
	one("silent", CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(strstr(t.outcome.text, "silent"));
	one("deaf", CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
}

/* Only channels that a granted step could change are unknown. */
static void dead_ones_claim_nothing(void **state)
{
	one("dies", CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	one("dies-writing", CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	one("dies-replacing", CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_UNKNOWN);
	one("dies-sending", CARRY_ERROR_CARRIER, CARRY_HELD_UNKNOWN, CARRY_HELD_OLD);
	/* A control that executes while it reads stores nothing. */
	one("dies-feeding", CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	t.refuse = true;
	one("dies-replacing", CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
}

static void a_dead_inspection_leaves_it_unknown(void **state)
{
	struct carry_order o = order("dies");

	o.act = CARRY_INSPECT;
	assert_int_equal(dispatch_start(t.d, &o, NULL), 0);
	run(1);
	ended(CARRY_ERROR_CARRIER, CARRY_HELD_UNKNOWN, CARRY_HELD_UNKNOWN);
}

static void wrong_messages_end_it(void **state)
{
	static const char *const wrong[] = {"garbage", "oversize", "far-step", "far-item",
	    "hangs-up", "long-content", "open-content"};

	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
		one(wrong[i], CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(t.steps, 0);
	/* A carrier once said more bytes than its file has: who mapped them died of SIGBUS. */
	assert_int_equal(t.contents, 0);
}

/*
 * A large program, or a suspended machine, held the loop for longer than a carrier may be silent:
 * its timer was met before the signs of life that had come meanwhile, and a load over a serial line
 * was broken off in the middle.
 */
static void a_loop_that_stood_still(void **state)
{
	const struct dispatch_times times = {800, 200, 200};

	dispatch_stop(t.d);
	run_on(10);
	dispatch_free(t.d);
	t.d = dispatch_new(&t.loop, FAKE_CARRIER, &calls, &t, &times);
	assert_int_equal(start("beats"), 0);
	while (!t.progresses)
		uv_run(&t.loop, UV_RUN_ONCE);
	usleep(1000 * 1000);
	run(1);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
}

static void the_first_outcome_counts(void **state)
{
	one("after", CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	one("stays", CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
}

static void cancel(void **state)
{
	assert_int_equal(dispatch_cancel(t.d, "cancel"), -ENOENT);
	assert_int_equal(start("cancel"), 0);
	assert_int_equal(dispatch_cancel(t.d, "cancel"), 0);
	run(1);
	ended(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(dispatch_cancel(t.d, "cancel"), -ENOENT);
}

/* A carrier that talks without end holds neither the loop nor another machine. */
static void two_machines(void **state)
{
	assert_int_equal(start("flood"), 0);
	assert_int_equal(start("deaf"), 0);
	assert_int_equal(start("good"), 0);
	run(1);
	assert_string_equal(t.machine, "good");
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	run(2);
	assert_string_equal(t.machine, "deaf");
	assert_true(dispatch_busy(t.d, "flood"));
}

/* When the outcome is told the machine is free. */
static void the_next_order_from_within_an_outcome(void **state)
{
	t.again = "good";
	t.again_rc = 1;
	assert_int_equal(start("good"), 0);
	run(2);
	assert_int_equal(t.again_rc, 0);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
}

static int fill(void *ctx, int fd)
{
	return write(fd, ctx, strlen(ctx)) == (ssize_t)strlen(ctx) ? 0 : -EIO;
}

static int fill_fails(void *ctx, int fd)
{
	return -ENOSPC;
}

static void programs_go_sealed(void **state)
{
	struct carry_order o = order("echo");
	int fd = dispatch_seal("program", fill, "hello"), both[2] = {fd, fd};

	assert_true(fd >= 0);
	assert_int_equal(write(fd, "x", 1), -1);
	assert_int_not_equal(ftruncate(fd, 1), 0);
	assert_int_equal(dispatch_seal("program", fill_fails, NULL), -ENOSPC);
	o.act = CARRY_SEND;
	o.item[0].size = o.item[1].size = 5;
	assert_int_equal(dispatch_start(t.d, &o, both), 0);
	close(fd); /* the caller's own is not needed any more */
	run(1);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
}

static void a_program_to_be_executed_goes_sealed_too(void **state)
{
	struct carry_order o = order("echo");
	int fd = dispatch_seal("program", fill, "hello");

	o.act = CARRY_DRIP;
	assert_int_equal(dispatch_start(t.d, &o, &fd), -EINVAL); /* two programs */
	o.items = 1;
	o.item[0].size = 5;
	assert_int_equal(dispatch_start(t.d, &o, &fd), 0);
	close(fd);
	run(1);
	assert_int_equal(t.outcome.error, CARRY_ERROR_NONE);
}

static void what_cannot_be_started(void **state)
{
	struct dispatch *d = dispatch_new(&t.loop, "/nowhere/yoke-carrier", &calls, &t, NULL);
	struct carry_order o = order("M1");
	int none[2] = {-1, -1};

	assert_int_equal(dispatch_start(d, &o, NULL), -ENOENT);
	assert_false(dispatch_busy(d, "M1"));
	dispatch_stop(d);
	dispatch_free(d);
	o.items = 9;
	assert_int_equal(dispatch_start(t.d, &o, NULL), -EINVAL);
	o = order("good");
	o.act = CARRY_SEND;
	assert_true(dispatch_start(t.d, &o, none) < 0); /* no descriptors to send */
	assert_false(dispatch_busy(t.d, "good"));
	run_on(50);
	assert_int_equal(t.outcomes, 0);
}

/* Stopping ends them all, the deaf one too, and tells no outcome. */
static void stop(void **state)
{
	assert_int_equal(start("deaf"), 0);
	assert_int_equal(start("cancel"), 0);
	dispatch_stop(t.d);
	assert_int_equal(start("good"), -EBUSY);
	run_on(700);
	assert_int_equal(t.outcomes, 0);
	assert_false(dispatch_busy(t.d, "deaf"));
}

/*
 * A process that outlives SIGKILL cannot be made at will; one whose end is not noticed in time can:
 * the time between KILL and abandoned is zero here, so that it is over before the end of the
 * process is seen.
 */
static void abandoned(void **state)
{
	const struct dispatch_times times = {50, 50, 0};

	dispatch_stop(t.d);
	run_on(10);
	dispatch_free(t.d);
	t.d = dispatch_new(&t.loop, FAKE_CARRIER, &calls, &t, &times);
	assert_int_equal(start("deaf"), 0);
	run(1);
	ended(CARRY_ERROR_ABANDONED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_true(dispatch_busy(t.d, "deaf"));
	assert_int_equal(start("deaf"), -EBUSY);
	assert_int_equal(dispatch_cancel(t.d, "deaf"), -ENOENT);
	run_on(2000);
	assert_int_equal(t.freed, 1);
	assert_false(dispatch_busy(t.d, "deaf"));
	assert_int_equal(t.outcomes, 1);
}

/*
 * Who listens or looks says something once a minute. One that hung on a dead share when an order came
 * kept that order waiting for over a minute before it was even ended.
 */
static void a_hanging_listener_is_ended_soon(void **state)
{
	struct carry_order o = order("silent");
	uint64_t began;

	o.act = CARRY_LISTEN;
	o.look_ms = 1000;
	assert_int_equal(dispatch_start(t.d, &o, NULL), 0);
	run_on(1000); /* by itself it may be silent */
	uv_update_time(&t.loop);
	began = uv_now(&t.loop);
	for (int i = 0; i < 1000; i++) /* asked again and again it is not given more time */
		assert_int_equal(dispatch_cancel(t.d, "silent"), 0);
	run(1);
	ended(CARRY_ERROR_CARRIER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_true(uv_now(&t.loop) - began < 5000);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(a_good_one),
	    T(a_refused_step),
	    T(nothing_of_ours_goes_with_it),
	    T(silent_ones_are_ended),
	    T(dead_ones_claim_nothing),
	    T(a_dead_inspection_leaves_it_unknown),
	    T(wrong_messages_end_it),
	    T(a_loop_that_stood_still),
	    T(the_first_outcome_counts),
	    T(cancel),
	    T(two_machines),
	    T(the_next_order_from_within_an_outcome),
	    T(programs_go_sealed),
	    T(a_program_to_be_executed_goes_sealed_too),
	    T(what_cannot_be_started),
	    T(stop),
	    T(abandoned),
	    T(a_hanging_listener_is_ended_soon),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
