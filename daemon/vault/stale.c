#include "stale.h"

#include <stdlib.h>
#include "db.h"

struct rows {
	void *v;
	size_t size, n, room;
};

static int add(struct rows *all, const void *row)
{
	if (all->n == all->room) {
		size_t room = all->room ? 2 * all->room : 16;
		void *v = reallocarray(all->v, room, all->size);

		if (!v)
			return -1;
		all->v = v;
		all->room = room;
	}
	memcpy((char *)all->v + all->n++ * all->size, row, all->size);
	return 0;
}

static int take_order(void *ctx, const struct vault_order *o)
{
	return add(ctx, o);
}

static int take_machine(void *ctx, const struct vault_machine *m)
{
	return m->content == VAULT_NOTHING || m->content == VAULT_UNKNOWN ? 0 : add(ctx, m);
}

/* Whether the order, which was under way, may have put something on its machine. */
static bool brings(const struct vault_order *o)
{
	return strcmp(o->act, "send") == 0 || strcmp(o->act, "restore") == 0 ||
	       strcmp(o->act, "inspect") == 0;
}

static int end_order(struct vault *v, const struct vault_by *by, const struct vault_order *o,
    struct vault_about a)
{
	a.order = o->id;
	if (o->state == VAULT_QUEUED)
		return vault_record_cancelled(v, by, &a) ? 0 : -1;
	return (brings(o) ? vault_record_unknown : vault_record_kept)(v, by, &a) ? 0 : -1;
}

int stale(struct vault *v, const struct vault_by *by, const char *outcome, const char *why)
{
	struct rows orders = {.size = sizeof(struct vault_order)},
	            machines = {.size = sizeof(struct vault_machine)};
	struct vault_about a = {.outcome = outcome, .text = why};
	int r = -1;

	if (vault_orders(v, NULL, true, take_order, &orders) != 0 )
		goto out;
	for (size_t i = 0; i < orders.n; i++)
		if (end_order(v, by, (struct vault_order *)orders.v + i, a) < 0)
			goto out;
	if (vault_machines(v, take_machine, &machines) != 0)
		goto out;
	for (size_t i = 0; i < machines.n; i++) {
		a.machine = ((struct vault_machine *)machines.v)[i].name;
		if (!vault_record_unknown(v, by, &a))
			goto out;
	}
	r = 0;
out:
	free(orders.v);
	free(machines.v);
	return r;
}
