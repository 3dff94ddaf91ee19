#include "later.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "listen.h"

enum {
	TEXTS_MAX = 64,             /* of one machine */
	BYTES_MAX = 64 * 1024 * 1024, /* of all these */
	PAUSE_MS = 5000,
	LATE_MS = 60000, /* so long somebody at the control may wait for an answer */
};

struct punched {
	char channel[YOKE_NAME_MAX + 1];
	struct carry_content c;
	int fd;
	uint64_t at; /* loop time, ms, when it came */
};

/* In the order in which they came. */
struct later {
	struct punched text[TEXTS_MAX];
	unsigned n;
	uint64_t bytes;
	uint64_t next; /* loop time, ms, of the next try */
};

static void say_lost(const struct service_machine *m, const char *channel, const char *why)
{
	fprintf(stderr,
	    "yoked: machine %s: what channel %s punched is lost, since %s: punch it again\n",
	    m->conf->name, channel, why);
}

void later_add(struct service *s, struct service_machine *m, const char *channel,
    const struct carry_content *c, int fd)
{
	struct later *l = m->later;

	if (!l)
		l = m->later = calloc(1, sizeof(*l));
	if (!l || l->n == TEXTS_MAX || c->size > BYTES_MAX - l->bytes) {
		say_lost(m, channel, "the vault cannot be written and too much waits already");
		close(fd);
		return;
	}
	l->text[l->n] = (struct punched){.c = *c, .fd = fd, .at = uv_now(s->loop)};
	snprintf(l->text[l->n].channel, sizeof(l->text[l->n].channel), "%s", channel);
	l->n++;
	l->bytes += c->size;
	l->next = uv_now(s->loop) + PAUSE_MS;
}

/* Take the oldest. False when that is not possible yet. */
static bool take_first(struct service *s, struct service_machine *m)
{
	struct later *l = m->later;
	struct punched *t = &l->text[0];

	if (!listen_take(s, m, t->channel, &t->c, t->fd, uv_now(s->loop) - t->at >= LATE_MS))
		return false;
	close(t->fd);
	l->bytes -= t->c.size;
	l->n--;
	memmove(t, t + 1, l->n * sizeof(*t));
	return true;
}

void later_try(struct service *s, struct service_machine *m)
{
	struct later *l = m->later;

	if (!l || uv_now(s->loop) < l->next)
		return;
	while (l->n && take_first(s, m))
		;
	l->next = uv_now(s->loop) + PAUSE_MS;
	if (l->n)
		return;
	free(l);
	m->later = NULL;
}

void later_end(struct service *s, struct service_machine *m)
{
	struct later *l = m->later;

	while (l && l->n && take_first(s, m))
		;
	for (unsigned i = 0; l && i < l->n; i++) {
		say_lost(m, l->text[i].channel, "the vault could not be written until the service ended");
		close(l->text[i].fd);
	}
	free(l);
	m->later = NULL;
}
