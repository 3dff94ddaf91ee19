#include "run.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <signal.h>
#include "job.h"
#include "message.h"

enum { ORDER_MS = 10000 }; /* from the start to the order */

static int work(struct parent *p, struct message *m)
{
	struct carry_outcome o;
	struct job j;
	int rc;

	if (!job_open(&j, p, &m->order, m->fd, m->fds, false))
		job_run(&j);
	job_outcome(&j, &o);
	rc = parent_outcome(p, &o);
	job_close(&j);
	return rc;
}

int run_order(int stop_fd)
{
	struct message *m = malloc(sizeof *m);
	struct parent *p = parent_new(CARRY_FD, stop_fd, NULL, NULL);
	int rc = -ENOMEM;

	/* SIGTERM, not SIGKILL: what was begun is brought to an end that can be told. */
	if (!m || !p || prctl(PR_SET_PDEATHSIG, SIGTERM))
		goto out;
	rc = parent_order(p, m, ORDER_MS);
	if (rc) {
		fprintf(stderr, "yoke-carrier: no order came over descriptor %d: %s\n", CARRY_FD,
		    strerror(-rc));
		goto out;
	}
	rc = work(p, m);
	message_close(m);
out:
	parent_free(p);
	free(m);
	return rc ? 1 : 0;
}
