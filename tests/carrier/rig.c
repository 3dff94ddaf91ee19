#include "rig.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>
#include "sha256.h"

void rig_open(struct rig *r, enum carry_act act)
{
	static uint64_t id = 1000;
	static const char *const name[] = {"upper", "lower"};

	memset(r, 0, sizeof *r);
	snprintf(r->home, sizeof r->home, "/tmp/yoke-test-XXXXXX");
	assert_non_null(mkdtemp(r->home));
	r->order.id = id++;
	r->order.act = act;
	r->order.items = 2;
	r->sock = -1;
	snprintf(r->order.machine, sizeof r->order.machine, "M1");
	for (int i = 0; i < YOKE_CHANNELS_MAX; i++)
		r->fd[i] = -1;
	for (int i = 0; i < 2; i++)
		snprintf(r->order.item[i].channel, sizeof r->order.item[i].channel, "%s", name[i]);
}

static int remove_one(const char *path, const struct stat *st, int flag, struct FTW *ftw)
{
	return remove(path);
}

void rig_close(struct rig *r)
{
	for (int i = 0; i < YOKE_CHANNELS_MAX; i++)
		if (r->fd[i] >= 0)
			close(r->fd[i]);
	nftw(r->home, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

const char *rig_path(const struct rig *r, const char *below)
{
	static char buffer[16][256];
	static unsigned at;
	char *b = buffer[at++ % 16];

	snprintf(b, 256, "%s/%s", r->home, below);
	return b;
}

void rig_write(const struct rig *r, const char *below, const char *text)
{
	FILE *f = fopen(rig_path(r, below), "we");

	assert_non_null(f);
	assert_int_equal(fwrite(text, 1, strlen(text), f), strlen(text));
	assert_int_equal(fclose(f), 0);
}

const char *rig_read(const struct rig *r, const char *below)
{
	static char buffer[16][RIG_TEXT];
	static unsigned at;
	char *b = buffer[at++ % 16];
	FILE *f = fopen(rig_path(r, below), "re");
	size_t n;

	if (!f)
		return NULL;
	n = fread(b, 1, RIG_TEXT - 1, f);
	b[n] = '\0';
	fclose(f);
	return b;
}

int rig_leftovers(const struct rig *r, const char *below)
{
	DIR *d = opendir(rig_path(r, below));
	struct dirent *e;
	int n = 0;

	assert_non_null(d);
	while ((e = readdir(d)))
		n += !strncmp(e->d_name, ".yoke-", 6) || !strncmp(e->d_name, "yoke-", 5);
	closedir(d);
	return n;
}

void rig_directory(struct rig *r, uint32_t i, const char *folder, const char *target)
{
	struct line *l = &r->order.item[i].line;
	char below[128];

	mkdir(rig_path(r, "share"), 0777);
	rig_write(r, "share/MARKER", "");
	snprintf(below, sizeof below, "share/%s", folder);
	mkdir(rig_path(r, below), 0777);
	l->kind = LINE_DIRECTORY;
	snprintf(l->directory.root, sizeof l->directory.root, "%s", rig_path(r, "share"));
	snprintf(l->directory.marker, sizeof l->directory.marker, "MARKER");
	snprintf(l->directory.folder, sizeof l->directory.folder, "%s", folder);
	l->directory.total_ms = 60000;
	snprintf(r->order.item[i].target, sizeof r->order.item[i].target, "%s", target);
}

void rig_remote(
    struct rig *r, uint32_t i, const char *address, const char *user, const char *password)
{
	struct line *l = &r->order.item[i].line;
	const struct line_directory d = l->directory;
	struct line_remote *m = &l->remote;

	l->kind = LINE_REMOTE;
	*m = (struct line_remote){.verify = true,
	    .open_ms = 5000,
	    .answer_ms = 2000,
	    .stall_ms = 3000,
	    .total_ms = 60000};
	memcpy(m->root, d.root, sizeof m->root);
	memcpy(m->marker, d.marker, sizeof m->marker);
	memcpy(m->folder, d.folder, sizeof m->folder);
	snprintf(m->address, sizeof m->address, "%s", address);
	snprintf(m->user, sizeof m->user, "%s", user);
	snprintf(m->password, sizeof m->password, "%s", password);
}

struct sha rig_sha(const char *text)
{
	struct sha s;

	assert_int_equal(sha256_of(text, strlen(text), s.b), 0);
	return s;
}

void rig_program(struct rig *r, uint32_t i, const char *text)
{
	size_t n = strlen(text);
	int seals = F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL;

	if (r->fd[i] >= 0)
		close(r->fd[i]);
	r->fd[i] = memfd_create("program", MFD_CLOEXEC | MFD_ALLOW_SEALING);
	assert_true(r->fd[i] >= 0);
	assert_int_equal(write(r->fd[i], text, n), n);
	assert_int_equal(fcntl(r->fd[i], F_ADD_SEALS, seals), 0);
	r->order.item[i].size = n;
	r->order.item[i].want = rig_sha(text);
}

void rig_expect(struct rig *r, uint32_t i, const char *text)
{
	r->order.item[i].has_expect = true;
	r->order.item[i].expect = rig_sha(text);
}

void rig_start(struct rig *r)
{
	int pair[2];

	r->steps = r->contents = r->progresses = 0;
	r->has_outcome = false;
	assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair), 0);
	r->sock = pair[0];
	r->pid = fork();
	assert_true(r->pid >= 0);
	if (r->pid == 0) {
		/* dup2 onto itself would leave it close-on-exec. */
		if (pair[1] == CARRY_FD ? fcntl(CARRY_FD, F_SETFD, 0) : dup2(pair[1], CARRY_FD) < 0)
			_exit(126);
		execl(BUILD_DIR "/daemon/yoke-carrier", "yoke-carrier", (char *)NULL);
		_exit(127);
	}
	close(pair[1]);
}

void rig_send_order(struct rig *r)
{
	unsigned fds = carry_brings(r->order.act) ? r->order.items : 0;

	assert_int_equal(message_send(r->sock, CARRY_ORDER, &r->order, r->fd, fds, 0), 0);
}

static void answer(struct rig *r, const struct carry_step *s)
{
	enum rig_answer a = r->on_step ? r->on_step(r, s) : RIG_GO;
	struct carry_go go = {s->step, s->item, a == RIG_GO || a == RIG_GO_KILL};

	if (a == RIG_GO || a == RIG_GO_KILL || a == RIG_REFUSE)
		message_send(r->sock, CARRY_GO, &go, NULL, 0, 0);
	if (a == RIG_CANCEL)
		message_send(r->sock, CARRY_CANCEL, NULL, NULL, 0, 0);
	if (a == RIG_KILL || a == RIG_GO_KILL)
		kill(r->pid, SIGKILL);
	if (a == RIG_TERM)
		kill(r->pid, SIGTERM);
	if (a == RIG_HANG_UP) {
		close(r->sock);
		r->sock = -1;
	}
}

static void gather(struct rig *r, const struct message *m)
{
	assert_false(r->has_outcome); /* never a message after the outcome */
	if (m->type == CARRY_STEP) {
		assert_true(r->steps < RIG_LOG);
		r->step[r->steps++] = m->step;
		answer(r, &m->step);
	} else if (m->type == CARRY_PROGRESS) {
		r->progresses++;
		if (r->on_progress)
			r->on_progress(r, &m->progress);
	} else if (m->type == CARRY_CONTENT) {
		unsigned i = r->contents++;

		if (i >= RIG_LOG)
			return;
		r->content[i].head = m->content;
		ssize_t n = pread(m->fd[0], r->content[i].text, RIG_TEXT - 1, 0);
		assert_true(n >= 0);
		r->content[i].text[n] = '\0';
	} else {
		assert_int_equal(m->type, CARRY_OUTCOME);
		r->outcome = m->outcome;
		r->has_outcome = true;
	}
}

int rig_hear(struct rig *r, int ms)
{
	struct pollfd q = {r->sock, POLLIN, 0};
	struct message m;
	int rc;

	if (r->sock < 0)
		return -1;
	if (poll(&q, 1, ms) <= 0)
		return 0;
	rc = message_receive(r->sock, MESSAGE_FROM_CARRIER, &m, MSG_DONTWAIT);
	if (rc == 0)
		return -1;
	assert_int_equal(rc, 1);
	gather(r, &m);
	message_close(&m);
	return 1;
}

bool rig_reap(struct rig *r)
{
	if (r->sock >= 0)
		close(r->sock);
	r->sock = -1;
	assert_int_equal(waitpid(r->pid, &r->status, 0), r->pid);
	return r->has_outcome;
}

bool rig_talk(struct rig *r)
{
	int heard;

	while ((heard = rig_hear(r, 20000)) > 0)
		;
	assert_int_equal(heard, -1);
	return rig_reap(r);
}

bool rig_run(struct rig *r)
{
	rig_start(r);
	rig_send_order(r);
	return rig_talk(r);
}
