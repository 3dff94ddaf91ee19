/*
 * Runs a command with its output thrown away and prints what it took: wall clock seconds, processor
 * seconds (user and system), largest resident memory in KiB. Exit status: the command's, 127 when
 * it cannot be run.
 *
 *     bench-stopwatch COMMAND [ARGUMENT...]
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static double seconds(struct timeval t)
{
	return (double)t.tv_sec + (double)t.tv_usec / 1e6;
}

int main(int argc, char **argv)
{
	struct rusage used;
	double start = now(), end;
	int status;
	pid_t pid;

	if (argc < 2) {
		fprintf(stderr, "usage: bench-stopwatch COMMAND [ARGUMENT...]\n");
		return 2;
	}
	pid = fork();
	if (pid == 0) {
		int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);

		if (nowhere < 0 || dup2(nowhere, 1) < 0)
			_exit(127);
		execvp(argv[1], argv + 1);
		fprintf(stderr, "bench-stopwatch: %s: %s\n", argv[1], strerror(errno));
		_exit(127);
	}
	if (pid < 0 || wait4(pid, &status, 0, &used) < 0) {
		fprintf(stderr, "bench-stopwatch: %s\n", strerror(errno));
		return 127;
	}
	end = now();
	printf("%.4f %.4f %ld\n", end - start, seconds(used.ru_utime) + seconds(used.ru_stime),
	    used.ru_maxrss);
	return WIFEXITED(status) ? WEXITSTATUS(status) : 127;
}
