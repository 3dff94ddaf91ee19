#include "clash.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>
#include "exam.h"

enum { READ_MAX = 16 * 1024 * 1024 }; /* bytes: reading a program holds the loop */

void clash_look(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c)
{
	const struct profile *profile = &m->conf->profile;
	const struct carry_item *item = &order->item[c->item];
	struct vault_order o;
	struct program *p;
	const char *job;

	/* A name with the job in it can be nobody else's, whatever lies there. */
	if ((order->act != CARRY_SEND && order->act != CARRY_TRY) || c->size > READ_MAX || *m->clash ||
	    strstr(item->line.name, "{job}") ||
	    profile->weight[FINDING_NUMBER_CLASH] != WEIGHT_REFUSE ||
	    vault_order(s->vault, order->id, &o) != 1 || !strcmp(o.act, "restore"))
		return;
	p = exam_program(s->vault, profile, "", &c->sha);
	job = p ? program_job(p) : "";
	if (*job && strcasecmp(job, o.job))
		snprintf(m->clash, sizeof(m->clash),
		    "the name '%.200s' of channel %s holds a program of job %s there, and this order is "
		    "for job %s: give one of the two another number, or take the old one away at "
		    "the machine",
		    item->target, item->channel, job, o.job);
	program_free(p);
}
