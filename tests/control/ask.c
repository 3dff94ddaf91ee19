/* Sends one command to a running bench control and prints the answer. */
#include "ask.h"
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

enum { ASK_TRIES = 100, ASK_PAUSE_NS = 50 * 1000 * 1000 };

static int try_connect(const char *where)
{
	struct sockaddr_un u = {.sun_family = AF_UNIX};
	struct sockaddr_in in = {.sin_family = AF_INET};
	const char *colon = strrchr(where, ':');
	bool net = !strchr(where, '/') && (colon || strspn(where, "0123456789") == strlen(where));
	int fd = socket(net ? AF_INET : AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	int status;

	if (fd < 0)
		return -1;
	if (net) {
		in.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
		in.sin_port = htons((uint16_t)strtoul(colon ? colon + 1 : where, NULL, 10));
		status = connect(fd, (struct sockaddr *)&in, sizeof(in));
	} else if (strlen(where) < sizeof(u.sun_path)) {
		memcpy(u.sun_path, where, strlen(where) + 1);
		status = connect(fd, (struct sockaddr *)&u, sizeof(u));
	} else {
		errno = ENAMETOOLONG;
		status = -1;
	}
	if (status < 0) {
		int saved = errno;

		close(fd);
		errno = saved;
		return -1;
	}
	return fd;
}

static void send_words(FILE *f, char *const words[])
{
	bool one = !words[1];

	for (size_t i = 0; words[i]; i++) {
		bool quote = !one && (strchr(words[i], ' ') || !words[i][0]);

		fprintf(
		    f, "%s%s%s%s", i ? " " : "", quote ? "\"" : "", words[i], quote ? "\"" : "");
	}
	fputc('\n', f);
	fflush(f);
}

/* Answer: `ok TEXT` or `error TEXT`, lines that begin with a blank, an empty line. */
static int print_answer(FILE *f)
{
	char *line = NULL, *head = NULL;
	size_t size = 0, lines = 0;
	bool whole = false;
	int status = 2;

	while (getline(&line, &size, f) > 0) {
		if (!head) {
			head = strdup(line);
			if (!head)
				break;
		} else if (line[0] == ' ') {
			fputs(line + 1, stdout);
			lines++;
		} else {
			whole = true;
			break;
		}
	}
	if (!head || !whole) {
		fprintf(stderr, "bench-control: the answer is cut off\n");
	} else if (!strncmp(head, "ok", 2)) {
		if (!lines)
			fputs(head[2] == ' ' ? head + 3 : "", stdout);
		status = 0;
	} else {
		fprintf(stderr, "bench-control: %s", head);
		status = 1;
	}
	free(head);
	free(line);
	return status;
}

int ask_run(char *const words[])
{
	struct timespec pause = {.tv_nsec = ASK_PAUSE_NS};
	int fd = try_connect(words[0]);
	int status;
	FILE *f;

	for (int i = 0; fd < 0 && i < ASK_TRIES; i++) {
		if (errno != ENOENT && errno != ECONNREFUSED)
			break;
		nanosleep(&pause, NULL);
		fd = try_connect(words[0]);
	}
	f = fd < 0 ? NULL : fdopen(fd, "r+");
	if (!f) {
		fprintf(stderr, "bench-control: %s: %s; is the bench control running?\n", words[0],
		    strerror(errno));
		if (fd >= 0)
			close(fd);
		return 2;
	}
	send_words(f, words + 1);
	status = print_answer(f);
	fclose(f);
	return status;
}
