/*
 * Follows yoked's events and kills at a chosen one: strike SOCKET YOKED-PID WHO TEXT N DELAY_US
 *
 * WHO: carrier (every child of yoked), yoked, or both; or stop: yoked by SIGTERM instead of
 * SIGKILL. Strikes so many microseconds after the N-th line that holds TEXT; prints "following"
 * when it listens, then how many processes it killed. Gives up after 20 seconds with status 1.
 */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

enum { PATIENCE_S = 20, CHILDREN = 16 };

static int children(pid_t parent, pid_t *out)
{
	char path[64];
	int n = 0, one;
	FILE *f;

	snprintf(path, sizeof(path), "/proc/%d/task/%d/children", (int)parent, (int)parent);
	f = fopen(path, "re");
	while (f && n < CHILDREN && fscanf(f, "%d", &one) == 1)
		out[n++] = one;
	if (f)
		fclose(f);
	return n;
}

static int hit(pid_t yoked, const char *who)
{
	pid_t pid[CHILDREN + 1];
	int n = 0, killed = 0;

	if (!strcmp(who, "nobody"))
		return 0;
	if (!strcmp(who, "stop"))
		return kill(yoked, SIGTERM) == 0;
	if (strcmp(who, "yoked"))
		n = children(yoked, pid);
	if (strcmp(who, "carrier"))
		pid[n++] = yoked;
	while (n-- > 0)
		killed += kill(pid[n], SIGKILL) == 0;
	return killed;
}

static FILE *follow(const char *path)
{
	static const char request[] = "GET /v1/follow HTTP/1.0\r\n\r\n";
	struct sockaddr_un at = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	if (fd < 0 || strlen(path) >= sizeof(at.sun_path))
		return NULL;
	memcpy(at.sun_path, path, strlen(path));
	if (connect(fd, (struct sockaddr *)&at, sizeof(at)) ||
	    write(fd, request, sizeof(request) - 1) != sizeof(request) - 1)
		return NULL;
	return fdopen(fd, "r");
}

int main(int argc, char **argv)
{
	char *line = NULL;
	size_t room = 0;
	int left, killed;
	FILE *f;

	if (argc != 7)
		return 2;
	alarm(PATIENCE_S);
	left = atoi(argv[5]);
	f = follow(argv[1]);
	if (!f || getline(&line, &room, f) < 0 || !strstr(line, " 200 "))
		return 1;
	puts("following");
	fflush(stdout);
	while (left > 0 && getline(&line, &room, f) > 0)
		left -= strstr(line, argv[4]) != NULL;
	usleep((useconds_t)atoi(argv[6]));
	killed = hit(atoi(argv[2]), argv[3]);
	printf("%d\n", killed);
	free(line);
	fclose(f);
	return left > 0;
}
