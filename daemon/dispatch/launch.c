#include "launch.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/pidfd.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>
#include "yoke/carry.h"

extern char **environ;

/* posix_spawn calls give a positive errno; the first one that is not 0 stays. */
static void keep(int *rc, int r)
{
	if (!*rc)
		*rc = r;
}

static int set_up(posix_spawn_file_actions_t *files, posix_spawnattr_t *attr, int sock)
{
	sigset_t none, all;
	int rc = 0;

	sigemptyset(&none);
	sigfillset(&all);
	/* 0 and 1 first: if sock itself is one of them, it was moved away by the caller. */
	keep(&rc, posix_spawn_file_actions_addopen(files, 0, "/dev/null", O_RDONLY, 0));
	keep(&rc, posix_spawn_file_actions_addopen(files, 1, "/dev/null", O_WRONLY, 0));
	keep(&rc, posix_spawn_file_actions_adddup2(files, sock, CARRY_FD));
	keep(&rc, posix_spawn_file_actions_addclosefrom_np(files, CARRY_FD + 1));
	keep(&rc, posix_spawnattr_setsigmask(attr, &none));
	keep(&rc, posix_spawnattr_setsigdefault(attr, &all));
	keep(&rc, posix_spawnattr_setpgroup(attr, 0));
	keep(&rc, posix_spawnattr_setflags(attr,
	              POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP));
	return rc;
}

static int start(pid_t *pid, const char *path, int sock)
{
	posix_spawn_file_actions_t files;
	posix_spawnattr_t attr;
	char *argv[] = {(char *)path, NULL};
	int rc;

	rc = posix_spawn_file_actions_init(&files);
	if (rc)
		return -rc;
	rc = posix_spawnattr_init(&attr);
	if (rc)
		goto no_attr;
	rc = set_up(&files, &attr, sock);
	if (!rc)
		rc = posix_spawn(pid, path, &files, &attr, argv, environ);
	posix_spawnattr_destroy(&attr);
no_attr:
	posix_spawn_file_actions_destroy(&files);
	return -rc;
}

int launch_start(struct launch *s, const char *path)
{
	int pair[2], high, rc;

	if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair))
		return -errno;
	high = fcntl(pair[1], F_DUPFD_CLOEXEC, CARRY_FD + 1);
	if (high < 0) {
		rc = -errno;
		close(pair[1]);
		goto fail;
	}
	close(pair[1]);
	rc = start(&s->pid, path, high);
	close(high);
	if (rc)
		goto fail;
	s->pidfd = pidfd_open(s->pid, PIDFD_NONBLOCK);
	if (s->pidfd < 0 || fcntl(pair[0], F_SETFL, O_NONBLOCK)) {
		rc = -errno;
		goto fail_child;
	}
	s->sock = pair[0];
	return 0;
fail_child:
	/* It has no order yet and waits for one: ending it at once is short. */
	kill(s->pid, SIGKILL);
	while (waitpid(s->pid, NULL, 0) < 0 && errno == EINTR)
		;
	if (s->pidfd >= 0)
		close(s->pidfd);
fail:
	close(pair[0]);
	return rc;
}
