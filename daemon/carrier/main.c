/* yoke-carrier: carries one order to one machine, or checkpoints to their second place, for the
 * service or by hand. */
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/signalfd.h>
#include <sys/stat.h>
#include <unistd.h>
#include "keep.h"
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
	if (argc > 1 && !strcmp(argv[1], "checkpoints")) {
		/* Nothing of it needs to be brought to an end: it is ended as any program is. */
		sigprocmask(SIG_UNBLOCK, &stop, NULL);
		return keep_run(argc, argv);
	}
	return argc > 1 ? run_by_hand(argc, argv, fd) : run_order(fd);
}
