/*
 * What the kernel alone takes for as many machines: processes that do nothing but sleep, and then
 * send a block over a connection of their own to one that reads them all. Prints the processor time
 * of a block, user and system, in microseconds; the reader's is left out.
 *
 *     bench-bare PROCESSES PERIOD BLOCKS     PERIOD: microseconds; BLOCKS: of each process
 */
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { BLOCK = 26, EVENTS = 64 }; /* as long as those of program.c */

static int wrong(const char *what)
{
	fprintf(stderr, "bench-bare: %s: %s\n", what, strerror(errno));
	return 1;
}

static int send_blocks(const struct sockaddr_in *to, uint64_t period, unsigned blocks)
{
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0), on = 1;
	char block[BLOCK] = "";
	struct timespec next;

	prctl(PR_SET_PDEATHSIG, SIGKILL);
	if (fd < 0 || setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof(on)) ||
	    connect(fd, (const struct sockaddr *)to, sizeof(*to)))
		return wrong("a connection");
	clock_gettime(CLOCK_MONOTONIC, &next);
	for (unsigned i = 0; i < blocks; i++) {
		uint64_t ns = (uint64_t)next.tv_nsec + period * 1000;

		next.tv_sec += (time_t)(ns / 1000000000);
		next.tv_nsec = (long)(ns % 1000000000);
		clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &next, NULL);
		if (send(fd, block, sizeof(block), MSG_NOSIGNAL) < 0)
			return wrong("send");
	}
	return 0;
}

/* Read until all of them have closed. */
static int read_all(int listener, unsigned processes)
{
	int events = epoll_create1(EPOLL_CLOEXEC);
	struct epoll_event e[EVENTS];
	char bytes[4096];

	for (unsigned i = 0; i < processes; i++) {
		struct epoll_event one = {
		    .events = EPOLLIN, .data.fd = accept(listener, NULL, NULL)};

		if (one.data.fd < 0 || epoll_ctl(events, EPOLL_CTL_ADD, one.data.fd, &one))
			return wrong("a connection");
	}
	for (unsigned left = processes; left > 0;) {
		int n = epoll_wait(events, e, EVENTS, -1);

		for (int i = 0; i < n; i++)
			if (recv(e[i].data.fd, bytes, sizeof(bytes), 0) <= 0) {
				close(e[i].data.fd);
				left--;
			}
	}
	return 0;
}

static double seconds(struct timeval t)
{
	return (double)t.tv_sec + (double)t.tv_usec / 1e6;
}

int main(int argc, char **argv)
{
	struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	unsigned processes = argc == 4 ? (unsigned)strtoul(argv[1], NULL, 10) : 0;
	unsigned blocks = argc == 4 ? (unsigned)strtoul(argv[3], NULL, 10) : 0;
	int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0), status, failed = 0;
	socklen_t size = sizeof(a);
	struct rusage used;

	if (!processes || !blocks) {
		fprintf(stderr, "usage: bench-bare PROCESSES PERIOD BLOCKS\n");
		return 2;
	}
	if (listener < 0 || bind(listener, (struct sockaddr *)&a, size) ||
	    listen(listener, (int)processes) || getsockname(listener, (struct sockaddr *)&a, &size))
		return wrong("a port");
	for (unsigned i = 0; i < processes; i++) {
		pid_t pid = fork();

		if (pid == 0)
			_exit(send_blocks(&a, strtoull(argv[2], NULL, 10), blocks));
		if (pid < 0)
			return wrong("a process");
	}
	if (read_all(listener, processes))
		return 1;
	while (wait(&status) > 0)
		failed |= status;
	if (failed || getrusage(RUSAGE_CHILDREN, &used))
		return 1;
	printf(
	    "%.2f\n", (seconds(used.ru_utime) + seconds(used.ru_stime)) * 1e6 / processes / blocks);
	return 0;
}
