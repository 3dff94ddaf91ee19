/*
 * Preloaded into the carrier by tests: lets a pseudo-terminal pass for the serial port /dev/ttyS90,
 * which libserialport would refuse: it has no entry under /sys/class/tty, no modem lines, and
 * forgets 7 bits and parity. Everything else is the real library on a real terminal.
 *
 * YOKE_TEST_PORT: the pseudo-terminal. YOKE_TEST_PORT_LOG: a file that gets the last settings asked
 * for, c_iflag and c_cflag in octal.
 */
#include <dlfcn.h>
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
#define ENTRY "/sys/class/tty/ttyS90"

static const tcflag_t forgotten = CSIZE | PARENB | PARODD;
static tcflag_t shadow = CS8;
static int port_fd = -1;
static int counts; /* times that the error counts were asked for */

static void *next(const char *name)
{
	return dlsym(RTLD_NEXT, name);
}

char *realpath(const char *restrict path, char *restrict to)
{
	char *(*real)(const char *, char *) = next("realpath");

	return strcmp(path, PORT) ? real(path, to) : strdup(path);
}

/* The library was built against a C library whose lstat went by this name. */
int __lxstat(int version, const char *path, struct stat *st);
int __lxstat(int version, const char *path, struct stat *st)
{
	if (strcmp(path, ENTRY))
		return fstatat(AT_FDCWD, path, st, AT_SYMLINK_NOFOLLOW);
	memset(st, 0, sizeof *st);
	st->st_mode = S_IFLNK | 0777;
	return 0;
}

int lstat(const char *restrict path, struct stat *restrict st)
{
	return __lxstat(1, path, st);
}

ssize_t readlink(const char *restrict path, char *restrict to, size_t size)
{
	static const char target[] = "../../devices/platform/serial/tty/ttyS90";
	ssize_t (*real)(const char *, char *, size_t) = next("readlink");

	if (strcmp(path, ENTRY))
		return real(path, to, size);
	if (size > sizeof target - 1)
		size = sizeof target - 1;
	memcpy(to, target, size);
	return (ssize_t)size;
}

static int open_port(const char *path, int flags, mode_t mode)
{
	int (*real)(const char *, int, ...) = next("open64");

	if (strcmp(path, PORT))
		return real(path, flags, mode);
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
		*(int *)arg = TIOCM_DTR | TIOCM_RTS | TIOCM_CTS | TIOCM_DSR | TIOCM_CAR;
		return 0;
	case TIOCMSET:
	case TIOCMBIS:
	case TIOCMBIC:
		return 0;
	case TIOCGICOUNT: /* 5 framing errors before the order, one more at each later look */
		memset(arg, 0, sizeof(struct serial_icounter_struct));
		((struct serial_icounter_struct *)arg)->frame = 5 + counts++;
		return 0;
	default:
		return real(fd, request, arg);
	}
}
