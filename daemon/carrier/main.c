/* yoke-carrier: carries one order to one machine, for the service or by hand. */
#include <signal.h>
#include <stdio.h>
#include <sys/signalfd.h>
#include <sys/stat.h>
#include <unistd.h>
#include "run.h"

int main(int argc, char **argv)
{
	sigset_t stop;
	int fd;

	sigemptyset(&stop);
	sigaddset(&stop, SIGTERM);
	sigaddset(&stop, SIGINT);
	sigaddset(&stop, SIGHUP);
	signal(SIGPIPE, SIG_IGN);
	if (sigprocmask(SIG_BLOCK, &stop, NULL)) {
		perror("yoke-carrier: signals");
		return 2;
	}
	fd = signalfd(-1, &stop, SFD_NONBLOCK | SFD_CLOEXEC);
	if (fd < 0) {
		perror("yoke-carrier: signals");
		return 2;
	}
	return argc > 1 ? run_by_hand(argc, argv, fd) : run_order(fd);
}
