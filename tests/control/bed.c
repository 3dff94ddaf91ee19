/* A bench control and a bare sender for tests in C. The parity is made here once more, by another
 * way. */
#include "bed.h"
#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>
#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static const char program[] = BUILD_DIR "/tests/control/bench-control";

/* Runs the bench control with its stdout and, if asked, stderr in a pipe; returns the pipe's end.
 */
static int spawn(pid_t *pid, const char *const argv[], bool errors_too)
{
	int ends[2];

	assert_int_equal(pipe2(ends, O_CLOEXEC), 0);
	*pid = fork();
	assert_true(*pid >= 0);
	if (*pid == 0) {
		prctl(PR_SET_PDEATHSIG, SIGKILL);
		dup2(ends[1], 1);
		if (errors_too)
			dup2(ends[1], 2);
		execv(program, (char *const *)argv);
		_exit(127);
	}
	close(ends[1]);
	return ends[0];
}

static void read_line(int fd, char *line, size_t size)
{
	size_t n = 0;

	while (n + 1 < size && read(fd, line + n, 1) == 1 && line[n] != '\n')
		n++;
	line[n] = '\0';
}

void bed_folder(struct bed *b)
{
	const char *scratch = getenv("TMPDIR");

	if (b->dir[0])
		return;
	snprintf(b->dir, sizeof(b->dir), "%s/bench-XXXXXX", scratch ? scratch : "/tmp");
	assert_non_null(mkdtemp(b->dir));
}

void bed_start(struct bed *b, const char *const options[])
{
	const char *argv[40] = {program, "--operator", b->desk};
	size_t n = 3, lines = 0;
	char line[400] = "";

	bed_folder(b);
	snprintf(b->desk, sizeof(b->desk), "%s/desk", b->dir);
	for (size_t i = 0; options[i]; i++)
		argv[n++] = options[i];
	b->from_child = spawn(&b->pid, argv, false);
	while (strcmp(line, "ready") != 0) {
		read_line(b->from_child, line, sizeof(line));
		assert_true(line[0] != '\0');
		if (!strncmp(line, "line", 4)) {
			assert_true(lines < 2);
			b->ports[lines++] = (unsigned)strtoul(strrchr(line, ':') + 1, NULL, 10);
		}
	}
}

void bed_stop(struct bed *b)
{
	int status;

	assert_true(bed_ask(b, "quit"));
	assert_int_equal(waitpid(b->pid, &status, 0), b->pid);
	assert_int_equal(status, 0);
	close(b->from_child);
}

void bed_remove(struct bed *b)
{
	char command[300];

	snprintf(command, sizeof(command), "rm -r '%s'", b->dir);
	assert_int_equal(system(command), 0);
	b->dir[0] = '\0';
}

bool bed_ask(struct bed *b, const char *command)
{
	const char *argv[] = {program, "--ask", b->desk, command, NULL};
	pid_t pid;
	int fd = spawn(&pid, argv, true);
	size_t len = 0;
	ssize_t n;
	int status;

	while ((n = read(fd, b->answer + len, sizeof(b->answer) - 1 - len)) > 0)
		len += (size_t)n;
	b->answer[len] = '\0';
	close(fd);
	assert_int_equal(waitpid(pid, &status, 0), pid);
	assert_true(WIFEXITED(status) && WEXITSTATUS(status) <= 1);
	return WEXITSTATUS(status) == 0;
}

long bed_figure(struct bed *b, const char *name)
{
	const char *at;
	size_t len = strlen(name);

	assert_true(bed_ask(b, "figures"));
	for (at = b->answer; at && (strncmp(at, name, len) != 0 || at[len] != ' ');) {
		at = strchr(at, '\n');
		at = at ? at + 1 : NULL;
	}
	assert_non_null(at);
	return strtol(at + len, NULL, 10);
}

int bed_connect(const struct bed *b, size_t i)
{
	struct sockaddr_in a = {.sin_family = AF_INET, .sin_port = htons((uint16_t)b->ports[i])};
	int one = 1;
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

	assert_true(fd >= 0);
	a.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
	assert_int_equal(connect(fd, (struct sockaddr *)&a, sizeof(a)), 0);
	setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof(one));
	return fd;
}

int bed_desk(const struct bed *b)
{
	struct sockaddr_un a = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	assert_true(fd >= 0 && strlen(b->desk) < sizeof(a.sun_path));
	memcpy(a.sun_path, b->desk, strlen(b->desk) + 1);
	assert_int_equal(connect(fd, (struct sockaddr *)&a, sizeof(a)), 0);
	return fd;
}

int bed_byte(int fd, int ms)
{
	struct pollfd p = {.fd = fd, .events = POLLIN};
	uint8_t byte;
	int n = poll(&p, 1, ms);

	if (n == 0)
		return -2;
	return n > 0 && recv(fd, &byte, 1, 0) == 1 ? byte : -1;
}

void bed_expect(int fd, uint8_t byte)
{
	int got;

	do {
		got = bed_byte(fd, 5000);
		assert_true(got >= 0);
	} while (got != byte);
}

static double seconds(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

bool bed_send(int fd, const void *bytes, size_t n, double cps, bool honours)
{
	const struct timespec nap = {.tv_nsec = 500000};
	const uint8_t *at = bytes;
	double begin = seconds(), held = 0;
	size_t sent = 0;

	while (sent < n) {
		size_t due = cps > 0 ? (size_t)((seconds() - begin) * cps) : n;
		int got = honours ? bed_byte(fd, 0) : -2;

		if ((got & 0x7f) == 0x13 && got >= 0) {
			held = seconds();
			do
				got = bed_byte(fd, 20000);
			while (got >= 0 && got != 0x11);
			begin += seconds() - held;
			if (got != 0x11)
				return false;
			continue;
		}
		due = due < n ? due : n;
		if (due > sent) {
			ssize_t k = send(fd, at + sent, due - sent, MSG_NOSIGNAL);

			if (k < 0)
				return false;
			sent += (size_t)k;
		} else {
			nanosleep(&nap, NULL);
		}
	}
	return true;
}

void bed_parity(uint8_t *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		uint8_t folded = bytes[i] & 0x7f;

		folded ^= folded >> 4;
		folded ^= (uint8_t)(folded >> 2);
		folded ^= (uint8_t)(folded >> 1);
		bytes[i] = (uint8_t)((bytes[i] & 0x7f) | (folded & 1) << 7);
	}
}

size_t bed_text(char *text, uint8_t *iso, size_t size)
{
	size_t len = (size_t)snprintf(text, BED_TEXT, "%%\nO4417(BUSH)(REV C)\n");

	for (unsigned n = 10; len + 40 < size; n += 10)
		len += (size_t)snprintf(text + len, BED_TEXT - len,
		    "N%u G1 X%u.%03u Z-%u.5 F0.12\n", n, n % 70, n, n % 30);
	len += (size_t)snprintf(text + len, BED_TEXT - len, "M30\n%%\n");
	memcpy(iso, text, len);
	bed_parity(iso, len);
	return len;
}

void bed_file(const struct bed *b, const char *name, char *to, size_t size)
{
	char path[400];
	FILE *f;
	size_t n;

	snprintf(path, sizeof(path), "%s/%s", b->dir, name);
	f = fopen(path, "r");
	assert_non_null(f);
	n = fread(to, 1, size - 1, f);
	to[n] = '\0';
	fclose(f);
}
