/*
 * Preloaded into the carrier by tests: lets a pseudo-terminal pass for the serial port /dev/ttyS90,
 * which libserialport would refuse: it has no entry under /sys/class/tty, no modem lines, and
 * forgets 7 bits and parity. Everything else is the real library on a real terminal.
 *
 * YOKE_TEST_PORT: the pseudo-terminal. YOKE_TEST_PORT_LOG: a file that gets the last settings asked
 * for, c_iflag and c_cflag in octal. YOKE_TEST_SYS: a tree that stands for /sys.
 * YOKE_TEST_PORT_NAMED: set, who has the pseudo-terminal open has the port open. YOKE_TEST_LINES: a
 * file with letters that is read at each look: c CTS on, d DSR on, D DCD on, b a break counted, o an
 * overrun, n no
 * counts. Marks of wrong characters (PARMRK) are the test's: a pseudo-terminal has none, and would
 * double each FF of theirs.
 */
#include <dirent.h>
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/serial.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#define PORT "/dev/ttyS90"

static const tcflag_t forgotten = CSIZE | PARENB | PARODD;
static tcflag_t shadow = CS8;
static int port_fd = -1;
static int counts; /* times that the error counts were asked for */

static void *next(const char *name)
{
	return dlsym(RTLD_NEXT, name);
}

/* A path of sysfs as it is in the test's tree. */
static const char *there(const char *path)
{
	static __thread char to[600];

	if (strncmp(path, "/sys/", 5))
		return path;
	snprintf(to, sizeof to, "%s/%s", getenv("YOKE_TEST_SYS"), path + 5);
	return to;
}

char *realpath(const char *restrict path, char *restrict to)
{
	char *(*real)(const char *, char *) = next("realpath");

	return strcmp(path, PORT) ? real(there(path), to) : strdup(path);
}

DIR *opendir(const char *path)
{
	DIR *(*real)(const char *) = next("opendir");

	return real(there(path));
}

/* The library was built against a C library whose lstat went by this name. */
int __lxstat(int version, const char *path, struct stat *st);
int __lxstat(int version, const char *path, struct stat *st)
{
	return fstatat(AT_FDCWD, there(path), st, AT_SYMLINK_NOFOLLOW);
}

int lstat(const char *restrict path, struct stat *restrict st)
{
	return __lxstat(1, path, st);
}

ssize_t readlink(const char *restrict path, char *restrict to, size_t size)
{
	ssize_t (*real)(const char *, char *, size_t) = next("readlink");
	ssize_t n = real(there(path), to, size);
	const char *terminal = getenv("YOKE_TEST_PORT");

	if (getenv("YOKE_TEST_PORT_NAMED") && n == (ssize_t)strlen(terminal) &&
	    !memcmp(to, terminal, (size_t)n) && size >= sizeof PORT) {
		memcpy(to, PORT, sizeof PORT - 1);
		n = sizeof PORT - 1;
	}
	return n;
}

static int open_port(const char *path, int flags, mode_t mode)
{
	int (*real)(const char *, int, ...) = next("open64");

	if (strcmp(path, PORT))
		return real(there(path), flags, mode);
	port_fd = real(getenv("YOKE_TEST_PORT"), flags);
	return port_fd;
}

int open(const char *path, int flags, ...)
{
	va_list a;
	mode_t mode;

	va_start(a, flags);
	mode = va_arg(a, mode_t);
	va_end(a);
	return open_port(path, flags, mode);
}

int open64(const char *path, int flags, ...)
{
	va_list a;
	mode_t mode;

	va_start(a, flags);
	mode = va_arg(a, mode_t);
	va_end(a);
	return open_port(path, flags, mode);
}

int __open_2(const char *path, int flags)
{
	return open_port(path, flags, 0);
}

int __open64_2(const char *path, int flags)
{
	return open_port(path, flags, 0);
}

int tcgetattr(int fd, struct termios *t)
{
	int (*real)(int, struct termios *) = next("tcgetattr");
	int rc = real(fd, t);

	if (!rc && fd == port_fd)
		t->c_cflag = (t->c_cflag & ~forgotten) | shadow;
	return rc;
}

int tcsetattr(int fd, int when, const struct termios *t)
{
	int (*real)(int, int, const struct termios *) = next("tcsetattr");
	struct termios plain = *t;
	FILE *log;
	int rc;

	if (fd != port_fd)
		return real(fd, when, t);
	plain.c_cflag = (plain.c_cflag & ~forgotten) | CS8;
	plain.c_iflag &= ~(tcflag_t)PARMRK;
	rc = real(fd, when, &plain);
	if (rc)
		return rc;
	shadow = t->c_cflag & forgotten;
	log = fopen(getenv("YOKE_TEST_PORT_LOG"), "w");
	if (log) {
		fprintf(log, "%o %o\n", t->c_iflag, t->c_cflag);
		fclose(log);
	}
	return 0;
}

/* Which letters the test has set; "cdD" without a file. */
static bool on(char letter)
{
	const char *file = getenv("YOKE_TEST_LINES");
	char set[16] = "cdD";
	FILE *f = file ? fopen(file, "r") : NULL;

	if (f && !fgets(set, sizeof set, f))
		set[0] = '\0';
	if (f)
		fclose(f);
	return strchr(set, letter) != NULL;
}

int ioctl(int fd, unsigned long request, ...)
{
	int (*real)(int, unsigned long, ...) = next("ioctl");
	va_list a;
	void *arg;

	va_start(a, request);
	arg = va_arg(a, void *);
	va_end(a);
	if (fd != port_fd)
		return real(fd, request, arg);
	switch (request) {
	case TIOCMGET:
		*(int *)arg = TIOCM_DTR | TIOCM_RTS | (on('c') ? TIOCM_CTS : 0) |
		              (on('d') ? TIOCM_DSR : 0) | (on('D') ? TIOCM_CAR : 0);
		return 0;
	case TIOCMSET:
	case TIOCMBIS:
	case TIOCMBIC:
		return 0;
	case TIOCGICOUNT:
		if (on('n')) {
			errno = ENOTTY;
			return -1;
		}
		/* 5 framing errors before the order, one more later */
		memset(arg, 0, sizeof(struct serial_icounter_struct));
		((struct serial_icounter_struct *)arg)->frame = 5 + (counts++ ? 1 : 0);
		((struct serial_icounter_struct *)arg)->brk = on('b');
		((struct serial_icounter_struct *)arg)->overrun = on('o');
		return 0;
	default:
		return real(fd, request, arg);
	}
}
