#include "ftp_server.h"

#include <arpa/inet.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FTP_PATH = 2 * FTP_LINE };

struct ftp_server ftp;

static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static pthread_cond_t woken = PTHREAD_COND_INITIALIZER;
static unsigned late; /* sessions that wait, or still do what they were woken for */
static bool awake;

struct session {
	int control, passive; /* -1 */
	char folder[FTP_LINE], from[FTP_PATH];
	bool binary, user, mute;
	char line[FTP_LINE];
	size_t n;
};

static void say(const struct session *s, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void say(const struct session *s, const char *format, ...)
{
	char text[2 * FTP_LINE];
	va_list ap;
	int n;

	va_start(ap, format);
	n = vsnprintf(text, sizeof text - 2, format, ap);
	va_end(ap);
	memcpy(text + n, "\r\n", 3);
	if (!s->mute && send(s->control, text, (size_t)n + 2, MSG_NOSIGNAL) < 0)
		return;
}

/* One command line without its end; false at the end of the connection. */
static bool hear(struct session *s)
{
	s->n = 0;
	for (;;) {
		char c;
		ssize_t n = recv(s->control, &c, 1, 0);

		if (n <= 0)
			return false;
		if (c == '\n')
			break;
		if (c != '\r' && s->n < sizeof s->line - 1)
			s->line[s->n++] = c;
	}
	s->line[s->n] = '\0';
	return true;
}

static int listen_somewhere(int *port)
{
	struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t n = sizeof a;
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

	if (fd < 0 || bind(fd, (struct sockaddr *)&a, n) || listen(fd, 16) ||
	    getsockname(fd, (struct sockaddr *)&a, &n)) {
		perror("ftp_server");
		abort();
	}
	*port = ntohs(a.sin_port);
	return fd;
}

static void path_of(const struct session *s, const char *name, char path[FTP_PATH])
{
	size_t n = (size_t)snprintf(path, FTP_PATH, "%s%s%s", *name == '/' ? "" : s->folder,
	    *name == '/' ? "" : "/", name), k = ftp.alias ? strlen(ftp.alias) : 0;

	if (k && n > k && n < FTP_PATH && !strcmp(path + n - k, ftp.alias))
		snprintf(path + n - k, FTP_PATH - n + k, "%s", ftp.alias_of);
}

static void passive(struct session *s, bool extended)
{
	int port;

	if (s->passive >= 0)
		close(s->passive);
	s->passive = listen_somewhere(&port);
	/* libcurl 7.88 sleeps for a second when the answer is there before it waits for it. */
	usleep(3000);
	if (extended)
		say(s, "229 Entering Extended Passive Mode (|||%d|)", port);
	else
		say(s, "227 Entering Passive Mode (127,0,0,1,%d,%d)", port / 256, port % 256);
}

/* The data connection; -1 and said. */
static int data(struct session *s)
{
	int fd;

	if (s->passive < 0) {
		say(s, "425 Use PASV first.");
		return -1;
	}
	say(s, "150 Here it comes.");
	fd = accept4(s->passive, NULL, NULL, SOCK_CLOEXEC);
	close(s->passive);
	s->passive = -1;
	return fd;
}

static void retrieve(struct session *s, const char *path)
{
	int file = open(path, O_RDONLY | O_CLOEXEC), to;
	char buffer[4096];
	struct stat st;
	ssize_t n;

	if (file < 0 || fstat(file, &st) || !S_ISREG(st.st_mode)) {
		say(s, "550 Failed to open file.");
		if (file >= 0)
			close(file);
		return;
	}
	to = data(s);
	while (to >= 0 && (n = read(file, buffer, sizeof buffer)) > 0)
		if (send(to, buffer, (size_t)n, MSG_NOSIGNAL) != n)
			break;
	close(file);
	if (to >= 0) {
		close(to);
		say(s, "226 Transfer complete.");
	}
}

static void store(struct session *s, const char *path)
{
	int file = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666), from;
	char buffer[4096];
	ssize_t n;

	if (file < 0) {
		say(s, "553 Could not create file.");
		return;
	}
	from = data(s);
	while (from >= 0 && (n = recv(from, buffer, sizeof buffer, 0)) > 0)
		if (write(file, buffer, (size_t)n) != n)
			break;
	close(file);
	if (from >= 0) {
		close(from);
		say(s, "226 Transfer complete.");
	}
}

static bool is_empty(const char *folder)
{
	DIR *d = opendir(folder);
	struct dirent *e;
	unsigned n = 0;

	while (d && (e = readdir(d)))
		n += e->d_name[0] != '.';
	if (d)
		closedir(d);
	return d && !n;
}

/* In the form that many servers give; nothing but the name is true of it. */
static void long_list(struct session *s)
{
	DIR *d = opendir(s->folder);
	int to = d ? data(s) : -1;
	struct dirent *e;
	char line[400];
	int n = snprintf(line, sizeof line, "total 0\r\n");

	if (!d)
		say(s, "550 No such folder.");
	while (to >= 0 && send(to, line, (size_t)n, MSG_NOSIGNAL) >= 0 && (e = readdir(d)))
		n = snprintf(line, sizeof line, "-rw-r--r--   1 0 0     60 Nov 30 12:00 %s\r\n", e->d_name);
	if (d)
		closedir(d);
	if (to >= 0) {
		close(to);
		say(s, "226 Listed.");
	}
}

static void list(struct session *s)
{
	DIR *d = opendir(s->folder);
	int to = d ? data(s) : -1;
	struct dirent *e;

	if (!d)
		say(s, "550 No such folder.");
	if (to >= 0 && ftp.list_once)
		send(to, ftp.list_once, strlen(ftp.list_once), MSG_NOSIGNAL);
	while (to >= 0 && ftp.list_garbage &&
	       send(to, ftp.list_garbage, strlen(ftp.list_garbage), MSG_NOSIGNAL) > 0)
		;
	while (to >= 0 && (e = readdir(d))) {
		char line[300];
		int n = snprintf(line, sizeof line, "%s\r\n", e->d_name);

		/* As many servers do. */
		if (e->d_name[0] != '.' && send(to, line, (size_t)n, MSG_NOSIGNAL) < 0)
			break;
	}
	if (d)
		closedir(d);
	if (to >= 0) {
		close(to);
		say(s, "226 Listed.");
	}
}

static void size_of(struct session *s, const char *path, bool lie)
{
	struct stat st;

	if (stat(path, &st) || !S_ISREG(st.st_mode))
		say(s, "550 Could not get file size.");
	else
		say(s, "213 %lld", (long long)st.st_size + lie);
}

static void done(struct session *s, bool good, const char *what)
{
	if (good)
		say(s, "250 %s done.", what);
	else
		say(s, "550 %s failed: %s", what, strerror(errno));
}

static void login(struct session *s, const char *password)
{
	bool good = !ftp.password || !strcmp(ftp.password, password);

	s->user = good && !ftp.tells_password;
	if (ftp.tells_password)
		say(s, "500 'PASS %s': command not understood.", password);
	else if (good)
		say(s, "230 Welcome.");
	else
		say(s, "530 Login incorrect.");
}

static void files(struct session *s, const char *verb, const char *argument, enum ftp_act act)
{
	char path[FTP_PATH];
	struct stat st;

	path_of(s, argument, path);
	if (!s->binary && (!strcmp(verb, "RETR") || !strcmp(verb, "STOR"))) {
		pthread_mutex_lock(&lock);
		ftp.not_binary++;
		pthread_mutex_unlock(&lock);
	}
	if (!strcmp(verb, "SIZE")) {
		size_of(s, path, act == FTP_LIE);
	} else if (!strcmp(verb, "RETR")) {
		retrieve(s, path);
	} else if (!strcmp(verb, "STOR")) {
		store(s, path);
	} else if (!strcmp(verb, "DELE")) {
		done(s, unlink(path) == 0, "Delete");
	} else if (!strcmp(verb, "RNFR")) {
		strcpy(s->from, path);
		if (access(path, F_OK))
			say(s, "550 RNFR command failed.");
		else
			say(s, "350 Ready for RNTO.");
	} else if (!strcmp(verb, "RNTO")) {
		if (ftp.no_replace && access(path, F_OK) == 0)
			say(s, "553 File exists.");
		else
			done(s, rename(s->from, path) == 0, "Rename");
	} else if (!strcmp(verb, "CWD")) {
		if (stat(path, &st) || !S_ISDIR(st.st_mode)) {
			say(s, "550 Failed to change directory.");
		} else {
			snprintf(s->folder, sizeof s->folder, "%.*s", FTP_LINE - 1, path);
			say(s, "250 Directory changed.");
		}
	} else {
		say(s, "500 Unknown command.");
	}
}

static void obey(struct session *s, const char *verb, const char *argument, enum ftp_act act)
{
	if (!strcmp(verb, "USER"))
		say(s, "331 Password, please.");
	else if (!strcmp(verb, "PASS"))
		login(s, argument);
	else if (!s->user)
		say(s, "530 Log in first.");
	else if (!strcmp(verb, "PWD"))
		say(s, "257 \"%s\"", s->folder);
	else if (!strcmp(verb, "EPSV") || !strcmp(verb, "PASV"))
		passive(s, *verb == 'E');
	else if (!strcmp(verb, "NLST") && ftp.no_empty_list && is_empty(s->folder))
		say(s, "550 No files found.");
	else if (!strcmp(verb, "NLST"))
		list(s);
	else if (!strcmp(verb, "LIST"))
		long_list(s);
	else if (!strcmp(verb, "REST"))
		say(s, "350 Restarting at %s.", argument);
	else if (!strcmp(verb, "TYPE")) {
		s->binary = !strcmp(argument, "I");
		say(s, "200 Type %s.", argument);
	} else
		files(s, verb, argument, act);
}

/* What the script says to this command. */
static enum ftp_act ask(const char *verb, const char *argument)
{
	enum ftp_act act = FTP_DO;

	pthread_mutex_lock(&lock);
	snprintf(ftp.log[ftp.commands % FTP_LOG], FTP_LINE, "%.20s%s%.*s", verb, *argument ? " " : "",
	    FTP_LINE - 30, strcmp(verb, "PASS") ? argument : "");
	ftp.commands++;
	if (ftp.on_command)
		act = ftp.on_command(verb, argument, ftp.commands);
	pthread_mutex_unlock(&lock);
	return act;
}

static void wait_for_wake(void)
{
	pthread_mutex_lock(&lock);
	late++;
	while (!awake)
		pthread_cond_wait(&woken, &lock);
	pthread_mutex_unlock(&lock);
}

/* True while the connection goes on. */
static bool command(struct session *s)
{
	char *verb = s->line, *argument = strchr(verb, ' ');
	enum ftp_act act;

	if (argument)
		*argument++ = '\0';
	act = ask(verb, argument ? argument : "");
	argument = argument ? argument : verb + strlen(verb);
	if (!strcmp(verb, "QUIT") || act == FTP_CLOSE_BEFORE)
		return false;
	if (act == FTP_REFUSE || act == FTP_FULL || act == FTP_BUSY) {
		say(s, act == FTP_REFUSE ? "550 Permission denied."
		       : act == FTP_FULL ? "552 Disk full."
		                         : "421 Too many.");
		return act != FTP_BUSY;
	}
	if (act == FTP_SLOW)
		usleep(ftp.slow_ms * 1000);
	if (act == FTP_LATE)
		wait_for_wake();
	s->mute = act == FTP_CLOSE_AFTER;
	obey(s, verb, argument, act);
	if (act == FTP_LATE) {
		pthread_mutex_lock(&lock);
		late--;
		pthread_cond_broadcast(&woken);
		pthread_mutex_unlock(&lock);
	}
	return act != FTP_CLOSE_AFTER;
}

static void *serve(void *arg)
{
	struct session s = {.control = (int)(long)arg, .passive = -1, .folder = "/"};

	say(&s, "220 At your service.");
	while (hear(&s) && command(&s))
		;
	close(s.control);
	if (s.passive >= 0)
		close(s.passive);
	return NULL;
}

static void *run(void *arg)
{
	int listener = (int)(long)arg, fd;

	while ((fd = accept4(listener, NULL, NULL, SOCK_CLOEXEC)) >= 0) {
		pthread_t thread;
		int yes = 1;
		bool down;

		/* Else the second of two answers waits for the first one's acknowledgement. */
		setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
		pthread_mutex_lock(&lock);
		down = ftp.down;
		ftp.logins += !down;
		pthread_mutex_unlock(&lock);
		if (down || pthread_create(&thread, NULL, serve, (void *)(long)fd))
			close(fd);
		else
			pthread_detach(thread);
	}
	return NULL;
}

void ftp_start(void)
{
	pthread_t thread;

	if (ftp.port)
		return;
	if (pthread_create(&thread, NULL, run, (void *)(long)listen_somewhere(&ftp.port)))
		abort();
	pthread_detach(thread);
}

void ftp_forget(void)
{
	pthread_mutex_lock(&lock);
	ftp.on_command = NULL;
	ftp.down = ftp.no_replace = ftp.no_empty_list = ftp.tells_password = false;
	ftp.password = ftp.list_garbage = ftp.list_once = ftp.alias = ftp.alias_of = NULL;
	ftp.commands = ftp.not_binary = ftp.logins = ftp.slow_ms = 0;
	memset(ftp.log, 0, sizeof ftp.log);
	awake = false;
	pthread_mutex_unlock(&lock);
}

void ftp_wake(void)
{
	pthread_mutex_lock(&lock);
	awake = true;
	pthread_cond_broadcast(&woken);
	while (late)
		pthread_cond_wait(&woken, &lock);
	pthread_mutex_unlock(&lock);
}

unsigned ftp_count(const char *verb)
{
	size_t n = strlen(verb);
	unsigned count = 0;

	pthread_mutex_lock(&lock);
	for (unsigned i = 0; i < ftp.commands && i < FTP_LOG; i++)
		count += !strncmp(ftp.log[i], verb, n) &&
		         (ftp.log[i][n] == ' ' || ftp.log[i][n] == '\0');
	pthread_mutex_unlock(&lock);
	return count;
}
