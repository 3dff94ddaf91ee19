/*
 * Preloaded into QEMU: gives the pseudo-terminal that stands for the cable its modem lines, which
 * the kernel does not. YOKE_MODEM names a file of 8 bytes: the lines that the other end drives, and
 * the lines that QEMU drives, each as the bits of TIOCMGET in a word of the host.
 */
#include <dlfcn.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <unistd.h>

static volatile uint32_t *lines(void)
{
	static volatile uint32_t *map;
	const char *path = getenv("YOKE_MODEM");
	int fd = map || !path ? -1 : open(path, O_RDWR | O_CLOEXEC);
	void *m;

	if (fd < 0)
		return map;
	m = mmap(NULL, 2 * sizeof *map, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
	if (m != MAP_FAILED)
		map = m;
	close(fd);
	return map;
}

static int answer(unsigned long request, int *bits)
{
	volatile uint32_t *l = lines();

	if (request == TIOCMGET)
		*bits = (int)(l[0] | l[1]);
	else
		l[1] = (uint32_t)*bits & (TIOCM_RTS | TIOCM_DTR);
	return 0;
}

int ioctl(int fd, unsigned long request, ...)
{
	static int (*next)(int, unsigned long, ...);
	char name[64];
	void *argument;
	va_list ap;

	va_start(ap, request);
	argument = va_arg(ap, void *);
	va_end(ap);
	if (!next)
		next = (int (*)(int, unsigned long, ...))dlsym(RTLD_NEXT, "ioctl");
	if ((request == TIOCMGET || request == TIOCMSET) && lines() &&
	    ttyname_r(fd, name, sizeof name) == 0 && strncmp(name, "/dev/pts/", 9) == 0)
		return answer(request, argument);
	return next(fd, request, argument);
}
