/* A parent for tests: starts the real yoke-carrier with an order, answers its steps, gathers what
 * it says. */
#ifndef RIG_H
#define RIG_H

#include <sys/types.h>
#include "message.h"

enum { RIG_LOG = 64, RIG_TEXT = 4096 };

enum rig_answer {
	RIG_GO,
	RIG_REFUSE,
	RIG_KILL,    /* SIGKILL before the step is granted */
	RIG_GO_KILL, /* grant, then SIGKILL at once */
	RIG_HANG_UP, /* close the socket instead of an answer */
	RIG_CANCEL,  /* CARRY_CANCEL instead of an answer; later steps are asked again */
	RIG_TERM,    /* SIGTERM instead of an answer */
};

struct rig {
	char home[64]; /* scratch folder, removed by rig_close */
	struct carry_order order;
	int fd[YOKE_CHANNELS_MAX];

	/* Answers a step; NULL: all are granted. */
	enum rig_answer (*on_step)(struct rig *r, const struct carry_step *s);
	/* Called for each progress message; may be NULL. */
	void (*on_progress)(struct rig *r, const struct carry_progress *p);
	void *ctx;

	pid_t pid;
	int sock;
	int status; /* of waitpid */

	struct carry_step step[RIG_LOG]; /* asked, in order */
	unsigned steps;
	struct {
		struct carry_content head;
		char text[RIG_TEXT];
	} content[RIG_LOG]; /* the first of them; all are counted */
	unsigned contents, progresses;
	bool has_outcome;
	struct carry_outcome outcome;
};

/* A fresh scratch folder and an order of two items, upper and lower, without a line. */
void rig_open(struct rig *r, enum carry_act act);
void rig_close(struct rig *r);

/* A directory line for item i: folder below home/share, which is made with its marker; the name on
 * the machine. */
void rig_directory(struct rig *r, uint32_t i, const char *folder, const char *target);

/*
 * Reach the directory of item i's line through a server at address that has this computer's own paths:
 * the same root, marker and folder. user and password (a place) as given; short deadlines.
 */
void rig_remote(
    struct rig *r, uint32_t i, const char *address, const char *user, const char *password);

/* The program of item i: sealed memory, size and sum. */
void rig_program(struct rig *r, uint32_t i, const char *text);

/* What the order expects on the machine for item i. */
void rig_expect(struct rig *r, uint32_t i, const char *text);

/* Forget what was gathered, and start the carrier. */
void rig_start(struct rig *r);

/* Answer until the socket ends, then reap. True when an outcome came. Fails the test after 20 s of
 * silence. */
bool rig_talk(struct rig *r);

/* The parts of it, for several at a time: one message within ms is answered, 1; 0 for none; -1 when
 * the socket has ended. Then reap. */
int rig_hear(struct rig *r, int ms);
bool rig_reap(struct rig *r);

/* Start and talk. */
bool rig_run(struct rig *r);

/* Send the order over our end. */
void rig_send_order(struct rig *r);

/* Path below home, in a buffer of its own that lives until the sixteenth next call. */
const char *rig_path(const struct rig *r, const char *below);

/* Write or read a small file below home. rig_read gives NULL when it is not there; buffers as
 * rig_path. */
void rig_write(const struct rig *r, const char *below, const char *text);
const char *rig_read(const struct rig *r, const char *below);

/* Left-overs (.yoke-*, yoke-*) in a folder below home. */
int rig_leftovers(const struct rig *r, const char *below);

/* SHA-256 of a text. */
struct sha rig_sha(const char *text);

#endif
