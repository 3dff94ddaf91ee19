/*
 * Goal: what is no serial line is refused before anything is sent; the driver above works over any
 * descriptor.
 */
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <termios.h>
#include <unistd.h>
#include <cmocka.h>
#include "fake_sys.h"
#include "job.h"
#include "port_case.h"
#include "serial.h"
#include "tcp.h"

static void ports_that_are_none(void **state)
{
	static const char *const wrong[] = {"usb:NO-SUCH", "path:nowhere", "port:no-such",
	    "/dev/ttyS0", "/dev/ttyUSB0", "port:ttyUSB0", "relative", "tcp://", "tcp://x",
	    "tcp://:1", "tcp://x:99999999"};

	begin(never_asks);
	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
		strcpy(r.order.item[0].line.serial.address, wrong[i]);
		rig_run(&r);
		ended(i < 3 ? CARRY_ERROR_OFFLINE : CARRY_ERROR_ORDER, CARRY_HELD_OLD,
		    CARRY_HELD_OLD);
	}
	desk_close(&d);
}

static void addresses(void **state)
{
	char host[YOKE_PATH_MAX + 1], port[6];

	assert_true(tcp_split("tcp://server-3:4001", host, port));
	assert_string_equal(host, "server-3");
	assert_string_equal(port, "4001");
	assert_true(tcp_split("tcp://[::1]:4001", host, port));
	assert_string_equal(host, "::1");
	assert_false(tcp_split("tcp://[]:1", host, port));
	assert_false(tcp_split("tcp://x:", host, port));
	assert_false(tcp_split("tcp://x:1a", host, port));
	assert_false(tcp_split("udp://x:1", host, port));
}

/* The driver takes any descriptor: here a pseudo-terminal, with the order run in this process. */
static struct carry_outcome seen;

static void no_progress(void *ctx, const struct carry_progress *p)
{
}

static void no_step(void *ctx, const struct carry_step *s)
{
}

static int no_content(void *ctx, const struct carry_content *c, int fd)
{
	close(fd);
	return 0;
}

static void an_outcome(void *ctx, const struct carry_outcome *o)
{
	seen = *o;
}

static void *pty_side(void *arg)
{
	struct desk *k = arg;
	unsigned char dc1 = DC1;
	ssize_t n = write(k->fd, &dc1, 1);

	while (n > 0 && !memmem(k->heard, k->n, "M30\n%", 5)) {
		n = read(k->fd, k->heard + k->n, 256);
		k->n += n > 0 ? (size_t)n : 0;
	}
	return NULL;
}

static void over_any_descriptor(void **state)
{
	static const struct parent_hand calls = {no_progress, no_step, no_content, an_outcome};
	struct parent *p = parent_new(-1, -1, &calls, NULL);
	struct stream s = {.fd = -1}, *both[YOKE_CHANNELS_MAX] = {&s};
	struct termios t;
	pthread_t thread;
	struct job j;

	begin(never_asks);
	desk_close(&d);
	memset(&d, 0, sizeof d);
	d.fd = posix_openpt(O_RDWR | O_NOCTTY);
	assert_int_equal(grantpt(d.fd) | unlockpt(d.fd), 0);
	s.fd = open(ptsname(d.fd), O_RDWR | O_NOCTTY | O_NONBLOCK);
	assert_true(s.fd >= 0);
	assert_int_equal(tcgetattr(s.fd, &t), 0);
	cfmakeraw(&t);
	assert_int_equal(tcsetattr(s.fd, TCSANOW, &t), 0);
	r.order.items = 1;
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	assert_int_equal(job_open(&j, p, &r.order, r.fd, 1, false), 0);
	assert_int_equal(pthread_create(&thread, NULL, pty_side, &d), 0);
	serial_run_over(&j, both);
	pthread_join(thread, NULL);
	assert_int_equal(j.fault.error, CARRY_ERROR_NONE);
	assert_int_equal(j.channel[0].held, CARRY_HELD_NEW);
	assert_non_null(memmem(d.heard, d.n, UP, strlen(UP) - 1));
	stream_close(&s, false);
	close(d.fd);
	job_close(&j);
	parent_free(p);
}

static void takes_both(struct desk *k)
{
	for (int i = 0; i < 2; i++) {
		desk_hear_for(
		    k, 700); /* until the port is open: what comes before is thrown away */
		k->mark = k->n;
		desk_say(k, "\x11", 1);
		desk_hear_program(k);
	}
	desk_hear_for(k, 300);
}

/* Both programs over a local port; and the port is set as it must be, whatever it was before. */
static void a_local_port(void **state)
{
	unsigned iflag, cflag;
	struct termios t;

	begin_port(takes_both);
	rig_run(&r);
	assert_int_equal(tcgetattr(d.slave, &t), 0);
	end_port();
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_non_null(strstr(desk_text(&d), "LOWER"));
	assert_int_equal(d.heard[0], 0xA5); /* even parity in bit 8 */
	assert_int_equal(sscanf(rig_read(&r, "settings"), "%o %o", &iflag, &cflag), 2);
	assert_int_equal(iflag & (IXON | IXOFF | IXANY | ISTRIP | ICRNL), 0);
	assert_int_equal(cflag & CSIZE, CS7);
	assert_int_equal(cflag & (PARENB | PARODD | CSTOPB), PARENB | CSTOPB);
	assert_int_equal(cflag & CRTSCTS, 0);
	assert_int_equal(cfgetospeed(&t), B38400);
	assert_int_equal(r.outcome.channel[0].line_errors, 1);
	assert_non_null(strstr(r.outcome.text, "; over usb:A1B2C3 (/dev/ttyS90)"));
}

/* Only the identity counts: another adapter under the same name is not the machine's. */
static void another_adapter(void **state)
{
	begin_port(never_asks);
	fake_sys_unplug(rig_path(&r, "sys"), "ttyS90");
	fake_sys_usb(rig_path(&r, "sys"), "ttyS90", "2", "OTHER", 0);
	rig_run(&r);
	end_port();
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "the port usb:A1B2C3 is not there"));
	assert_non_null(strstr(r.outcome.text, "present: ttyS90 (usb:OTHER)"));
	assert_int_equal(d.n, 0);
}

static void twins(void **state)
{
	begin_port(never_asks);
	fake_sys_usb(rig_path(&r, "sys"), "ttyS91", "3", "A1B2C3", 0);
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text,
	    "ttyS90 at path:pci-0000:00:14.0-usb-0:1.2:1.0-port0 and ttyS91 at "
	    "path:pci-0000:00:14.0-usb-0:3:1.0-port0"));
	end_port();
	assert_int_equal(d.n, 0);
}

/* A program that does not ask for the lock has the port: here this test, which holds its terminal.
 */
static void a_named_user(void **state)
{
	char want[64];

	begin_port(never_asks);
	setenv("YOKE_TEST_PORT_NAMED", "1", 1);
	rig_run(&r);
	unsetenv("YOKE_TEST_PORT_NAMED");
	end_port();
	ended(CARRY_ERROR_BUSY, CARRY_HELD_OLD, CARRY_HELD_OLD);
	snprintf(want, sizeof want, "is used by test_carrier_st (process %d)", (int)getpid());
	assert_non_null(strstr(r.outcome.text, want));
	assert_int_equal(d.n, 0);
}

/* Another program that asks for the lock has the port. */
static void a_busy_port(void **state)
{
	begin_port(never_asks);
	assert_int_equal(flock(d.slave, LOCK_EX), 0);
	rig_run(&r);
	end_port();
	ended(CARRY_ERROR_BUSY, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(d.n, 0);
}

static void is_unplugged(struct desk *k)
{
	desk_hear_for(k, 700);
	desk_say(k, "\x11", 1);
	desk_hear(k, 10, 5000);
	desk_hang_up(k);
}

static void an_unplugged_port(void **state)
{
	static char big[20001];

	memset(big, 'X', sizeof big - 1);
	memcpy(big, "%\nO1\n", 5);
	memcpy(big + sizeof big - 5, "\n%\n", 3);
	rig_program(&r, 0, big);
	begin_port(is_unplugged);
	rig_run(&r);
	end_port();
	ended(CARRY_ERROR_UNPLUGGED, CARRY_HELD_STUMP, CARRY_HELD_OLD);
}

static void is_unplugged_early(struct desk *k)
{
	desk_hear_for(k, 700);
	desk_hang_up(k);
}

/* Before anything was sent the port is one that cannot be reached, and the machine as it was. */
static void unplugged_while_waiting(void **state)
{
	begin_port(is_unplugged_early);
	rig_run(&r);
	end_port();
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(
	    strstr(r.outcome.text, "usb:A1B2C3 (/dev/ttyS90) was unplugged before anything"));
}

/* What the modem lines and counters of the port say: letters as in port_shim.c. */
static void lines(const char *letters)
{
	rig_write(&r, "lines-new", letters);
	assert_int_equal(rename(rig_path(&r, "lines-new"), rig_path(&r, "lines")), 0);
}

static void begin_lines(void (*script)(struct desk *), const char *letters)
{
	static char big[4001];

	memset(big, 'X', sizeof big - 1);
	for (size_t i = 40; i < sizeof big - 4; i += 40)
		big[i] = '\n';
	memcpy(big, "%\nO1\n", 5);
	memcpy(big + sizeof big - 5, "\n%\n", 3);
	rig_program(&r, 0, big);
	begin_port(script);
	lines(letters);
	setenv("YOKE_TEST_LINES", rig_path(&r, "lines"), 1);
	r.order.items = 1;
}

static void end_lines(void)
{
	unsetenv("YOKE_TEST_LINES");
	end_port();
}

static void fell_silent(struct desk *k, const char *letters)
{
	desk_hear(k, 200, 5000);
	lines(letters);
	desk_hear_for(k, 200); /* what was on its way */
	k->mark = k->n;
}

/* DSR goes off in the middle: nothing more comes until it is on again. */
static void holds_with_dsr(struct desk *k)
{
	fell_silent(k, "cD");
	if (desk_hear_for(k, 600))
		k->failed = true;
	lines("cdD");
	desk_hear_for(k, 3000);
}

static void dtr_dsr(void **state)
{
	unsigned iflag, cflag;

	begin_lines(holds_with_dsr, "cdD");
	r.order.item[0].line.serial.flow = LINE_FLOW_DTRDSR;
	r.order.item[0].line.serial.wait_dc1 = false;
	rig_run(&r);
	end_lines();
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_UNKNOWN);
	assert_int_equal(sscanf(rig_read(&r, "settings"), "%o %o", &iflag, &cflag), 2);
	assert_int_equal(cflag & CRTSCTS, 0);
	assert_in_range(r.outcome.channel[0].held_ms, 600, 2000);
	assert_true(r.outcome.channel[0].after_dc3 <= r.order.item[0].line.serial.reserve);
}

/* Without DC1 the ready line begins. */
static void is_ready_late(struct desk *k)
{
	if (desk_hear_for(k, 1000))
		k->failed = true;
	lines("cdD");
	desk_hear_for(k, 3000);
}

static void rts_cts(void **state)
{
	unsigned iflag, cflag;

	begin_lines(is_ready_late, "dD");
	r.order.item[0].line.serial.flow = LINE_FLOW_RTSCTS;
	r.order.item[0].line.serial.wait_dc1 = false;
	rig_run(&r);
	end_lines();
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_UNKNOWN);
	assert_int_equal(sscanf(rig_read(&r, "settings"), "%o %o", &iflag, &cflag), 2);
	assert_int_equal(cflag & CRTSCTS, CRTSCTS);
	assert_int_equal(iflag & (IXON | IXANY), 0);
}

static void stays_off(struct desk *k)
{
	desk_hear_for(k, 700);
	say(k, DC1);
	fell_silent(k, "cd");
	desk_hear_for(k, 2000);
}

static void a_dropped_line(void **state)
{
	begin_lines(stays_off, "cdD");
	r.order.item[0].line.serial.watch = LINE_WATCH_DCD;
	rig_run(&r);
	end_lines();
	ended(CARRY_ERROR_DROPPED, CARRY_HELD_STUMP, CARRY_HELD_UNKNOWN);
	assert_non_null(strstr(r.outcome.text, " of 4000 bytes, in block "));
	assert_non_null(strstr(r.outcome.text, "; over usb:A1B2C3"));
	assert_true(r.outcome.channel[0].block > 0);
}

static void gives_a_break(struct desk *k)
{
	desk_hear_for(k, 700);
	say(k, DC1);
	fell_silent(k, "cdDb");
	desk_hear_for(k, 500);
}

static void a_break(void **state)
{
	begin_lines(gives_a_break, "cdD");
	rig_run(&r);
	end_lines();
	ended(CARRY_ERROR_BREAK, CARRY_HELD_STUMP, CARRY_HELD_UNKNOWN);
	assert_non_null(strstr(r.outcome.text, "; the port counted 1 framing, 1 break"));
}

/* A text that looks whole, while the port counted damage in it, is no program. */
static void punches_with_errors(struct desk *k)
{
	desk_hear_for(k, 700);
	desk_say(k, "%\nO1\nM", 7);
	lines("cdDb");
	desk_hear_for(k, 300);
	desk_say(k, "30\n%\n", 5);
	desk_hear_for(k, 1500);
}

static void a_damaged_copy(void **state)
{
	begin_lines(punches_with_errors, "cdD");
	r.order.act = CARRY_FETCH;
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	rig_run(&r);
	end_lines();
	assert_int_equal(r.outcome.error, CARRY_ERROR_BREAK);
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
}

static void is_gone(struct desk *k)
{
	desk_hear_for(k, 700);
	desk_say(k, "%\nO1\nM", 7);
	desk_hear_for(k, 200);
	desk_hang_up(k);
}

static void unplugged_while_punching(void **state)
{
	begin_lines(is_gone, "cdD");
	r.order.act = CARRY_FETCH;
	rig_run(&r);
	end_lines();
	assert_int_equal(r.outcome.error, CARRY_ERROR_UNPLUGGED);
	assert_non_null(strstr(r.outcome.text, "after 7 characters: usb:A1B2C3 (/dev/ttyS90)"));
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(ports_that_are_none),
	    T(addresses),
	    T(over_any_descriptor),
	    T(a_local_port),
	    T(another_adapter),
	    T(twins),
	    T(a_busy_port),
	    T(a_named_user),
	    T(an_unplugged_port),
	    T(unplugged_while_waiting),
	    T(dtr_dsr),
	    T(rts_cts),
	    T(a_dropped_line),
	    T(a_break),
	    T(a_damaged_copy),
	    T(unplugged_while_punching),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
